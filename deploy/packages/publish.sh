#!/usr/bin/env bash
# Publishes the gateway as one program that needs no .NET on the machine it is put on:
#   deploy/packages/publish.sh RID FOLDER      RID: linux-x64, linux-arm64 or win-x64
set -euo pipefail
[ $# = 2 ] || { sed -n '2,3s/^# //p' "$0" >&2; exit 1; }
rid=$1 folder=$2
case "$rid" in
linux-x64 | linux-arm64 | win-x64) ;;
*) echo "'$rid' is none of linux-x64, linux-arm64, win-x64" >&2; exit 1 ;;
esac
cd "$(dirname "$0")/../.."
# The native libraries (SQLite, serial lines) stay beside the program: unpacking them at each start would need a folder
# to write to.
# The packages of one kind of machine are a choice from those that the lock files hold, written down apart from them.
dotnet publish src/SawEdge.Gateway -c Release -r "$rid" --self-contained --nologo -v quiet -o "$folder" \
  -p:PublishSingleFile=true -p:NuGetLockFilePath=obj/publish.lock.json -p:RestoreLockedMode=false -p:DebugType=none -p:PublishDocumentationFiles=false -p:PublishReferencesDocumentationFiles=false
rm -f "$folder"/*.xml
[ "$rid" = win-x64 ] || chmod 755 "$folder"/*
