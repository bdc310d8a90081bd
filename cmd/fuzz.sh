#!/bin/sh
# Runs every fuzz target for a while each, one after the other: what comes from
# outside may be anything, and a parser must neither fall over nor swell.
#
#   sh cmd/fuzz.sh             60 s each
#   sh cmd/fuzz.sh 5s          5 s each
#   sh cmd/fuzz.sh 60s gpx     only the packages with "gpx" in their path (grep -E)
set -eu
cd "$(dirname "$0")/.."
time=${1:-60s}
only=${2:-}
failed=0
ran=0
said=$(mktemp)
trap 'rm -f "$said"' EXIT

# fuzz PACKAGE TARGET: the go command at times gives the end of the time as an error
# of its own; without an input that fails that is none.
fuzz() {
	if GOMEMLIMIT=${GOMEMLIMIT:-1GiB} go test "./$1" -run '^$' -fuzz "^$2\$" -fuzztime "$time" >"$said" 2>&1; then
		tail -n 2 "$said"
		return 0
	fi
	cat "$said"
	grep -q 'context deadline exceeded' "$said" && ! grep -q 'Failing input written' "$said" && ! grep -q 'panic:' "$said"
}

for package in $(grep -rl --include='*_test.go' '^func Fuzz' cmd geo server store | xargs -n1 dirname | sort -u | grep -E "$only" || true); do
	for target in $(grep -h '^func Fuzz' "$package"/*_test.go | sed 's/^func \(Fuzz[A-Za-z0-9_]*\).*/\1/' | sort -u); do
		printf '%s %s\n' "$package" "$target"
		ran=$((ran + 1))
		fuzz "$package" "$target" || failed=$((failed + 1))
	done
done
[ "$ran" -gt 0 ] || { echo "no fuzz target found" >&2; exit 1; }
printf '%s targets, %s failed\n' "$ran" "$failed"
[ "$failed" = 0 ]
