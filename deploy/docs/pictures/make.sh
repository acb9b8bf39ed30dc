#!/usr/bin/env bash
# Makes the pictures of the README anew: runs the demo for a while and takes its page with the distribution's chromium.
#   deploy/docs/pictures/make.sh [SECONDS]
# The demo's virtual time runs ten times as fast: 360 s give a shift's strip of an hour.
set -euo pipefail
cd "$(dirname "$0")/../../.."
seconds=${1:-360}
data=$(mktemp -d)
demo=
trap '[ -z "$demo" ] || kill -INT "$demo" 2>/dev/null; rm -rf "$data"' EXIT
dotnet build src/SawEdge.Gateway -v quiet --nologo
dotnet src/SawEdge.Gateway/bin/Debug/net10.0/sawedge.dll demo --data "$data/demo" >"$data/log" &
demo=$!
sleep "$seconds"
page=$(sed -n 's/^ *page *\(http[^ ]*\)$/\1/p' "$data/log")
picture() {
  chromium --headless=new --no-sandbox --disable-gpu --hide-scrollbars --user-data-dir="$data/browser" --window-size="$3" --virtual-time-budget=12000 --screenshot="$data/$1.png" "${page%/}/$2" 2>/dev/null
  mv "$data/$1.png" "deploy/docs/pictures/$1.png"
  ls -l "deploy/docs/pictures/$1.png"
}
picture bay "#/bay" 1200,700
picture shift "#/shift" 1200,700
