#!/usr/bin/env bash
# Installs what the tests need where it can, builds, runs every test, and ends with "N passed, N failed, N skipped".
#   tests/run.sh --package      instead: package, service and install script on a Debian of their own, as root
#   tests/run.sh --container    instead: the Dockerfile built and run, as root
#   tests/run.sh --compose      instead: deploy/compose started with servers of Debian's, as root
#   tests/run.sh --arm64        instead: program and package for ARM64, run in an emulator, as root
#   tests/run.sh --windows      instead: program and service script for Windows, run in an emulation of Windows, as root
set -uo pipefail
cd "$(dirname "$0")/.."
case "${1:-}" in
'') ;;
--package) exec bash tests/Install/package.sh ;;
--container) exec bash tests/Install/container.sh ;;
--compose) exec bash tests/Install/compose.sh ;;
--arm64) exec bash tests/Install/arm64.sh ;;
--windows) exec bash tests/Install/windows.sh ;;
*) echo "unknown option '$1'; there are --package, --container, --compose, --arm64 and --windows" >&2; exit 2 ;;
esac
export HOME="${HOME:-/tmp}" DOTNET_CLI_TELEMETRY_OPTOUT=1 DOTNET_NOLOGO=1

packages=(chromium systemd openssl influxdb mosquitto mosquitto-clients victoria-metrics python3-aiosmtpd python3-paho-mqtt python3-protobuf python3-pymodbus python3-serial python3-serial-asyncio python3-fluids python3-openpyxl python3-pandas python3-scipy python3-statsmodels libmodbus-dev libreoffice-calc-nogui mbpoll socat sqlite3 faketime gcc libc6-dev procps)
missing=()
for package in "${packages[@]}"; do
  dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing+=("$package")
done
if [ ${#missing[@]} -gt 0 ]; then
  if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    echo "installing: ${missing[*]}"
    apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null ||
      echo "could not install all of: ${missing[*]}"
  else
    echo "not installed, and no right to install: ${missing[*]}"
  fi
fi

results=$(mktemp -d)
trap 'rm -rf "$results"' EXIT
dotnet build SawEdge.sln -c Release --nologo -v quiet || { echo "the build failed"; echo "0 passed, 1 failed, 0 skipped"; exit 1; }
# Two lanes share the processor. The first has what waits for real processes, saws and browsers: it goes first whenever it has something to do.
# The second computes; it is a little patient (nice), so that it fills the time in which the first waits and does not hold it up.
# Whoever is in neither list runs in the first.
computing=(Gateway Core Simulator)
waiting=(EndToEnd Page)
for project in tests/*.Tests; do
  name=${project#tests/SawEdge.} name=${name%.Tests}
  [[ " ${computing[*]} ${waiting[*]} " == *" $name "* ]] || waiting+=("$name")
done

# Test processes live for seconds or minutes: what the just-in-time compiler learns to compile once more never pays, and costs a fifth of the processor time.
export DOTNET_TieredPGO=0

run() {
  local broken=0 assembly
  for name in "$@"; do
    assembly="tests/SawEdge.$name.Tests/bin/Release/net10.0/SawEdge.$name.Tests.dll"
    dotnet test "$assembly" --nologo --logger "trx;LogFileName=$name.trx" --results-directory "$results" 2>&1 | sed -u "s/^/$name: /"
    [ "${PIPESTATUS[0]}" = 0 ] || broken=1
    [ -e "$results/$name.trx" ] || { echo "$name: gave no results"; broken=2; }
  done
  return "$broken"
}

# What runs in the background does not hear Ctrl+C.
trap 'kill 0' INT
(renice -n 5 "$BASHPID" >/dev/null; run "${computing[@]}") &
second=$!
(renice -n 19 "$BASHPID" >/dev/null; dotnet format whitespace SawEdge.sln --no-restore --verify-no-changes) &
format=$!
run "${waiting[@]}"
status=$?
wait "$second" || status=$(($? > status ? $? : status))
wait "$format"
layout=$?

passed=0 failed=0 skipped=0
for file in "$results"/*.trx; do
  [ -e "$file" ] || continue
  counters=$(grep -o '<Counters [^>]*>' "$file")
  number() { sed -n "s/.* $1=\"\([0-9]*\)\".*/\1/p" <<<"$counters"; }
  passed=$((passed + $(number passed)))
  failed=$((failed + $(number failed) + $(number error) + $(number timeout) + $(number aborted)))
  skipped=$((skipped + $(number total) - $(number executed)))
done
if [ "$passed" = 0 ] || [ "$status" = 2 ] || { [ "$status" != 0 ] && [ "$failed" = 0 ]; }; then
  echo "a test run broke off"
  failed=$((failed + 1))
fi
if [ "$layout" != 0 ]; then
  echo "run 'dotnet format whitespace' and commit what it changes"
  failed=$((failed + 1))
fi
echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" = 0 ]
