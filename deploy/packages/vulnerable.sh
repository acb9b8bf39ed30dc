#!/usr/bin/env bash
# Says whether a package of the gateway has a published vulnerability:
#   deploy/packages/vulnerable.sh
# Exit codes: 0 none has; 1 some have, they are listed; 3 the registry in use does not give that data, so nothing is known.
# A registry without that data says of every package that nothing is known against it. So it is asked first about one
# against which something is: Newtonsoft.Json 12.0.3, GHSA-5crp-9r3c-p9vr.
set -euo pipefail
cd "$(dirname "$0")/../.."
probe=$(mktemp -d)
trap 'rm -rf "$probe"' EXIT
cat >"$probe/probe.csproj" <<'XML'
<Project Sdk="Microsoft.NET.Sdk">
  <PropertyGroup><TargetFramework>net10.0</TargetFramework><NuGetAudit>false</NuGetAudit></PropertyGroup>
  <ItemGroup><PackageReference Include="Newtonsoft.Json" Version="12.0.3" /></ItemGroup>
</Project>
XML
unknown() { echo "$1: whether a package has a known vulnerability cannot be told here. Run this where the registry gives that data." >&2; exit 3; }
ask() { dotnet package list --project "$1" --vulnerable --include-transitive --format json; }

dotnet restore "$probe" --verbosity quiet >/dev/null 2>&1 || unknown "the package that it is tried with is not to be had"
ask "$probe" 2>/dev/null | grep -q '"advisoryurl"' || unknown "the registry gives no data on vulnerabilities"
dotnet restore src/SawEdge.Gateway --verbosity quiet
found=$(ask src/SawEdge.Gateway)
if grep -q '"advisoryurl"' <<<"$found"; then
  echo "$found"
  exit 1
fi
grep -q '"projects"' <<<"$found" || { echo "$found" >&2; unknown "no answer that can be read"; }
echo "no package of the gateway has a published vulnerability"
