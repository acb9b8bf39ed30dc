# A Debian with a running service manager in name spaces of its own (systemd-nspawn); sourced after common.sh. Its disk is a
# memory of what differs from the bare Debian: each start begins anew. It shares the network, so that it reaches the virtual saw.
tools debootstrap=debootstrap systemd-nspawn=systemd-container nsenter=util-linux python3=python3

# start_machine [OPTION...]: boots it. machine COMMAND...: runs a command in it, as root.
start_machine() {
  debian machine systemd systemd-sysv dbus ca-certificates libssl3 libstdc++6 tzdata init-system-helpers procps
  systemd-nspawn --register=no --keep-unit --quiet --directory="$kept/machine" --volatile=overlay --machine="sawedge-$$" --console=pipe --boot "$@" </dev/null >"$kept/machine.boot.log" 2>&1 &
  local container=$!
  at_end+=("stop_machine $container")
  within 30 booted "$container" || stop "the machine did not start; see $kept/machine.boot.log"
}
booted() {
  leader=$(ps --ppid "$1" -o pid= | tr -d ' ') && [ -n "$leader" ] && [ "$(machine systemctl is-system-running)" != starting ] && machine systemctl is-active --quiet multi-user.target
}
machine() { nsenter --target "$leader" --all --wdns=/ env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 DEBIAN_FRONTEND=noninteractive "$@"; }
stop_machine() {
  machine systemctl poweroff 2>/dev/null
  within 30 fails kill -0 "$1" || kill -KILL "$1"
}
# put FILE PATH: a file of this machine's into it.
put() { machine sh -c "cat >'$2'" <"$1"; }
