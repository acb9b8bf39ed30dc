#!/usr/bin/env bash
# The program and the package for ARM64 on a machine of another kind: an emulator of that processor (qemu) runs the published program with
# Debian's own libraries for it. Slow, so it shows that everything starts, records and ends, not how fast.
. "$(dirname "$0")/common.sh"
tools qemu-aarch64-static=qemu-user-static dpkg-deb=dpkg curl=curl sqlite3=sqlite3
program=$kept/published-arm64 libraries=$kept/arm64

# What the package depends on, and the C library, unpacked and not installed.
if [ ! -e "$libraries/.whole" ]; then
  echo "fetching Debian's libraries for arm64"
  rm -rf "$libraries" && mkdir -p "$libraries/debs" "$libraries/lists/partial"
  printf 'deb [signed-by=/usr/share/keyrings/debian-archive-keyring.gpg] %s %s main\n' "$(mirror)" "$(release)" >"$libraries/sources.list"
  apt=(apt-get -qq -o APT::Architecture=arm64 -o APT::Architectures::=arm64 -o Dir::Etc::sourcelist="$libraries/sources.list" -o Dir::Etc::sourceparts=- -o Dir::State::lists="$libraries/lists" -o APT::Sandbox::User=root)
  "${apt[@]}" update && (cd "$libraries/debs" && "${apt[@]}" download libc6 libgcc-s1 libstdc++6 libssl3) || stop "the libraries could not be had"
  for package in "$libraries"/debs/*.deb; do dpkg-deb -x "$package" "$libraries"; done
  touch "$libraries/.whole"
fi
echo "publishing"
rm -rf "$program"
nice deploy/packages/publish.sh linux-arm64 "$program" -p:Version=0.0.1 || stop "publishing failed"
start_saw
run() { qemu-aarch64-static -L "$libraries" "$program/sawedge" "$@"; }

check "it is a program for that processor" says 'ARM aarch64|AArch64' "$(od -A n -t x1 -j 18 -N 1 "$program/sawedge" | sed 's/ *b7/AArch64/')"
check "it starts" says '^0\.0\.1' "$(run --version)"
mkdir -p "$kept/packages-arm64"
check "the package is built" deploy/packages/build-deb.sh arm64 "$program" "$kept/packages-arm64" 0.0.1
check "and is one for arm64" same arm64 "$(dpkg-deb --field "$kept"/packages-arm64/sawedge_0.0.1_arm64.deb Architecture)"

folder=$(mktemp -d)
at_end+=('rm -rf "$folder"')
port=$(shuf -i 20000-29999 -n 1)
configuration "$folder/data" | sed -e "s|\"enabled\": false|\"listen\": \"http://127.0.0.1:$port\"|" -e 's|"100 ms"|"1 s"|' >"$folder/sawedge.json"
check "it checks a configuration" run check "$folder/sawedge.json"
qemu-aarch64-static -L "$libraries" "$program/sawedge" run "$folder/sawedge.json" >"$folder/log" 2>&1 &
gateway=$!
at_end+=('kill -KILL "$gateway" 2>/dev/null')
frames() { zcat -f "$folder"/data/recordings/* 2>/dev/null | grep -c saw-1; }
records() { [ "$(frames)" -gt 5 ]; }
check "it polls a saw and records its frames" within 90 records
check "its page answers" within 30 curl -fsS -o /dev/null "http://127.0.0.1:$port/"
kill -TERM "$gateway"
wait "$gateway"
check "it ends in order" same 0 $?
check "having stored everything" says 'stopped; everything seen is in the history' "$(cat "$folder/log")"
check "its history is whole" same ok "$(sqlite3 "$folder/data/history.db" 'PRAGMA integrity_check')"
echo "the program: $(($(stat -c %s "$program/sawedge") / 1000000)) MB"
