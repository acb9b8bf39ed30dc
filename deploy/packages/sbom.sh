#!/usr/bin/env bash
# Writes the list of the parts that the gateway is made of (CycloneDX, JSON), as it was last restored, built or published:
#   deploy/packages/sbom.sh FILE
# publish.sh puts one beside each program, build-deb.sh into the package, the Dockerfile into the image. The same parts
# give the same bytes.
set -euo pipefail
[ $# = 1 ] || { sed -n '2,3s/^# //p' "$0" >&2; exit 1; }
file=$(realpath -m "$1")
cd "$(dirname "$0")/../.."
gateway=src/SawEdge.Gateway
assets=$gateway/obj/project.assets.json
[ -e "$assets" ] || { echo "nothing is known of the gateway's parts yet: dotnet restore $gateway" >&2; exit 1; }
version=$(sed -n 's|.*<Version>\(.*\)</Version>.*|\1|p' Directory.Build.props)
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT

# The tool's manifest lies beside this script, and is found from there.
root=$PWD
(cd deploy/packages && dotnet tool restore && dotnet tool run dotnet-CycloneDX -- "$root/$gateway/SawEdge.Gateway.csproj" --recursive --disable-package-restore \
  --no-serial-number --output-format Json --output "$out" --filename sbom.json --set-name sawedge --set-version "$version") >"$out/log" 2>&1 || { cat "$out/log" >&2; exit 2; }

# What no lock file holds: the runtime that a self-contained program brings along, and the script that the page shows its charts with.
part() {
  printf '    {\n      "type": "%s",\n      "bom-ref": "%s@%s",\n      "name": "%s",\n      "version": "%s",\n      "scope": "required",\n      "licenses": [ { "license": { "id": "%s" } } ],\n      "purl": "%s@%s"\n    },\n' \
    "$1" "$2" "$4" "$3" "$4" "$5" "$2" "$4"
}
{
  sed -n '/"downloadDependencies"/,/^ *\],\?$/p' "$assets" | tr -d '\n' | { grep -o -E '"Microsoft\.(NETCore|AspNetCore)\.App\.(Runtime|Host)\.[^"]*", *"version": "\[[^,]*' || true; } |
    sed 's/^"\([^"]*\)".*\[\(.*\)$/\1 \2/' | sort -u |
    while read -r name number; do part framework "pkg:nuget/$name" "$name" "$number" MIT; done
  echarts=$(sed -n 's/^Apache ECharts \([0-9.]*\) .*/\1/p' $gateway/Page/third-party.txt)
  part library pkg:npm/echarts echarts "$echarts" Apache-2.0
} >"$out/more"
# The time is that of the last commit, so that who makes it again can compare.
time=$(date --utc --date="@${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct 2>/dev/null || echo 0)}" +%Y-%m-%dT%H:%M:%SZ)
mkdir -p "${file%/*}"
sed -e "s/\"timestamp\": \"[^\"]*\"/\"timestamp\": \"$time\"/" -e "/^  \"components\": \[/r $out/more" "$out/sbom.json" >"$file"
