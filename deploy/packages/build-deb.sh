#!/usr/bin/env bash
# Builds the Debian package from a published program:
#   deploy/packages/build-deb.sh amd64|arm64 PUBLISHED OUT-FOLDER [VERSION]
# It prints the package's path. The same input gives the same bytes.
set -euo pipefail
[ $# -ge 3 ] || { sed -n '2,4s/^# //p' "$0" >&2; exit 1; }
architecture=$1 published=$(realpath "$2") out=$(realpath "$3")
case "$architecture" in amd64 | arm64) ;; *) echo "'$architecture' is neither amd64 nor arm64" >&2; exit 1 ;; esac
[ -x "$published/sawedge" ] || { echo "no program 'sawedge' in $published: publish it first with deploy/packages/publish.sh" >&2; exit 1; }
[ -e "$published/sawedge.cdx.json" ] || { echo "no list of parts 'sawedge.cdx.json' in $published: publish.sh, or sbom.sh, makes it" >&2; exit 1; }
cd "$(dirname "$0")/../.."
version=${4:-$(sed -n 's|.*<Version>\(.*\)</Version>.*|\1|p' Directory.Build.props)}
tree=$(mktemp -d)
trap 'rm -rf "$tree"' EXIT
chmod 755 "$tree"

put() { install -D -m "$1" "$2" "$tree/$3"; }
for file in "$published"/*; do
  [[ $file == *.json ]] && continue
  put "$([[ $file == *.so ]] && echo 644 || echo 755)" "$file" "usr/lib/sawedge/${file##*/}"
done
install -d "$tree/usr/bin" "$tree/etc/sawedge" "$tree/etc/sawedge/secrets" "$tree/DEBIAN"
ln -s ../lib/sawedge/sawedge "$tree/usr/bin/sawedge"
put 644 deploy/systemd/sawedge.service lib/systemd/system/sawedge.service
put 644 deploy/systemd/sawedge.sysusers usr/lib/sysusers.d/sawedge.conf
for file in README.md deploy/data-dictionary.md deploy/sawedge.schema.json; do
  put 644 "$file" "usr/share/doc/sawedge/${file##*/}"
done
for file in deploy/examples/* deploy/mosquitto-memory.conf; do
  put 644 "$file" "usr/share/doc/sawedge/examples/${file##*/}"
done
for file in dashboards/*.json dashboards/*.influxql dashboards/README.md; do
  put 644 "$file" "usr/share/doc/sawedge/dashboards/${file##*/}"
done
put 644 "$published/sawedge.cdx.json" usr/share/doc/sawedge/sawedge.cdx.json
put 644 LICENSE usr/share/doc/sawedge/copyright

for script in preinst postinst prerm postrm; do
  put 755 "deploy/packages/debian/$script" "DEBIAN/$script"
done
size=$(du -ks --exclude=DEBIAN "$tree" | cut -f1)
sed -e "s/@VERSION@/$version/" -e "s/@ARCHITECTURE@/$architecture/" -e "s/@SIZE@/$size/" deploy/packages/debian/control >"$tree/DEBIAN/control"
(cd "$tree" && find . -type f ! -path './DEBIAN/*' -printf '%P\0' | LC_ALL=C sort -z | xargs -0 md5sum) >"$tree/DEBIAN/md5sums"

# Times of the last commit, so that who builds it again can compare.
SOURCE_DATE_EPOCH=$(git log -1 --format=%ct 2>/dev/null || echo 0)
export SOURCE_DATE_EPOCH
find "$tree" -exec touch --no-dereference --date="@$SOURCE_DATE_EPOCH" {} +
package="$out/sawedge_${version}_$architecture.deb"
dpkg-deb --root-owner-group --build "$tree" "$package" >/dev/null
echo "$package"
