#!/usr/bin/env bash
# deploy/compose started as it is with podman: gateway, InfluxDB and a broker with TLS, on networks of their own, a saw that publishes from outside.
# No registry, so the images of the two servers are made here, of Debian's programs under the names that compose.yaml gives; that of the dashboards
# cannot be had. What is tested is what compose.yaml and make-secrets.sh say, not those images.
. "$(dirname "$0")/common.sh"
. "$(dirname "$0")/image.sh"
tools podman-compose=podman-compose iptables=iptables mosquitto_pub=mosquitto-clients mosquitto_passwd=mosquitto openssl=openssl
[ -x /usr/lib/podman/netavark ] && [ -x /usr/lib/podman/aardvark-dns ] || apt-get install -y -qq --no-install-recommends netavark aardvark-dns >/dev/null || stop "podman's networks could not be installed"
debian servers ca-certificates influxdb influxdb-client mosquitto

# Where a copy of deploy/ lies, with its secrets; made anew each time.
work=$kept/compose
rm -rf "$work"
mkdir -p "$work"
cp -R deploy dashboards "$work/"
echo "making the servers' images"
tar -C "$kept/servers" --exclude=./dev --exclude=./.whole -c . | pod import -q - localhost/servers:test >/dev/null || stop "the servers' base image was not made"
make_image() { buildah "${store[@]}" bud -q --isolation=chroot --format docker -t "$1" -f - tests/Install >/dev/null || stop "the image $1 was not made"; }
named() { sed -n "s/^ *image: \($1:.*\)/\1/p" deploy/compose/compose.yaml; }
make_image "localhost/$(named influxdb)" <<'IMAGE'
FROM localhost/servers:test
COPY influxdb-start.sh /entrypoint.sh
RUN chmod 755 /entrypoint.sh && rm -rf /var/lib/influxdb/*
VOLUME /var/lib/influxdb
IMAGE
make_image "localhost/$(named eclipse-mosquitto)" <<'IMAGE'
FROM localhost/servers:test
RUN mkdir -p /mosquitto/config /mosquitto/data && chown 1883:1883 /mosquitto/data
VOLUME /mosquitto/data
CMD ["/usr/sbin/mosquitto", "-c", "/mosquitto/config/mosquitto.conf"]
IMAGE
pod tag "$image" "localhost/$(named sawedge)"

# Free ports, and the limits that this machine lets a container have.
page=$(shuf -i 20000-24999 -n 1) tls=$(shuf -i 25000-29999 -n 1)
sed -i "s|127.0.0.1:8080:8080|127.0.0.1:$page:8080|; s|\"8883:8883\"|\"127.0.0.1:$tls:8883\"|" "$work/deploy/compose/compose.yaml"
cat >"$work/limits.yaml" <<'YAML'
services:
  gateway: { ulimits: { nofile: 4096, nproc: 4096 } }
  influxdb: { ulimits: { nofile: 4096, nproc: 4096 } }
  broker: { ulimits: { nofile: 4096, nproc: 4096 } }
YAML
cat >"$work/podman" <<SCRIPT
#!/bin/bash
exec podman --network-backend netavark ${store[@]@Q} --runtime "$(command -v runc)" --cgroup-manager cgroupfs "\$@"
SCRIPT
chmod 755 "$work/podman"
project=sawedge-test-$$
compose() { podman-compose --podman-path "$work/podman" -p "$project" -f "$work/deploy/compose/compose.yaml" -f "$work/limits.yaml" "$@"; }
at_end+=('compose down --volumes >/dev/null 2>&1; pod network prune -f >/dev/null 2>&1; pkill -f /usr/lib/podman/aardvark-dns')
in_container() { local one=$1; shift; pod exec "${project}_${one}_1" "$@"; }

echo "== secrets"
secret() { cat "$work/deploy/compose/secrets/$1"; }
check "secrets are made" "$work/deploy/compose/make-secrets.sh" saws.riverbend.example 10.0.0.7
check "for nobody but their owner" same 700 "$(stat -c %a "$work/deploy/compose/secrets")"
check "no two alike" same 6 "$(cd "$work/deploy/compose/secrets" && for file in *-password; do cat "$file"; echo; done | sort -u | grep -c -E '^.{32}$')"
sum=$(cat "$work"/deploy/compose/secrets/* | sha256sum)
check "once" "$work/deploy/compose/make-secrets.sh"
check "and not again" same "$sum" "$(cat "$work"/deploy/compose/secrets/* | sha256sum)"
check "the broker's certificate has the names that were given" says 'DNS:saws.riverbend.example, IP Address:10.0.0.7' "$(openssl x509 -in "$work/deploy/compose/secrets/broker.pem" -noout -ext subjectAltName)"

echo "== started"
check "everything starts" compose up -d --no-build gateway influxdb broker
publish() { mosquitto_pub -h localhost -p "$tls" --cafile "$work/deploy/compose/secrets/plant-ca.pem" -u "$1" -P "$(secret "$2")" -t "$3" -m "$4" -q 1; }
moment() { date -u +%Y-%m-%dT%H:%M:%S.%3NZ; }
# A cut of 6 s with a second before and after, as a controller would send it.
cut() {
  local step head cutting load
  for step in $(seq 0 32); do
    cutting=false head=150 load=0.6
    if [ "$step" -ge 4 ] && [ "$step" -lt 28 ]; then cutting=true load=2.4 head=$((150 - (step - 4) * 6)); fi
    publish saws saws-password hall-3/saw-2/frame "{\"ts\":\"$(moment)\",\"head\":{\"mm\":$head},\"motor\":{\"kw\":$load},\"cutting\":$cutting,\"count\":$1}" || return
    sleep 0.2
  done
}
subscribe() { mosquitto_sub -h localhost -p "$tls" --cafile "$work/deploy/compose/secrets/plant-ca.pem" -u sawedge -P "$(secret broker-password)" -t "$1" -C 1 -W 4 2>/dev/null; }
present() { subscribe hall-3/sawedge/presence | grep -q online; }
check "the gateway is at the broker, over TLS" within 60 present
check "a saw publishes a cut" cut 1
check "and another" cut 2
query() { in_container influxdb influx -username dashboards -password "$(secret dashboard-password)" -database saws -format csv -execute "$1"; }
cycles() { query "SELECT count(cycle_time_s) FROM cycle WHERE saw = 'saw-2'" | grep -q -E ',[1-9]'; }
check "its cycle is in InfluxDB, read by the dashboards' user" within 60 cycles
check "the page answers those on this machine" within 10 curl -fsS -o /dev/null "http://127.0.0.1:$page/"
check "and tells nothing without a token" same 401 "$(curl -s -o /dev/null -w '%{http_code}' "http://127.0.0.1:$page/api/v1/saws")"
check "status says that the gateway does its work" in_container gateway dotnet /app/sawedge.dll status --gateway --data /data

echo "== who may do what"
exec {overheard}< <(subscribe sawedge/there)
sleep 1
publish saws saws-password sawedge/there forged
check "a saw cannot publish outside its hall" same "" "$(cat <&"$overheard")"
exec {overheard}< <(subscribe sawedge/there)
sleep 1
publish sawedge broker-password sawedge/there true
check "where the gateway can" same true "$(cat <&"$overheard")"
check "a saw reads nothing" same "" "$(mosquitto_sub -h localhost -p "$tls" --cafile "$work/deploy/compose/secrets/plant-ca.pem" -u saws -P "$(secret saws-password)" -t '#' -C 1 -W 2 2>/dev/null)"
check "nobody without a password is let in" fails mosquitto_pub -h localhost -p "$tls" --cafile "$work/deploy/compose/secrets/plant-ca.pem" -t hall-3/saw-2/frame -m x
check "the dashboards' user cannot write" says 'not authorized to write' "$(query 'INSERT forged value=1' 2>&1)"
check "the saws' side does not reach the server" fails in_container broker getent hosts influxdb
check "the gateway's root cannot be written" fails in_container gateway touch /app/there
check "its secrets are no part of what an engine shows" fails sh -c "pod inspect ${project}_gateway_1 | grep -F '$(secret influx-password)'"

echo "== stopped"
check "everything stops" compose stop
check "the gateway having stored everything" says 'stopped; everything seen is in the history' "$(pod logs "${project}_gateway_1" 2>&1)"
check "and starts again on its volume" compose start
check "the gateway is there again" within 60 present
