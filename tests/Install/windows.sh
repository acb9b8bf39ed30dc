#!/usr/bin/env bash
# The program for Windows and its service script, on an emulation of Windows (Wine, of a Debian of its own): the service installed,
# started, ill-treated, upgraded, taken back and removed by PowerShell. What is emulated has no accounts, no rights of its own and no event
# viewer: what the script asks for of these is looked at, not whether Windows does it.
. "$(dirname "$0")/common.sh"
tools debootstrap=debootstrap curl=curl sqlite3=sqlite3 unzip=unzip openssl=openssl mosquitto=mosquitto mosquitto_pub=mosquitto-clients
# The release before does not start a program of .NET that is one file.
suite=trixie debian windows wine wine64
disk=$kept/windows
start_saw
echo "publishing two versions, and a shell"
for version in 0.0.1 0.0.2; do
  rm -rf "$disk/published/$version"
  nice deploy/packages/publish.sh win-x64 "$disk/published/$version" -p:Version=$version || stop "publishing failed"
done
nice dotnet publish tests/Install/Shell -c Release -o "$disk/shell" --nologo -v quiet || stop "the shell does not build"

# Its drive Z: is all of that Debian, its drive C: a folder in it, made anew each time.
work=$disk/w drive=$disk/w/prefix/drive_c
rm -rf "$work"
mkdir -p "$work"
cp deploy/windows/service.ps1 "$here/windows.ps1" "$work/"
cp -R deploy/examples "$work/examples"
mountpoint -q "$disk/proc" || mount -t proc proc "$disk/proc"
at_end+=('umount "$disk/proc"')
windows() { chroot "$disk" env -i HOME=/w WINEPREFIX=/w/prefix XDG_RUNTIME_DIR=/tmp WINEDEBUG="${debug:--all}" PATH=/usr/bin:/bin /usr/lib/wine/wine64 "$@"; }
shell() { windows 'Z:\shell\shell.exe' ". 'Z:\\w\\windows.ps1'; $1"; }
script() { shell "& 'Z:\\w\\service.ps1' $1"; }
server() { chroot "$disk" env -i WINEPREFIX=/w/prefix PATH=/usr/bin:/bin /usr/lib/wine/wineserver64 "$@"; }
windows wineboot -i >"$kept/windows.boot.log" 2>&1
# Who starts a program while the service manager of the one before ends gets a second one.
server -w
# Its services end with the last program of a user; this one stays. What is written to the event log stands in this log.
mkfifo "$work/nothing"
exec {nothing}<>"$work/nothing"
debug=-all,+eventlog windows cmd.exe <&"$nothing" >"$kept/windows.events.log" 2>&1 &
at_end+=('server -k; server -w')
within 60 grep -q -a Windows "$kept/windows.events.log" || stop "the emulated Windows does not run"
says_event() { says "$1" "$(events)"; }
events() { tr -d '\0' <"$kept/windows.events.log"; }

installed='C:\Program Files\SawEdge\current\sawedge.exe' data='C:\ProgramData\SawEdge' folder=$drive/ProgramData/SawEdge
port=$(shuf -i 20000-29999 -n 1)
gateway() { windows "$installed" "$@"; }
state() { shell "(Get-Service SawEdge).Status" | tr -d '\r'; }
ended_with() { windows sc.exe query SawEdge | tr -d '\r' | sed -n 's/.*WIN32_EXIT_CODE *: *\([0-9]*\).*/\1/p'; }
in_state() { [ "$(state)" = "$1" ]; }
answers() { curl -fsS -o /dev/null "http://127.0.0.1:$port/health/ready"; }
frames() { zcat -f "$folder"/history/recordings/* 2>/dev/null | grep -c saw-1; }
more_frames_than() { [ "$(frames)" -gt "$1" ]; }
records() { local before; before=$(frames); within 30 more_frames_than "${before:-0}"; }
whole() { [ "$(sqlite3 "$folder/history/history.db" 'PRAGMA integrity_check')" = ok ] && gateway history check --data "$data\\history"; }
well() { gateway status --config "$data\\sawedge.json" --data "$data\\history"; }
registered() { windows reg.exe query "HKLM\\SYSTEM\\CurrentControlSet\\Services\\$1" /s | tr -d '\r'; }
# A path of Windows in JSON.
json() { printf '%s' "${1//\\/\\\\}"; }

echo "== the program"
check "it starts" says '^0\.0\.1' "$(windows 'Z:\published\0.0.1\sawedge.exe' --version)"
for example in "$work"/examples/*.json; do
  name=$(basename "$example")
  check "it knows the time zone, and all else, of $name" windows 'Z:\published\0.0.1\sawedge.exe' check "Z:\\w\\examples\\$name"
done
# What the program rests on: that a zone of Windows can be made again under another name.
check "every zone of Windows keeps its rules under another name" says '^[1-9][0-9]* zones$' "$(shell "
  \$n = 0
  foreach (\$zone in [TimeZoneInfo]::GetSystemTimeZones()) {
    \$named = [TimeZoneInfo]::CreateCustomTimeZone('Riverbend/Hall', \$zone.BaseUtcOffset, \$zone.DisplayName, \$zone.StandardName, \$zone.DaylightName, \$zone.GetAdjustmentRules())
    foreach (\$days in 0..2000) { \$at = [DateTimeOffset]::new(2023, 1, 1, 0, 20, 0, [TimeSpan]::Zero).AddHours(18 * \$days); if (\$zone.GetUtcOffset(\$at) -ne \$named.GetUtcOffset(\$at)) { throw \$zone.Id } }
    \$n++
  }
  \"\$n zones\"" | tr -d '\r')"
check "the demo records cuts" says 'Ended: [1-9][0-9]* cycles are in the history' "$(windows 'Z:\published\0.0.1\sawedge.exe' demo --for 15)"
check "init writes a configuration" windows 'Z:\published\0.0.1\sawedge.exe' init 'C:\init.json' --site Riverbend --address 127.0.0.1 --source modbus
check "that passes" windows 'Z:\published\0.0.1\sawedge.exe' check 'C:\init.json'

echo "== installed"
check "there is nothing yet" says 'in service: none' "$(script status)"
check "what would be done can be read" says 'make the service SawEdge' "$(script "install -From 'Z:\\published\\0.0.1' -WhatIf")"
check "and was not done" same "none" "$(script status | tr -d '\r' | sed -n 's/^service: *//p')"
check "what is no program is refused" says 'that is no published program' "$(script "install -From 'C:\\windows'" 2>&1)"
check "it installs" says 'Done: 0\.0\.1' "$(script "install -From 'Z:\\published\\0.0.1'")"
check "a second time there is nothing to do" says 'Nothing to do' "$(script "install -From 'Z:\\published\\0.0.1'")"
service=$(registered SawEdge)
check "it starts with the machine" says 'Start +REG_DWORD +0x2$' "$service"
check "its command stands in quotes" says 'ImagePath +REG_SZ +"C:\\Program Files\\SawEdge\\current\\sawedge.exe" run "C:\\ProgramData\\SawEdge\\sawedge.json"$' "$service"
check "the history has its place" says 'SAWEDGE_dataFolder=C:\\ProgramData\\SawEdge\\history' "$service"
asked=$(tr -d '\r' <"$work/tools.log")
check "an account of its own is asked for" says '^sc config SawEdge obj= NT SERVICE\\SawEdge$' "$asked"
check "it is to be started again where it fails" says '^sc failure SawEdge reset= 86400 actions= restart/5000/restart/5000/restart/60000$' "$asked"
check "also where it says itself that it failed" says '^sc failureflag SawEdge 1$' "$asked"
check "its data are for it and administrators alone" says '^icacls C:\\ProgramData\\SawEdge /inheritance:r /grant:r \*S-1-5-32-544:\(OI\)\(CI\)F \*S-1-5-18:\(OI\)\(CI\)F NT SERVICE\\SawEdge:\(OI\)\(CI\)RX$' "$asked"
check "the history can be written by it" says '^icacls C:\\ProgramData\\SawEdge\\history .*SawEdge:\(OI\)\(CI\)M$' "$asked"
check "it has a source in the event log" says 'EventLogMessages' "$(registered 'EventLog\Application\sawedge')"

echo "== started"
configuration "$(json "$data\\history")" | sed -e "s|\"enabled\": false|\"listen\": \"http://127.0.0.1:$port\"|" -e "s|/recordings|\\\\\\\\recordings|" -e 's|"site"|"timeZone": "America/Chicago", "site"|' >"$folder/sawedge.json"
chmod 640 "$folder/sawedge.json"
check "the configuration passes" gateway check "$data\\sawedge.json"
check "it starts" shell "Start-Service SawEdge"
check "its page answers" within 30 answers
check "it records frames" records
check "status says that all is well" within 20 well
check "the event log has what it says" within 10 says_event 'gateway .*hall-1.* of site .*Riverbend'
check "a second one on the same history is refused" says 'is in use by another gateway' "$(gateway run "$data\\sawedge.json" 2>&1)"
check "a new saw is taken over while it runs" sh -c 'sed "s|\"saws\": \[|\"saws\": [ { \"name\": \"saw-2\", \"like\": \"saw-1\" },|" "$1" >"$1.new" && mv "$1.new" "$1"' - "$folder/sawedge.json"
reads_second() { says saw-2 "$(well 2>&1)"; }
check "and read" within 20 reads_second
check "a backup is made while it runs" gateway history backup 'C:\backup.db' --data "$data\\history"
check "support writes its file" gateway support --config "$data\\sawedge.json" --data "$data\\history" --out 'C:\support.zip'
check "and says how to get at the event log" says 'Get-WinEvent .*sawedge' "$(unzip -p "$drive/support.zip" README.txt)"

echo "== ill-treated"
check "it stops" shell "Stop-Service SawEdge"
check "in order" same "Stopped 0" "$(state) $(ended_with)"
check "with a history that is whole" whole
shell "Start-Service SawEdge" >/dev/null
within 30 answers
check "killed" windows taskkill.exe /F /IM sawedge.exe
check "it leaves a history that is whole" whole
check "and starts on it" shell "Start-Service SawEdge"
check "and records on" records
shell "Stop-Service SawEdge" >/dev/null
sed 's|"head_position"|"head_positoin"|' "$folder/sawedge.json" >"$folder/wrong.json"
cp "$folder/sawedge.json" "$folder/right.json" && cp "$folder/wrong.json" "$folder/sawedge.json"
check "with a mistake in its configuration it does not start" fails shell "Start-Service SawEdge"
check "and the event log says where and what" within 10 says_event head_positoin
cp "$folder/right.json" "$folder/sawedge.json"
(gateway run "$data\\sawedge.json" >"$kept/windows.other.log" 2>&1) &
within 30 answers
shell "Start-Service SawEdge" >/dev/null 2>&1
check "where another has its history it ends" within 30 in_state Stopped
check "and tells Windows that it failed, so that it is started again" same 1064 "$(ended_with)"
windows taskkill.exe /F /IM sawedge.exe >/dev/null
wait $!
chmod 644 "$folder/sawedge.json"
sed -i 's|"site"|"influx": [ { "name": "plant", "url": "http://127.0.0.1:9", "bucket": "saws", "token": "not-for-all" } ], "site"|' "$folder/sawedge.json"
check "a secret that everybody may read is warned of" says 'may read; take that right away \(icacls' "$(gateway check "$data\\sawedge.json")"
cp "$folder/right.json" "$folder/sawedge.json"
chmod 640 "$folder/sawedge.json"

echo "== a broker with TLS"
tls=$work/tls
mkdir "$tls"
broker_port=$(shuf -i 20000-29999 -n 1)
{
  openssl req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=riverbend-authority -keyout "$tls/authority.key" -out "$tls/authority.crt"
  openssl req -newkey rsa:2048 -nodes -subj /CN=broker -keyout "$tls/broker.key" -out "$tls/broker.csr"
  openssl x509 -req -in "$tls/broker.csr" -CA "$tls/authority.crt" -CAkey "$tls/authority.key" -CAcreateserial -days 2 -extfile <(echo subjectAltName=DNS:broker.riverbend.example) -out "$tls/broker.crt"
} 2>/dev/null || stop "no certificates"
printf '%s\n' "listener $broker_port 127.0.0.1" "cafile $tls/authority.crt" "certfile $tls/broker.crt" "keyfile $tls/broker.key" 'allow_anonymous true' 'user root' >"$tls/broker.conf"
mosquitto -c "$tls/broker.conf" >/dev/null 2>&1 &
at_end+=("kill $!")
cat >"$work/mqtt.json" <<JSON
{
  "site": "Riverbend", "gateway": "hall-2", "dataFolder": "C:\\\\mqtt", "http": { "enabled": false }, "record": { "folder": "C:\\\\mqtt\\\\recordings" },
  "brokers": [ { "name": "plant", "host": "127.0.0.1", "port": $broker_port, "tls": { "caFile": "Z:\\\\w\\\\tls\\\\authority.crt", "serverName": "broker.riverbend.example" } } ],
  "saws": [ { "name": "saw-9", "source": "mqtt", "broker": "plant", "topic": "saws/9", "signals": {
    "head_position": { "member": "head" }, "motor_load": { "member": "load" }, "cycle_active": { "member": "cycle" }, "cutting": { "member": "cut" } } } ]
}
JSON
check "the configuration passes" gateway check 'Z:\w\mqtt.json'
(gateway run 'Z:\w\mqtt.json' >"$kept/windows.mqtt.log" 2>&1) &
heard() {
  mosquitto_pub -h 127.0.0.1 -p "$broker_port" --cafile "$tls/authority.crt" --insecure -t saws/9 -m '{"head":120.5,"load":21,"cycle":false,"cut":false}'
  zcat -f "$drive"/mqtt/recordings/* 2>/dev/null | grep -q 'saw-9,120.5,21'
}
check "a saw is heard through it" within 30 heard
windows taskkill.exe /F /IM sawedge.exe >/dev/null
wait $!

echo "== upgraded, taken back, removed"
shell "Start-Service SawEdge" >/dev/null
within 30 answers
check "an upgrade says what it will do" says 'put 0\.0\.2.* in place of 0\.0\.1.*kept for a rollback' "$(script "install -From 'Z:\\published\\0.0.2'")"
check "the newer one is in service" says '^0\.0\.2' "$(gateway --version)"
check "it runs" within 30 answers
check "the history was backed up before" sh -c 'ls "$1"/before-0.0.2*.db' - "$folder"
check "a rollback" says 'Done: 0\.0\.1' "$(script rollback)"
check "brings the older one back" says '^0\.0\.1' "$(gateway --version)"
check "which runs" within 30 answers
check "and keeps the newer" says 'before: +0\.0\.2' "$(script status | tr -d '\r')"
check "it uninstalls" says 'Configuration and history stay' "$(script uninstall)"
check "program, service and source are gone" same "none none none" "$(script status | tr -d '\r' | sed 's/.*: *//' | tr '\n' ' ' | sed 's/ $//')"
check "the folder of programs too" fails test -e "$drive/Program Files/SawEdge"
check "the history stays" same ok "$(sqlite3 "$folder/history/history.db" 'PRAGMA integrity_check')"
