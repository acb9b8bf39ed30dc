#!/usr/bin/env bash
# The Dockerfile, built and run without a container engine or a registry: base images are made on the spot of a bare Debian and this machine's own
# .NET; buildah builds, podman runs. It leaves the image in a store of its own, and says how large it is.
. "$(dirname "$0")/common.sh"
. "$(dirname "$0")/image.sh"
start_saw
name=sawedge-test-$$

of_image() { pod image inspect --format "$1" "$image"; }
mounted=$(pod image mount "$image")
at_end+=('pod image unmount "$image" >/dev/null')
echo "== the image"
check "it runs under an account of its own" same 10001:10001 "$(of_image '{{.User}}')"
check "it has a health check" says 'status --gateway' "$(of_image '{{.HealthCheck.Test}}')"
check "the history is on a volume" says '/data' "$(of_image '{{.Config.Volumes}}')"
# An engine that makes a volume takes its owner from the image.
check "which belongs to that account" same "10001:10001 750" "$(stat -c '%u:%g %a' "$mounted/data")"
check "and the root of the file system does not" same "0:0" "$(stat -c '%u:%g' "$mounted")"
check "the program belongs to root" same "0" "$(find "$mounted/app" ! -user root | wc -l)"
check "the list of its parts is in it" grep -q '"CycloneDX"' "$mounted/app/sawedge.cdx.json"
check "neither sources nor tests are in it" same "" "$(find "$mounted" \( -name '*.cs' -o -name '*.csproj' -o -name '*.Tests.dll' \) -path '*[Ss]aw*')"
check "what it brings for other kinds of machines is left out" same "" "$(find "$mounted/app" -name '*.dylib' -o -name '*.dll' -path '*/win*' -o -path '*musl*')"

# run OPTION... -- COMMAND: as the documentation has it; the network is this machine's, for the virtual saw.
volume=$name-data
confined=(--network host --read-only --tmpfs /tmp --cap-drop ALL --security-opt no-new-privileges --ulimit nofile=4096:4096 --ulimit nproc=4096:4096)
mkdir -p "$kept/config"
configuration /data >"$kept/config/sawedge.json"
chmod 755 "$kept" "$kept/config"
pod volume create "$volume" >/dev/null
at_end+=('pod rm --force --time 5 --all >/dev/null 2>&1; pod volume rm --force "$volume" >/dev/null 2>&1')
start() { pod run --detach --name "$1" "${confined[@]}" -v "$kept/config:/config:ro" -v "$volume:/data" "$image" >/dev/null; }
inside() { pod exec "$name" "$@"; }
healthy() { inside dotnet /app/sawedge.dll status --gateway --data /data; }
frames() { inside sh -c 'cat /data/recordings/*.csv | grep -c saw-1'; }
more_frames_than() { [ "$(frames)" -gt "$1" ]; }
records() { local before; before=$(frames); within 30 more_frames_than "${before:-0}"; }
state() { pod inspect --format "$1" "$name"; }
command_in_image() { pod run --rm "${confined[@]}" -v "$kept/config:/config:ro" -v "$volume:/data" "$image" "$@"; }

echo "== run"
check "it starts" start "$name"
check "it records frames" records
check "the health check's command says that all is well" within 30 healthy
check "and so does the engine that runs it" within 30 pod healthcheck run "$name"
check "it runs under its account, without capabilities, and cannot get any" same "10001 0000000000000000 0000000000000000 1" \
  "$(inside sh -c "sed -n 's/^Uid:\s*\([0-9]*\).*/\1/p;s/^CapEff:\s*//p;s/^CapBnd:\s*//p;s/^NoNewPrivs:\s*//p' /proc/1/status" | tr '\n' ' ' | sed 's/ $//')"
check "it cannot write but to its volume and to /tmp" fails inside sh -c 'touch /app/there || touch /config/there || touch /var/there'
check "which it can" inside sh -c 'touch /data/there /tmp/there && rm /data/there'
check "the history is there" inside test -s /data/history.db
began=$SECONDS
check "it is asked to stop, as engines do" pod stop --time 45 "$name"
check "and ends by itself, in order and in time" sh -c '[ "$1" = 0 ] && [ "$2" -lt 40 ]' - "$(state '{{.State.ExitCode}}')" $((SECONDS - began))
check "having stored everything" says 'stopped; everything seen is in the history' "$(pod logs "$name" 2>&1)"
pod rm "$name" >/dev/null
echo "== again, on the same volume"
check "it starts" start "$name"
check "and records" records
check "nothing was lost by the stop" fails grep -q 'did not end cleanly' <<<"$(pod logs "$name" 2>&1)"
check "killed" pod kill --signal KILL "$name"
check "it is not healthy" fails pod healthcheck run "$name"
pod rm --force "$name" >/dev/null
check "the history is whole" command_in_image history check --data /data
check "and is not healthy without a gateway" fails command_in_image status --gateway --data /data
echo "== wrong configuration"
echo '{ "site": 5 }' >"$kept/config/sawedge.json"
command_in_image run /config/sawedge.json >"$kept/refused.log" 2>&1
check "it is refused with 1" same 1 $?
check "and what is wrong with it" says 'site: is a number' "$(cat "$kept/refused.log")"

size=$(of_image '{{.Size}}') base=$(pod image inspect --format '{{.Size}}' localhost/dotnet-runtime:test)
echo "the image: $(((size - base) / 1000000)) MB over its base of $((base / 1000000)) MB"
