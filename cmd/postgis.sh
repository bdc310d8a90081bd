#!/bin/sh
# A throw-away PostGIS for tests, of the major version that this Debian has.
#
#   eval "$(sh cmd/postgis.sh start DIR)"    exports COURSON_TEST_POSTGIS
#   sh cmd/postgis.sh stop DIR               stops it and removes DIR
#
# For tests of what happens when a server goes away:
#
#   sh cmd/postgis.sh crash DIR              stops it at once, as a power cut would
#   sh cmd/postgis.sh again DIR              starts it anew, on the same port
#   sh cmd/postgis.sh standby DIR OF         starts DIR as a hot standby of the server in OF
#
# DIR must not exist yet or be empty. The server listens on 127.0.0.1 only, on a
# free port, and trusts every local connection. It syncs to the disk as a real
# one does: the tests kill it. Run by root, the server belongs to the user
# postgres; else to whoever runs this.
set -eu

die() {
	printf 'postgis.sh: %s\n' "$*" >&2
	exit 1
}

usage() {
	printf 'use: sh cmd/postgis.sh start|stop|crash|again DIR\n     sh cmd/postgis.sh standby DIR OF\n' >&2
	exit 2
}

# whole prints a path from the root.
whole() {
	case $1 in
	/*) printf '%s\n' "$1" ;;
	*) printf '%s/%s\n' "$(pwd)" "$1" ;;
	esac
}

[ $# -ge 2 ] || usage
action=$1
dir=$(whole "$2")

# bindir prints the folder of the newest server that has PostGIS beside it.
bindir() {
	for v in $(ls /usr/lib/postgresql 2>/dev/null | sort -rn); do
		if [ -x "/usr/lib/postgresql/$v/bin/initdb" ] && [ -e "/usr/share/postgresql/$v/extension/postgis.control" ]; then
			printf '/usr/lib/postgresql/%s/bin\n' "$v"
			return 0
		fi
	done
	return 1
}

# install fetches server and PostGIS: 15 on Debian 12, 17 on Debian 13.
install() {
	[ "$(id -u)" = 0 ] || die "PostgreSQL with PostGIS is missing: install the Debian package postgresql-15-postgis-3 (Debian 12) or postgresql-17-postgis-3 (Debian 13) and run again"
	apt-get update -q >&2 || die "apt-get update failed: the package lists cannot be had"
	package=$(apt-cache search --names-only '^postgresql-[0-9]+-postgis-3$' | sed 's/ .*//' | sort -t- -k2 -rn | head -n 1)
	[ -n "$package" ] || die "no package postgresql-N-postgis-3 is known to apt"
	# No cluster of Debian's own: it would take a port and memory for nothing.
	mkdir -p /etc/postgresql-common/createcluster.d
	printf 'create_main_cluster = false\n' >/etc/postgresql-common/createcluster.d/courson-test.conf
	DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "$package" >&2 ||
		die "could not install $package"
}

# as_owner COMMAND…: runs it as the user who owns the server's files.
as_owner() {
	if [ "$(id -u)" = 0 ]; then
		setpriv --reuid=postgres --regid=postgres --init-groups env HOME="$dir" "$@"
	else
		"$@"
	fi
}

# free_port prints a port nobody listens on. Another program may take it before
# the server does; start tries again then.
free_port() {
	port=$(awk 'BEGIN { srand(); print 20000 + int(rand() * 30000) }' </dev/null)
	port=$((20000 + (port + $$ * 7 + ${1:-0} * 1013) % 30000))
	hex=$(printf '%04X' "$port")
	while cat /proc/net/tcp /proc/net/tcp6 2>/dev/null | awk '{print $2}' | grep -qi ":$hex\$"; do
		port=$((port + 1))
		hex=$(printf '%04X' "$port")
	done
	printf '%s\n' "$port"
}

# folder makes DIR, empty and the owner's.
folder() {
	if [ -d "$dir" ] && [ -n "$(ls -A "$dir")" ]; then
		die "$dir is not empty"
	fi
	mkdir -p "$dir"
	if [ "$(id -u)" = 0 ]; then
		chown postgres:postgres "$dir"
	fi
	chmod 700 "$dir"
	as_owner test -w "$dir" || die "the server's user cannot write to $dir: choose a folder whose parents it may enter"
}

# run starts the server on a free port and prints its URL.
run() {
	for try in 1 2 3 4 5; do
		port=$(free_port "$try")
		if up; then
			printf '%s\n' "$port" >"$dir/port"
			printf 'export COURSON_TEST_POSTGIS=%s\n' "'$(url "$port")'"
			return 0
		fi
		grep -q 'in use' "$dir/server.log" || break
	done
	tail -n 20 "$dir/server.log" >&2
	die "the server did not start"
}

url() { printf 'postgres://courson@127.0.0.1:%s/postgres?sslmode=disable' "$1"; }

up() { as_owner "$bin/pg_ctl" -D "$dir/data" -w -t 60 -l "$dir/server.log" -o "-p $port" start >"$dir/start.log" 2>&1; }

start() {
	bin=$(bindir) || { install; bin=$(bindir) || die "PostGIS is still missing after the installation"; }
	folder
	as_owner "$bin/initdb" -D "$dir/data" -U courson -A trust -E UTF8 --locale=C.UTF-8 >"$dir/initdb.log" 2>&1 ||
		{ cat "$dir/initdb.log" >&2; die "initdb could not make a cluster in $dir"; }
	cat >>"$dir/data/postgresql.conf" <<CONF
listen_addresses = '127.0.0.1'
unix_socket_directories = ''
max_connections = 200
shared_buffers = 256MB
max_wal_size = 2GB
wal_level = replica
max_wal_senders = 4
CONF
	run
}

standby() {
	[ $# -eq 1 ] || usage
	of=$(whole "$1")
	bin=$(bindir) || die "PostGIS is missing"
	folder
	as_owner "$bin/pg_basebackup" -D "$dir/data" -R -c fast -d "$(url "$(cat "$of/port")")" >"$dir/initdb.log" 2>&1 ||
		{ cat "$dir/initdb.log" >&2; die "the server in $of could not be copied"; }
	run
}

crash() {
	bin=$(bindir) || die "PostGIS is missing"
	as_owner "$bin/pg_ctl" -D "$dir/data" -m immediate -w stop >"$dir/start.log" 2>&1 || { cat "$dir/start.log" >&2; die "the server in $dir did not stop"; }
}

again() {
	bin=$(bindir) || die "PostGIS is missing"
	port=$(cat "$dir/port")
	up || { tail -n 20 "$dir/server.log" >&2; die "the server in $dir did not start again"; }
}

stop() {
	[ -d "$dir" ] || return 0
	if bin=$(bindir) && [ -e "$dir/data/postmaster.pid" ]; then
		as_owner "$bin/pg_ctl" -D "$dir/data" -m immediate -w stop >"$dir/start.log" 2>&1 || die "the server in $dir did not stop"
	fi
	if [ -e "$dir/data/PG_VERSION" ] || [ -e "$dir/initdb.log" ]; then
		rm -rf "$dir"
	fi
}

case $action in
start | stop | crash | again)
	[ $# -eq 2 ] || usage
	"$action"
	;;
standby)
	[ $# -eq 3 ] || usage
	standby "$3"
	;;
*) usage ;;
esac
