#!/bin/sh
# A PostgreSQL cluster of its own for the tests and benches: socket in DIR, no TCP.
#   postgres.sh start DIR PORT   prints the connection string on its last line
#   postgres.sh restart DIR PORT starts it anew at once, as after a crash
#   postgres.sh stop DIR PORT    stops it and removes its data
# Durability stays on, so that what is measured here is what a depot would get.
set -eu

usage() {
  echo "usage: postgres.sh start|restart|stop DIR PORT" >&2
  exit 2
}
[ $# -eq 3 ] || usage
command=$1
port=$3
mkdir -p "$2"
dir=$(cd "$2" && pwd)
data=$dir/data

bin=$(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -V | tail -n 1)
[ -n "$bin" ] || { echo "postgres.sh: no PostgreSQL server found: install postgresql" >&2; exit 1; }

# The server refuses to run as root.
as_owner() {
  if [ "$(id -u)" -eq 0 ]; then
    (cd / && runuser -u postgres -- "$@")
  else
    (cd / && "$@")
  fi
}

start() {
  [ "$(id -u)" -ne 0 ] || chown postgres "$dir"
  # 107 bytes is the longest socket path that Linux takes.
  [ "$(printf %s "$dir/.s.PGSQL.$port" | wc -c)" -le 107 ] ||
    { echo "postgres.sh: $dir is too long for a socket path" >&2; exit 1; }
  if ! as_owner "$bin/pg_ctl" -D "$data" status >/dev/null 2>&1; then
    [ -f "$data/PG_VERSION" ] ||
      as_owner "$bin/initdb" -D "$data" -U postgres -A trust -E UTF8 --locale=C.UTF-8 -N \
        >"$dir/initdb.log" 2>&1 || { cat "$dir/initdb.log" >&2; exit 1; }
    as_owner "$bin/pg_ctl" -D "$data" -l "$dir/server.log" -w -t 60 \
      -o "-p $port -k '$dir' -c listen_addresses='' -c unix_socket_permissions=0700 -c max_connections=100" \
      start >/dev/null || { tail -n 20 "$dir/server.log" >&2; exit 1; }
  fi
  echo "host=$dir port=$port user=postgres dbname=postgres"
}

restart() {
  as_owner "$bin/pg_ctl" -D "$data" -m immediate -w -t 60 -l "$dir/server.log" restart >/dev/null ||
    { tail -n 20 "$dir/server.log" >&2; exit 1; }
}

stop() {
  if as_owner "$bin/pg_ctl" -D "$data" status >/dev/null 2>&1; then
    as_owner "$bin/pg_ctl" -D "$data" -m fast -w stop >/dev/null
  fi
  rm -rf "$data" "$dir/server.log" "$dir/initdb.log"
  rmdir "$dir" 2>/dev/null || true
}

case $command in
  start) start ;;
  restart) restart ;;
  stop) stop ;;
  *) usage ;;
esac
