#!/usr/bin/env bash
# Installs what the tests need where it can, builds, runs every test, and ends with "N passed, N failed, N skipped".
set -uo pipefail
cd "$(dirname "$0")/.."
export HOME="${HOME:-/tmp}" DOTNET_CLI_TELEMETRY_OPTOUT=1 DOTNET_NOLOGO=1

packages=(chromium influxdb mosquitto mosquitto-clients victoria-metrics python3-aiosmtpd python3-paho-mqtt python3-protobuf python3-pymodbus python3-serial python3-serial-asyncio python3-fluids python3-openpyxl python3-pandas python3-scipy python3-statsmodels libmodbus-dev libreoffice-calc-nogui mbpoll socat sqlite3 faketime gcc libc6-dev procps)
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
dotnet format whitespace SawEdge.sln --no-restore --verify-no-changes || { echo "run 'dotnet format whitespace' and commit what it changes"; echo "0 passed, 1 failed, 0 skipped"; exit 1; }
# One project after the other: those with real processes must not wait for the processor behind those that compute.
dotnet test SawEdge.sln -c Release --no-build --nologo -m:1 --logger trx --results-directory "$results"
status=$?

passed=0 failed=0 skipped=0
for file in "$results"/*.trx; do
  [ -e "$file" ] || continue
  counters=$(grep -o '<Counters [^>]*>' "$file")
  number() { sed -n "s/.* $1=\"\([0-9]*\)\".*/\1/p" <<<"$counters"; }
  passed=$((passed + $(number passed)))
  failed=$((failed + $(number failed) + $(number error) + $(number timeout) + $(number aborted)))
  skipped=$((skipped + $(number total) - $(number executed)))
done
if [ "$passed" = 0 ] || { [ "$status" != 0 ] && [ "$failed" = 0 ]; }; then
  echo "a test run broke off (dotnet test ended with $status)"
  failed=$((failed + 1))
fi
echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" = 0 ]
