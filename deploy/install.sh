#!/usr/bin/env bash
# Installs the gateway from a published program on any Linux with systemd (on Debian the package does the same):
#   install.sh install FOLDER    puts the program in FOLDER in service, or upgrades to it; what runs is kept for rollback
#   install.sh rollback          goes back to the program before
#   install.sh uninstall         takes program and service away; configuration and history stay
#   install.sh status            says what is there
# Options: --yes (do not ask), --dry-run (only say what would be done), --no-backup (no backup of the history before an
# upgrade), --root DIR (another root, for images). It says what it will do and asks before it does it; what is as it should
# be already is left alone. Exit codes: 0 done or nothing to do, 1 wrong input or not possible, 3 the answer was no.
set -euo pipefail

root='' yes=no dry=no backup=yes words=()
while [ $# -gt 0 ]; do
  case "$1" in
  --yes) yes=yes ;;
  --dry-run) dry=yes ;;
  --no-backup) backup=no ;;
  --root) root=${2:?"--root needs a folder"}; shift ;;
  -h | --help) sed -n '2,10s/^# \{0,1\}//p' "$0"; exit 0 ;;
  -*) echo "unknown option '$1'; install.sh --help tells what there is" >&2; exit 1 ;;
  *) words+=("$1") ;;
  esac
  shift
done

home=$root/opt/sawedge unit=$root/etc/systemd/system/sawedge.service etc=$root/etc/sawedge data=$root/var/lib/sawedge
link=$root/usr/local/bin/sawedge
here=$(cd "$(dirname "$0")" && pwd)
plan=() steps=()

die() { echo "install.sh: $*" >&2; exit 1; }
# A step: what it says, and the command that does it, quoted so that any path can stand in it.
step() {
  plan+=("$1")
  shift
  steps+=("$(printf '%q ' "$@")")
}
live() { [ -z "$root" ] && [ -d /run/systemd/system ]; }
current() { readlink "$home/current" 2>/dev/null || true; }
previous() { readlink "$home/previous" 2>/dev/null || true; }
# Replaced in one step: a power cut leaves the old one or the new one.
point() { ln -sfn "$2" "$home/.$1" && mv -T "$home/.$1" "$home/$1"; }
make_account() { useradd --system --home-dir /var/lib/sawedge --no-create-home --shell /usr/sbin/nologin --comment 'SawEdge gateway' sawedge; }
make_folder() {
  install -d -m "$1" "$3"
  # Another root has accounts of its own; who makes an image sets them there.
  [ -n "$root" ] || chown "$2" "$3"
}
# Copied under another name first: half a program never looks like a whole one.
copy_program() {
  install -d -m 0755 "$home"
  rm -rf "$home/.new" "${home:?}/$2"
  cp -R "$1" "$home/.new"
  chmod -R u=rwX,go=rX "$home/.new"
  touch "$home/.new/.whole"
  sync
  mv -T "$home/.new" "$home/$2"
}
write_unit() {
  install -d "${unit%/*}"
  printf '%s\n' "$1" >"$unit.new"
  mv "$unit.new" "$unit"
}
make_command() {
  install -d "${link%/*}"
  ln -sfn /opt/sawedge/current/sawedge "$link"
}
as_gateway() {
  if [ -n "$root" ] || ! command -v runuser >/dev/null; then "$@"; else runuser -u sawedge -- "$@"; fi
}
start_service() { systemctl daemon-reload && systemctl enable --quiet sawedge && systemctl restart sawedge; }
stop_service() { systemctl disable --now --quiet sawedge || true; }

carry_out() {
  if [ ${#plan[@]} = 0 ]; then
    echo "Nothing to do: everything is as it should be."
    exit 0
  fi
  echo "This will be done${root:+ under $root}:"
  printf '  - %s\n' "${plan[@]}"
  [ "$dry" = yes ] && exit 0
  if [ "$yes" = no ]; then
    [ -t 0 ] || die "there is nobody to ask; say --yes to do it"
    read -r -p "Go on? [y/N] " answer
    case "$answer" in y | Y | yes) ;; *) echo "Nothing was done."; exit 3 ;; esac
  fi
  [ -n "$root" ] || [ "$(id -u)" = 0 ] || die "only root can do this; begin with sudo"
  for one in "${steps[@]}"; do
    eval "$one"
  done
}

install_version() {
  local source=${words[1]:-} version old wanted
  [ -n "$source" ] || die "which program? install.sh install FOLDER, with the folder of a published program"
  [ -x "$source/sawedge" ] || die "no program 'sawedge' in '$source': that is no published program"
  source=$(cd "$source" && pwd)
  [ ! -e "$root/usr/lib/sawedge/sawedge" ] || die "the Debian package sawedge is installed: upgrade that (apt install ./sawedge_VERSION.deb), or remove it first"
  version=$("$source/sawedge" --version) || die "'$source/sawedge' does not run on this machine: is it for another processor?"
  # The build's own mark after the plus is part of it: two builds of a version are two programs.
  version=${version//[^A-Za-z0-9.+_-]/_}
  old=$(current)
  if [ -z "$root" ] && ! getent passwd sawedge >/dev/null; then
    step "make the account sawedge, without a shell" make_account
  fi
  [ -d "$etc" ] || step "make /etc/sawedge, which the gateway can read and not change" make_folder 0750 root:sawedge "$etc"
  [ -d "$etc/secrets" ] || step "make /etc/sawedge/secrets, which only root can read" make_folder 0700 root:root "$etc/secrets"
  [ -d "$data" ] || step "make /var/lib/sawedge for the history" make_folder 0750 sawedge:sawedge "$data"
  [ -e "$home/$version/.whole" ] || step "copy the program to /opt/sawedge/$version" copy_program "$source" "$version"
  wanted=$(sed 's|/usr/lib/sawedge/sawedge|/opt/sawedge/current/sawedge|; /^Documentation=/d' "$here/systemd/sawedge.service")
  if [ ! -e "$unit" ] || [ "$(cat "$unit")" != "$wanted" ]; then
    step "write the service to /etc/systemd/system/sawedge.service" write_unit "$wanted"
  fi
  if [ "$old" != "$version" ]; then
    if [ -n "$old" ] && [ "$backup" = yes ] && [ -e "$data/history.db" ]; then
      step "back the history up to /var/lib/sawedge/before-$version.db" as_gateway "$home/current/sawedge" history backup "$data/before-$version.db" --data "$data" --replace
    fi
    [ -z "$old" ] || step "keep $old for a rollback" point previous "$old"
    step "put $version in service${old:+ in place of $old}" point current "$version"
  fi
  [ -L "$link" ] || step "make the command sawedge" make_command
  if live && { [ "$old" != "$version" ] || ! systemctl is-enabled --quiet sawedge 2>/dev/null; }; then
    step "start it now and at every start of the machine" start_service
  fi
  carry_out
  echo "Done: $version is in service."
  [ -e "$etc/sawedge.json" ] || echo "Next, write /etc/sawedge/sawedge.json, check it with 'sawedge check /etc/sawedge/sawedge.json', then 'systemctl start sawedge'."
}

roll_back() {
  local old new
  new=$(current) old=$(previous)
  [ -n "$new" ] || die "nothing is installed under /opt/sawedge"
  [ -n "$old" ] && [ -x "$home/$old/sawedge" ] || die "there is no program before $new to go back to"
  step "put $old in service in place of $new" point current "$old"
  step "keep $new, so that another rollback comes back to it" point previous "$new"
  ! live || step "start it" systemctl restart sawedge
  carry_out
  echo "Done: $old is in service."
  if [ -e "$data/history.db" ] && ! as_gateway "$home/current/sawedge" history status --data "$data" >/dev/null 2>&1; then
    echo "It cannot read the history as $new left it. The backup from before goes in its place with:"
    echo "  systemctl stop sawedge; sawedge history restore $data/before-$new.db --data $data; systemctl start sawedge"
    echo "What was recorded since then stays beside it as history-replaced-TIME.db."
  fi
}

uninstall() {
  if [ ! -e "$home" ] && [ ! -e "$unit" ] && [ ! -L "$link" ]; then
    echo "Nothing to do: nothing is installed."
    exit 0
  fi
  ! live || step "stop the gateway" stop_service
  [ ! -e "$unit" ] || step "take the service away" rm -f "$unit"
  [ ! -L "$link" ] || step "take the command away" rm -f "$link"
  [ ! -e "$home" ] || step "take the programs in /opt/sawedge away" rm -rf "$home"
  ! live || step "tell the service manager" systemctl daemon-reload
  carry_out
  echo "Done. Configuration (/etc/sawedge), history (/var/lib/sawedge) and the account sawedge stay; remove them by hand if nobody needs them."
}

say_status() {
  local now
  now=$(current)
  echo "in service: ${now:-nothing}"
  echo "before:     $(previous | grep . || echo nothing)"
  echo "service:    $([ -e "$unit" ] && echo "$unit" || echo none)"
}

case "${words[0]:-}" in
install) install_version ;;
rollback) roll_back ;;
uninstall) uninstall ;;
status) say_status ;;
'') sed -n '2,10s/^# \{0,1\}//p' "$0" >&2; exit 1 ;;
*) die "unknown command '${words[0]}'; it is one of install, rollback, uninstall, status" ;;
esac
