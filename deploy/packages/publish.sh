#!/usr/bin/env bash
# Publishes the gateway as one program that needs no .NET on the machine it is put on:
#   deploy/packages/publish.sh RID FOLDER [OPTION...]
# RID: linux-x64, linux-arm64 or win-x64; OPTION: what dotnet publish is to be told besides. The list of its parts
# (sawedge.cdx.json) lies beside it.
set -euo pipefail
[ $# -ge 2 ] || { sed -n '2,5s/^# //p' "$0" >&2; exit 1; }
rid=$1 folder=$(realpath -m "$2")
shift 2
case "$rid" in
linux-x64 | linux-arm64 | win-x64) ;;
*) echo "'$rid' is none of linux-x64, linux-arm64, win-x64" >&2; exit 1 ;;
esac
cd "$(dirname "$0")/../.."
# The runtime goes into the program. Those of .NET before this one have published vulnerabilities (deploy/docs/security.md); an SDK puts in the one
# that it was released with, so an older SDK is told to take this one, where the registry has it for that kind of machine.
least=10.0.15
runtime=$(dotnet msbuild src/SawEdge.Gateway -getProperty:BundledNETCoreAppPackageVersion)
chosen=()
if [ "$(printf '%s\n' "$least" "$runtime" | sort -V | head -n 1)" != "$least" ]; then
  # In a folder that is thrown away: what a try leaves behind is not the build's.
  try=$(mktemp -d)
  trap 'rm -rf "$try"' EXIT
  printf '<Project Sdk="Microsoft.NET.Sdk"><PropertyGroup><TargetFramework>net10.0</TargetFramework><RuntimeIdentifier>%s</RuntimeIdentifier><SelfContained>true</SelfContained><RuntimeFrameworkVersion>%s</RuntimeFrameworkVersion></PropertyGroup><ItemGroup><FrameworkReference Include="Microsoft.AspNetCore.App" /></ItemGroup></Project>' "$rid" "$least" >"$try/try.csproj"
  if dotnet restore "$try" --verbosity quiet >/dev/null 2>&1; then
    chosen=(-p:RuntimeFrameworkVersion="$least")
  else
    echo "warning: the registry has no runtime $least for $rid; the program gets $runtime, in which vulnerabilities are known. Publish with a newer SDK before you put it in service." >&2
  fi
fi
# The native libraries (SQLite, serial lines) stay beside the program: unpacking them at each start would need a folder
# to write to.
# The packages of one kind of machine are a choice from those that the lock files hold, written down apart from them.
dotnet publish src/SawEdge.Gateway -c Release -r "$rid" --self-contained --nologo -v quiet -o "$folder" \
  -p:PublishSingleFile=true -p:NuGetLockFilePath=obj/publish.lock.json -p:RestoreLockedMode=false -p:DebugType=none -p:PublishDocumentationFiles=false -p:PublishReferencesDocumentationFiles=false "${chosen[@]}" "$@"
rm -f "$folder"/*.xml
deploy/packages/sbom.sh "$folder/sawedge.cdx.json"
[ "$rid" = win-x64 ] || chmod 755 "$folder"/*
