#!/bin/sh
# Runs every fuzz target for a while each, as many at once as there are processors:
# what comes from outside may be anything, and a parser must neither fall over nor
# swell.
#
#   sh cmd/fuzz.sh             60 s each
#   sh cmd/fuzz.sh 5s          5 s each
#   sh cmd/fuzz.sh 60s gpx     only the packages with "gpx" in their path (grep -E)
set -eu
cd "$(dirname "$0")/.."

# fuzz PACKAGE TARGET TIME: the go command at times gives the end of the time as an
# error of its own; without an input that fails that is none.
fuzz() {
	said=$(mktemp)
	ok=0
	if GOMEMLIMIT=${GOMEMLIMIT:-1GiB} go test -vet=off "./$1" -run '^$' -fuzz "^$2\$" -fuzztime "$3" -parallel 1 >"$said" 2>&1; then
		printf '%s %s: %s\n' "$1" "$2" "$(tail -n 2 "$said" | head -n 1)"
	else
		printf '%s %s\n%s\n' "$1" "$2" "$(cat "$said")"
		grep -q 'context deadline exceeded' "$said" && ! grep -q 'Failing input written' "$said" && ! grep -q 'panic:' "$said" || ok=1
	fi
	rm -f "$said"
	return $ok
}

if [ "${1:-}" = one ]; then
	fuzz "$2" "$3" "$4"
	exit
fi

time=${1:-60s}
only=${2:-}
targets=$(for package in $(grep -rl --include='*_test.go' '^func Fuzz' cmd geo server store | xargs -n1 dirname | sort -u | grep -E "$only" || true); do
	sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\).*/\1/p' "$package"/*_test.go | sort -u | sed "s|^|$package |"
done)
[ -n "$targets" ] || { echo "no fuzz target found" >&2; exit 1; }
failed=0
printf '%s\n' "$targets" | sed "s|\$| $time|" | xargs -P "$(nproc)" -L 1 sh cmd/fuzz.sh one || failed=1
[ "$failed" = 0 ] || { echo "fuzzing found faults; they stand above" >&2; exit 1; }
printf '%s targets, none failed\n' "$(printf '%s\n' "$targets" | wc -l)"
