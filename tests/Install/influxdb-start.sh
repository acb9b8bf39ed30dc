#!/bin/sh
# In place of the start script of InfluxDB's own image, for the test of compose.yaml: what that documents of its variables, for a server of Debian's.
set -e
if [ ! -e /var/lib/influxdb/meta ]; then
  INFLUXDB_HTTP_AUTH_ENABLED=false influxd >/dev/null 2>&1 &
  until influx -execute 'SHOW DATABASES' >/dev/null 2>&1; do sleep 0.2; done
  influx -execute "CREATE USER \"$INFLUXDB_ADMIN_USER\" WITH PASSWORD '$INFLUXDB_ADMIN_PASSWORD' WITH ALL PRIVILEGES"
  influx -execute "CREATE DATABASE \"$INFLUXDB_DB\""
  influx -execute "CREATE USER \"$INFLUXDB_WRITE_USER\" WITH PASSWORD '$INFLUXDB_WRITE_USER_PASSWORD'; GRANT WRITE ON \"$INFLUXDB_DB\" TO \"$INFLUXDB_WRITE_USER\""
  influx -execute "CREATE USER \"$INFLUXDB_READ_USER\" WITH PASSWORD '$INFLUXDB_READ_USER_PASSWORD'; GRANT READ ON \"$INFLUXDB_DB\" TO \"$INFLUXDB_READ_USER\""
  kill $!
  wait $! || true
fi
exec "$@"
