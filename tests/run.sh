#!/bin/sh
# Runs every test program and every JavaScript test, prints what failed, and closes with "N passed, N failed".
# Two run at a time where there are two processors: the pages, which wait a good deal, first, the many short ones last.
set -u
export BUILD="${BUILD:-build}"
COUNTS=$(mktemp -d)
export COUNTS
coverage=
trap '[ -z "$coverage" ] || kill "$coverage" 2>/dev/null; rm -rf "$COUNTS"' EXIT

# Every line and branch of core/ is walked by a test: it takes what the others leave, behind all that is measured.
nice -n 15 tests/one.sh tests/coverage.sh &
coverage=$!

lanes=$(nproc)
[ "$lanes" -le 2 ] || lanes=2
expected=1
set --
for source in tests/web/*.test.mjs tests/faults/*.test.mjs tests/daemon/*.test.mjs tests/published/*.test.mjs \
    tests/daemon/test_*.c tests/core/test_*.c tests/published/test_*.c tests/faults/test_*.c; do
    [ -f "$source" ] || continue
    set -- "$@" "$source"
    expected=$((expected + 1))
done
printf '%s\n' "$@" | xargs -n 1 -P "$lanes" tests/one.sh
wait "$coverage"
coverage=

passed=0 failed=0 ran=0
for counted in "$COUNTS"/*; do
    read -r ok bad <"$counted"
    passed=$((passed + ok)) failed=$((failed + bad)) ran=$((ran + 1))
done
if [ "$ran" -ne "$expected" ]; then
    echo "$ran of $expected tests were run to their end" >&2
    failed=$((failed + 1))
fi
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
