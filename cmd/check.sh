#!/bin/sh
# The one test command. On a fresh Debian machine with only Go it installs what
# is missing (as root), starts a PostGIS of its own on a free port, and runs every
# check. A part that cannot be had is a failure, never a silent skip.
#
#   sh cmd/check.sh            everything
#   sh cmd/check.sh go         Go only: format, vet, static checks, tests
#   sh cmd/check.sh web        page only: types, unit and browser tests
set -eu
cd "$(dirname "$0")/.."
what=${1:-all}
work=$(mktemp -d)
chmod 755 "$work"
failed=0
passed=0

finish() {
	sh cmd/postgis.sh stop "$work/pg" >/dev/null 2>&1 || true
	rm -rf "$work"
}
trap finish EXIT
trap 'exit 130' INT TERM

say() { printf '\n== %s\n' "$*"; }
die() {
	printf '%s\n' "$*" >&2
	exit 1
}

# need PROGRAM PACKAGE…: installs the packages where the program is missing.
need() {
	program=$1
	shift
	command -v "$program" >/dev/null 2>&1 && return 0
	[ "$(id -u)" = 0 ] || die "$program is missing: install the Debian package(s) $* and run again"
	if [ ! -e "$work/apt-updated" ]; then
		apt-get update -q >/dev/null || die "apt-get update failed: the package lists cannot be had"
		: >"$work/apt-updated"
	fi
	say "installing $*"
	DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "$@" >"$work/apt.log" 2>&1 ||
		{ tail -n 20 "$work/apt.log" >&2; die "could not install $*"; }
	command -v "$program" >/dev/null 2>&1 || die "$program is still missing after installing $*"
}

# need_browser: the Chromium without windows, in which a page costs a third less; the
# whole one where there is none.
need_browser() {
	(need chromium-headless-shell chromium-headless-shell fonts-dejavu-core) 2>/dev/null ||
		need chromium chromium fonts-dejavu-core
}

# check NAME COMMAND…: runs one check, counts it, goes on after a failure.
check() {
	name=$1
	shift
	say "$name"
	began=$(date +%s)
	if "$@"; then
		passed=$((passed + 1))
		printf '   ok: %s (%s s)\n' "$name" "$(($(date +%s) - began))"
	else
		failed=$((failed + 1))
		printf '   FAILED: %s\n' "$name" >&2
	fi
}

formatted() {
	list=$(gofmt -l cmd geo migrations server store web)
	[ -z "$list" ] || { printf 'gofmt would change:\n%s\n' "$list" >&2; return 1; }
}

tidy() { go mod tidy -diff; }

# Without cgo and trimmed, all three: what one has compiled the next need not compile again.
plain() { CGO_ENABLED=0 GOFLAGS="$(go env GOFLAGS) -trimpath" "$@"; }

build_static() { plain go build -o "$work/courson" ./cmd/courson; }
vet() { plain go vet ./...; }
static_checks() { plain go run honnef.co/go/tools/cmd/staticcheck@v0.8.2 ./...; }

run_program() {
	"$work/courson" demo --no-serve --vines 3000 --data "$work/demo.gpkg" &&
		"$work/courson" check --data "$work/demo.gpkg" &&
		ogrinfo -ro -so "$work/demo.gpkg" vine | grep -q 'Feature Count: '
}

# What reads files from outside; the others (the fold, sums, codes) run with cmd/fuzz.sh alone.
fuzz_tests() { sh cmd/fuzz.sh 5s "^(geo/format|geo/raster|store/foreign)"; }

# SQLite itself, C made into Go, is left out of what the race detector watches: it is
# not ours, and watching it makes every test of the file's store three times as long.
# Vet has been over everything before.
go_tests() { go test -race -vet=off -gcflags='github.com/ncruces/go-sqlite3-wasm/...=-race=false' -timeout 20m ./...; }

web_install() { (cd web && npm ci --no-audit --no-fund --loglevel=error); }
web_types() { (cd web && npm run -s check); }
web_unit() { (cd web && npm run -s test:unit); }
web_browser() { (cd web && COURSON_BIN="$work/courson" npm run -s test:browser); }

command -v go >/dev/null 2>&1 || die "go is missing: it is the one thing this script does not install"
export COURSON_TEST_REQUIRE=1

check "program builds without cgo" build_static

# The Go tests and the browser tests both keep estates in it.
say "starting PostGIS"
eval "$(sh cmd/postgis.sh start "$work/pg")"
[ -n "${COURSON_TEST_POSTGIS:-}" ] || die "PostGIS did not start"

if [ "$what" != web ]; then
	need gcc gcc libc6-dev # the race detector needs it
	need ogrinfo gdal-bin
	need sqlite3 sqlite3
	check "gofmt" formatted
	check "go.mod is tidy" tidy
	check "go vet" vet
	check "static checks" static_checks
	check "program makes, checks and shows the demo estate" run_program
	check "Go tests with the race detector" go_tests
	check "parsers on made-up input, 5 s each" fuzz_tests
fi

if [ "$what" != go ]; then
	need node nodejs
	need npm npm
	need_browser
	need psql postgresql-client
	check "page tools install" web_install
	check "page types" web_types
	check "page unit tests" web_unit
	check "page in a real browser" web_browser
fi

printf '\n%s passed, %s failed\n' "$passed" "$failed"
[ "$failed" = 0 ]
