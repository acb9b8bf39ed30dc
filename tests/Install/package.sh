#!/usr/bin/env bash
# The Debian package and the service on a Debian of their own with a running service manager: installed, started, ill-treated, upgraded,
# removed, purged; what a program may do under the unit; and install.sh on the same machine.
. "$(dirname "$0")/common.sh"
. "$(dirname "$0")/machine.sh"

case "$(dpkg --print-architecture)" in
amd64) rid=linux-x64 architecture=amd64 ;;
arm64) rid=linux-arm64 architecture=arm64 ;;
*) stop "published programs run on amd64 and arm64 only" ;;
esac
echo "publishing, and building two versions of the package"
old=$kept/published-old new=$kept/published-new packages=$kept/packages
rm -rf "$old" "$new" "$packages"
mkdir -p "$packages"
nice deploy/packages/publish.sh "$rid" "$old" -p:Version=0.0.1 && nice deploy/packages/publish.sh "$rid" "$new" -p:Version=0.0.2 || stop "publishing failed"
for version in 0.0.1 0.0.2; do
  deploy/packages/build-deb.sh "$architecture" "$([ $version = 0.0.1 ] && echo "$old" || echo "$new")" "$packages" $version >/dev/null || stop "the package was not built"
done
start_saw
# As root sees it there, and nobody else.
chmod 755 "$kept" "$packages"
start_machine --bind-ro="$packages:/packages" --bind-ro="$old:/published/old" --bind-ro="$new:/published/new" --bind-ro="$PWD/deploy:/deploy" --bind-ro="$here:/tests"

rights() { machine stat -c '%U:%G %a' "$1"; }
property() { machine systemctl show sawedge --property "$1" --value; }
pid() { property MainPID; }
as_gateway() { machine runuser -u sawedge -- "$@"; }
active() { machine systemctl is-active --quiet sawedge; }
frames() { machine sh -c 'zcat -f /var/lib/sawedge/recordings/* | grep -c "saw-1"'; }
more_frames_than() { [ "$(frames)" -gt "$1" ]; }
records() { local before; before=$(frames); within 20 more_frames_than "${before:-0}"; }
restarted() { active && [ "$(pid)" != "$1" ] && [ "$(pid)" != 0 ]; }
# What the history holds of starts and stops is the program's; here, that it is whole.
whole() { as_gateway sawedge history check --data /var/lib/sawedge; }
drop_in() { machine sh -c "mkdir -p /etc/systemd/system/sawedge.service.d && cat >/etc/systemd/system/sawedge.service.d/$1.conf && systemctl daemon-reload"; }
no_drop_in() { machine sh -c "rm /etc/systemd/system/sawedge.service.d/$1.conf && systemctl daemon-reload"; }
# The addresses at which it hears, TCP and UDP, as the kernel has them; a socket that it opened to somewhere else is none.
hears() { machine sh -c 'ls -l "/proc/$1/fd" | sed -n "s/.*socket:.\([0-9]*\).$/\1/p" | grep -h -w -F -f - /proc/net/tcp /proc/net/tcp6 /proc/net/udp /proc/net/udp6 | awk "\$4 == \"0A\" || \$4 == \"07\" { print \$2 }"' - "$(pid)"; }
log() { machine journalctl -u sawedge --no-pager -o cat; }

echo "== installed"
check "the package installs with what it depends on" machine apt-get install -y "/packages/sawedge_0.0.1_$architecture.deb"
check "every file is as it was packed" same "" "$(machine dpkg --verify sawedge)"
check "there is an account without a shell, whose home is the data folder" says '^sawedge:x:[0-9]+:[0-9]+:[^:]*:/var/lib/sawedge:/usr/sbin/nologin$' "$(machine getent passwd sawedge)"
check "the configuration is read by the gateway and changed by root" same "root:sawedge 750" "$(rights /etc/sawedge)"
check "secrets are root's" same "root:root 700" "$(rights /etc/sawedge/secrets)"
check "the data are the gateway's" same "sawedge:sawedge 750" "$(rights /var/lib/sawedge)"
check "the program cannot be changed by the gateway" same "root:root 755" "$(rights /usr/lib/sawedge/sawedge)"
check "it starts with the machine" same enabled "$(machine systemctl is-enabled sawedge)"
check "it does not run without a configuration" fails active
check "it answers by its name" says '^0\.0\.1' "$(machine sawedge --version)"
check "the list of its parts is in it, with the runtime that it brings along" machine grep -q '"name": "Microsoft.NETCore.App.Runtime' /usr/share/doc/sawedge/sawedge.cdx.json

echo "== started"
configuration /var/lib/sawedge >"$kept/sawedge.json"
put "$kept/sawedge.json" /etc/sawedge/sawedge.json
machine sh -c 'chown root:sawedge /etc/sawedge/sawedge.json && chmod 640 /etc/sawedge/sawedge.json'
check "the configuration is checked under the gateway's account" as_gateway sawedge check /etc/sawedge/sawedge.json
check "it starts, and says itself that it is ready" machine systemctl start sawedge
check "it records frames" records
check "status says that all is well" within 20 as_gateway sawedge status --config /etc/sawedge/sawedge.json --data /var/lib/sawedge
check "without a page it listens nowhere" same "" "$(hears)"
check "the history is for its account alone" same "sawedge:sawedge 640" "$(rights /var/lib/sawedge/history.db)"

echo "== confined"
process() { machine sed -n "s/^$1:\s*//p" "/proc/$(pid)/status" | tr '\t' ' '; }
inside() { machine nsenter --target "$(pid)" --mount "$@"; }
account=$(machine id -u sawedge)
check "it runs under its account" same "$account $account $account $account" "$(process Uid)"
check "it has no capabilities, and cannot get any" same "0000000000000000 0000000000000000 1" "$(process CapEff) $(process CapBnd) $(process NoNewPrivs)"
check "its system calls are filtered" same 2 "$(process Seccomp)"
check "it sees the file system read only" fails inside touch /usr/there /etc/there /var/there
check "but for its data folder" inside sh -c 'touch /var/lib/sawedge/there && rm /var/lib/sawedge/there'
check "it sees no home" fails inside ls /root/.bashrc
check "it is told from when the machine's clock counts" same "$(machine sh -c "tr -d - </proc/sys/kernel/random/boot_id")" "$(machine sh -c "tr '\0' '\n' </proc/$(pid)/environ | sed -n 's/^MACHINE_BOOT_ID=//p'")"
check "it has a folder for temporary files of its own" sh -c '[ "$1" != "$2" ]' - "$(inside stat -c %d:%i /tmp)" "$(machine stat -c %d:%i /tmp)"
check "the kernel's memory has a limit for it" same 1073741824 "$(property MemoryMax)"
# A program of ours under the unit as it is, all but its command: what it tries, and how that ends.
machine sh -c "sed -e 's|^ExecStart=.*|ExecStart=/usr/bin/perl /tests/probe.pl|' -e '/^Type=/d' -e '/^NotifyAccess=/d' -e '/^Restart/d' -e '/^WatchdogSec=/d' /lib/systemd/system/sawedge.service >/run/systemd/system/probe.service && systemctl daemon-reload && systemctl start probe"
within 20 machine sh -c '! systemctl is-active --quiet probe'
probe=$(machine journalctl -u probe --no-pager -o cat)
for line in 'write its data: done' 'write the system: Read-only file system' 'mount: Operation not permitted' 'load a module: Operation not permitted' 'set the clock: Operation not permitted' \
  'trace a process: Operation not permitted' 'a name space: Operation not permitted' 'another personality: Operation not permitted' 'a raw packet socket: Address family not supported by protocol' 'a socket: done' \
  'a file that runs as its owner: Operation not permitted' 'processes of others: none' 'the log of the kernel: No such file or directory' 'disks: none' 'change its root: Operation not permitted' 'real-time: Operation not permitted'; do
  check "under the unit, $line" says "^$line\$" "$probe"
done

echo "== ill-treated"
before=$(pid)
machine kill -KILL "$before"
check "killed, it is started again" within 30 restarted "$before"
check "and records" records
printf '[Service]\nWatchdogSec=6\n' | drop_in watchdog
machine systemctl restart sawedge
before=$(pid)
machine kill -STOP "$before"
check "stopped in its tracks, it is ended by the watchdog and started again" within 60 restarted "$before"
check "the service manager says that it was the watchdog" says 'Watchdog timeout' "$(log)"
no_drop_in watchdog
printf '[Service]\nLoadCredential=influx-token:/etc/sawedge/secrets/influx-token\n' | drop_in secret
machine sh -c 'umask 077; echo a-token-for-tests >/etc/sawedge/secrets/influx-token'
port=$(shuf -i 20000-29999 -n 1)
sed -e "s|\"enabled\": false|\"listen\": \"http://127.0.0.1:$port\"|" -e 's|"devices"|"influx": [ { "name": "plant", "url": "http://127.0.0.1:9", "org": "riverbend", "bucket": "saws", "tokenFile": "credential:influx-token" } ],\n  &|' "$kept/sawedge.json" >"$kept/with-secret.json"
put "$kept/with-secret.json" /etc/sawedge/sawedge.json
check "it starts with a secret that its account cannot read where it lies" machine systemctl restart sawedge
check "which it cannot" fails as_gateway cat /etc/sawedge/secrets/influx-token
check "and records" records
check "with a page, it listens at its address alone" same "$(printf '0100007F:%04X' "$port")" "$(hears)"
check "the secret is in no log" fails grep -q a-token-for-tests <<<"$(log)"
bundle() { machine cat /run/support.zip | python3 -c 'import io, sys, zipfile; z = zipfile.ZipFile(io.BytesIO(sys.stdin.buffer.read())); print("\n".join(n + "\n" + z.read(n).decode("utf-8", "replace") for n in z.namelist()))'; }
said=$(machine sawedge support --config /etc/sawedge/sawedge.json --out /run/support.zip 2>&1)
check "a file for whoever helps is written" says '^/run/support.zip is written' "$said"
check "nothing is missing in it" fails grep -q 'not in it' <<<"$said"
check "the service manager's log is in it" says 'sawedge\[[0-9]+\]: .*\[3500\]' "$(bundle)"
check "the secret is not" fails grep -q a-token-for-tests <<<"$(bundle)"
no_drop_in secret
machine sh -c 'echo "{ \"site\": 5 }" >/etc/sawedge/sawedge.json'
check "a wrong configuration does not start" fails machine systemctl restart sawedge
check "and is not tried again" same "failed 1 0" "$(property ActiveState) $(property ExecMainStatus) $(property NRestarts)"
put "$kept/sawedge.json" /etc/sawedge/sawedge.json
machine systemctl start sawedge
check "mended, it starts" active
began=$SECONDS
check "it stops" machine systemctl stop sawedge
check "in an orderly way and in time" sh -c '[ "$1" = "success 0" ] && [ "$2" -lt 45 ]' - "$(property Result) $(property ExecMainStatus)" $((SECONDS - began))
check "the history is whole" whole

echo "== upgraded"
machine systemctl start sawedge
before=$(pid)
check "a newer package installs over a running gateway" machine apt-get install -y "/packages/sawedge_0.0.2_$architecture.deb"
check "which is another program now, and runs" restarted "$before"
check "with the new version" says '^0\.0\.2' "$(machine sawedge --version)"
check "and records" records
check "the configuration is the same" cmp "$kept/sawedge.json" <(machine cat /etc/sawedge/sawedge.json)
check "its rights are the same" same "root:sawedge 640" "$(rights /etc/sawedge/sawedge.json)"
check "the history is whole" whole
machine systemctl disable --now --quiet sawedge
check "an older package installs over a gateway that was stopped and disabled" machine apt-get install -y --allow-downgrades "/packages/sawedge_0.0.1_$architecture.deb"
check "which stays stopped and disabled" same "disabled inactive" "$(machine systemctl is-enabled sawedge) $(machine systemctl is-active sawedge)"

echo "== removed and purged"
machine systemctl enable --now --quiet sawedge
check "it is removed while it runs" machine apt-get remove -y sawedge
check "nothing of it runs" fails machine pgrep -u sawedge
check "the program is gone" fails machine test -e /usr/lib/sawedge -o -e /usr/bin/sawedge -o -e /lib/systemd/system/sawedge.service
check "the configuration stays" cmp "$kept/sawedge.json" <(machine cat /etc/sawedge/sawedge.json)
check "the history stays" machine test -s /var/lib/sawedge/history.db
check "installed again, it goes on" machine apt-get install -y "/packages/sawedge_0.0.2_$architecture.deb"
check "enabled and running" same "enabled active" "$(machine systemctl is-enabled sawedge) $(machine systemctl is-active sawedge)"
check "and records" records
said=$(machine apt-get purge -y sawedge 2>&1)
check "purged, the configuration and its secrets are gone" fails machine test -e /etc/sawedge
check "the history stays" machine test -s /var/lib/sawedge/history.db
check "which is said" says 'the history stays in /var/lib/sawedge' "$said"
check "the package is forgotten" fails machine dpkg -s sawedge
check "no link to the service is left" same "" "$(machine find /etc/systemd -name 'sawedge.service*')"

echo "== by install.sh"
check "it installs, and starts once there is a configuration" machine /deploy/install.sh install /published/old --yes
put "$kept/sawedge.json" /etc/sawedge/sawedge.json
machine sh -c 'chown root:sawedge /etc/sawedge/sawedge.json && chmod 640 /etc/sawedge/sawedge.json && systemctl start sawedge'
check "it records on the history that was there" records
check "a second time it does nothing" says '^Nothing to do' "$(machine /deploy/install.sh install /published/old)"
check "the package is refused beside it" says 'install.sh uninstall' "$(machine apt-get install -y "/packages/sawedge_0.0.2_$architecture.deb" 2>&1)"
before=$(pid)
check "it upgrades" machine /deploy/install.sh install /published/new --yes
check "to a running program" restarted "$before"
check "after a backup of the history" machine sh -c 'test -s /var/lib/sawedge/before-0.0.2*.db'
check "and records" records
before=$(pid)
check "it goes back" machine /deploy/install.sh rollback --yes
check "to a running program" restarted "$before"
check "of before" says '^0\.0\.1' "$(machine /usr/local/bin/sawedge --version)"
check "it takes itself away" machine /deploy/install.sh uninstall --yes
check "nothing runs" fails machine pgrep -u sawedge
check "configuration and history stay" machine test -s /etc/sawedge/sawedge.json -a -s /var/lib/sawedge/history.db
