# What the tests of installation share; sourced by them. They need root, a Debian system with a package registry, and some 3 GB of disk.
# What takes long to make (a bare Debian, published programs) is kept in artifacts/install-tests, and is made anew where it is missing.
set -uo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.." || exit 1
export HOME="${HOME:-/tmp}" DOTNET_CLI_TELEMETRY_OPTOUT=1 DOTNET_NOLOGO=1
kept=$PWD/artifacts/install-tests
here=$PWD/tests/Install
passed=0 failed=0
at_end=()

finish() {
  local status=$? step
  for ((step = ${#at_end[@]} - 1; step >= 0; step--)); do eval "${at_end[step]}"; done
  [ "$status" = 0 ] || { echo "FAILED: broke off with $status"; failed=$((failed + 1)); }
  echo "$passed passed, $failed failed, 0 skipped"
  [ "$failed" = 0 ] || exit 1
  exit 0
}
trap finish EXIT
stop() { echo "$*" >&2; exit 2; }

# check WHAT COMMAND...: one check; what the command printed is shown where it fails.
check() {
  local what=$1 output
  shift
  if output=$("$@" 2>&1); then
    passed=$((passed + 1))
    echo "ok: $what"
  else
    failed=$((failed + 1))
    printf 'FAILED: %s\n  %s\n' "$what" "$*"
    sed 's/^/  | /' <<<"$output"
  fi
}

same() { [ "$1" = "$2" ] || { echo "expected '$1', found '$2'"; return 1; }; }
says() { grep -q -E -- "$1" <<<"$2" || { echo "nothing like '$1' in:"; echo "$2"; return 1; }; }
fails() { ! "$@"; }

# within SECONDS COMMAND...: waits until the command succeeds.
within() {
  local end=$((SECONDS + $1))
  shift
  until "$@" >/dev/null 2>&1; do
    [ "$SECONDS" -lt "$end" ] || { echo "did not come about in time; the last attempt:"; "$@"; return; }
    sleep 0.1
  done
}

# tools PROGRAM=PACKAGE...: installs what is missing.
tools() {
  local pair packages=()
  [ "$(id -u)" = 0 ] || stop "these tests make name spaces and file systems of their own: they need root"
  for pair in "$@"; do
    command -v "${pair%%=*}" >/dev/null || packages+=("${pair#*=}")
  done
  [ ${#packages[@]} = 0 ] && return
  echo "installing: ${packages[*]}"
  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${packages[@]}" >/dev/null || stop "could not install all of: ${packages[*]}"
}

release() { (. /etc/os-release && echo "$VERSION_CODENAME"); }
mirror() { apt-get indextargets --format '$(SITE)' 'Created-By: Packages' "Codename: $(release)" 'Component: main' | head -n 1; }

# debian NAME PACKAGE...: a bare Debian with some packages, in $kept/NAME; of this machine's release, or that in $suite.
debian() {
  local name=$1
  shift
  [ -e "$kept/$name/.whole" ] && return
  echo "making a bare Debian: $name"
  mkdir -p "$kept"
  rm -rf "${kept:?}/$name"
  debootstrap --variant=minbase --include="$(IFS=,; echo "$*")" "${suite:-$(release)}" "$kept/$name" "$(mirror)" >"$kept/$name.log" 2>&1 || stop "debootstrap failed; see $kept/$name.log"
  rm -rf "${kept:?}/$name"/var/cache/apt/archives/*.deb "${kept:?}/$name"/var/lib/apt/lists/*
  touch "$kept/$name/.whole"
}

# A virtual saw that speaks Modbus TCP on 127.0.0.1:$saw_port for as long as the test runs.
start_saw() {
  nice dotnet build tests/SawEdge.Benchmarks -c Release --nologo -v quiet || stop "the virtual saw does not build"
  coproc SAW { exec dotnet tests/SawEdge.Benchmarks/bin/Release/net10.0/SawEdge.Benchmarks.dll modbus-saws-serve 1; }
  at_end+=("kill $SAW_PID")
  read -r -t 60 -u "${SAW[0]}" saw_port || stop "the virtual saw did not start"
}

# configuration DATA-FOLDER: one that reads the virtual saw, on standard output.
configuration() {
  cat <<JSON
{
  "site": "Riverbend",
  "gateway": "hall-1",
  "dataFolder": "$1",
  "http": { "enabled": false },
  "record": { "folder": "$1/recordings" },
  "devices": [ { "name": "plc", "host": "127.0.0.1", "port": $saw_port } ],
  "saws": [
    {
      "name": "saw-1", "source": "modbus", "device": "plc", "unit": 1, "interval": "100 ms",
      "signals": {
        "head_position": { "address": "holding 0", "type": "int16", "unit": "0.1 mm" },
        "motor_load": { "address": "holding 2", "type": "float32" },
        "cycle_active": { "address": "discrete 0" },
        "cutting": { "address": "discrete 1" }
      }
    }
  ]
}
JSON
}
