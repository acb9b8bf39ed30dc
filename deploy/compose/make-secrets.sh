#!/usr/bin/env bash
# Makes the passwords and the broker's certificate for compose.yaml in ./secrets, once: what is there stays as it is.
#   make-secrets.sh [NAME...]    names and addresses by which saws reach this machine, for the certificate
# Needs openssl and mosquitto_passwd (or docker, which then runs the broker's own).
set -euo pipefail
cd "$(dirname "$0")"
mkdir -p secrets
chmod 700 secrets
cd secrets
# Containers read them as users of their own: inside a folder that only you can enter, they may be readable.
umask 022
for name in influx-admin-password influx-password dashboard-password dashboard-admin-password broker-password saws-password; do
  [ -s "$name" ] || openssl rand -base64 24 | tr -d '\n' >"$name"
done
if [ ! -s broker-users ]; then
  if command -v mosquitto_passwd >/dev/null; then
    hash() { mosquitto_passwd "$@"; }
  else
    hash() { docker run --rm -v "$PWD:/w" -w /w eclipse-mosquitto:2.0.22 mosquitto_passwd "$@"; }
  fi
  # Hashed in place: a password is never an argument, which other users of the machine could read.
  printf 'sawedge:%s\nsaws:%s\n' "$(cat broker-password)" "$(cat saws-password)" >broker-users.new
  hash -U broker-users.new
  mv broker-users.new broker-users
fi
if [ ! -s plant-ca.pem ]; then
  openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 3650 -subj "/CN=SawEdge plant authority" \
    -addext "basicConstraints=critical,CA:TRUE,pathlen:0" -addext "keyUsage=critical,keyCertSign,cRLSign" -keyout plant-ca.key -out plant-ca.pem 2>/dev/null
  chmod 600 plant-ca.key
fi
if [ ! -s broker.pem ]; then
  names="DNS:broker,DNS:localhost,IP:127.0.0.1"
  for name in "$@"; do
    [[ $name =~ ^[0-9.]+$|: ]] && names+=",IP:$name" || names+=",DNS:$name"
  done
  openssl req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -subj "/CN=broker" -keyout broker.key -out broker.csr 2>/dev/null
  openssl x509 -req -in broker.csr -CA plant-ca.pem -CAkey plant-ca.key -days 825 -out broker.pem \
    -extfile <(printf 'subjectAltName=%s\nextendedKeyUsage=serverAuth\nbasicConstraints=critical,CA:FALSE\n' "$names") 2>/dev/null
  rm -f broker.csr
  chmod 644 broker.key
fi
echo "secrets: $(ls | tr '\n' ' ')"
echo "The saws' controllers publish as user 'saws' with the password in secrets/saws-password and trust secrets/plant-ca.pem."
