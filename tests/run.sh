#!/bin/sh
# Runs every test program and every JavaScript test, prints what failed, and closes with "N passed, N failed".
set -u
export BUILD="${BUILD:-build}"
build=$BUILD
passed=0 failed=0
log=$(mktemp) covered=$(mktemp)
coverage=
trap '[ -z "$coverage" ] || kill "$coverage" 2>/dev/null; rm -f "$log" "$covered"' EXIT

# Every line and branch of core/ is walked by a test: it takes a core of its own, behind all that is measured.
nice -n 15 tests/coverage.sh >"$covered" 2>&1 &
coverage=$!

count() { grep -c "$1" "$log"; }

for source in tests/core/test_*.c tests/published/test_*.c tests/daemon/test_*.c tests/faults/test_*.c; do
    [ -f "$source" ] || continue
    program=$build/${source%.c}
    BUILD=$build "$program" >"$log" 2>&1
    status=$?
    ok=$(count '^\[       OK \]') bad=$(grep '^\[  FAILED  \] [A-Za-z_0-9]*$' "$log" | sort -u | wc -l)
    # A program that dies fails at least once, whatever it printed before.
    if [ "$status" -ne 0 ] && [ "$bad" -eq 0 ]; then bad=1; fi
    if [ "$status" -eq 0 ] && [ "$ok" -eq 0 ]; then bad=1; echo "no test ran" >>"$log"; fi
    passed=$((passed + ok)) failed=$((failed + bad))
    printf '%-60s %4d passed %4d failed\n' "$source" "$ok" "$bad"
    grep '^#' "$log"
    [ "$bad" -eq 0 ] || cat "$log"
done

for source in tests/published/*.test.mjs tests/web/*.test.mjs tests/daemon/*.test.mjs tests/faults/*.test.mjs; do
    [ -f "$source" ] || continue
    BUILD=$build node --test --test-reporter=tap "$source" >"$log" 2>&1
    status=$?
    ok=$(sed -n 's/^# pass \([0-9]*\)$/\1/p' "$log") bad=$(sed -n 's/^# fail \([0-9]*\)$/\1/p' "$log")
    ok=${ok:-0} bad=${bad:-0}
    if [ "$status" -ne 0 ] && [ "$bad" -eq 0 ]; then bad=1; fi
    if [ "$status" -eq 0 ] && [ "$ok" -eq 0 ]; then bad=1; echo "no test ran" >>"$log"; fi
    passed=$((passed + ok)) failed=$((failed + bad))
    printf '%-60s %4d passed %4d failed\n' "$source" "$ok" "$bad"
    grep '^# measured' "$log"
    [ "$bad" -eq 0 ] || cat "$log"
done

if wait "$coverage"; then ok=1 bad=0; else ok=0 bad=1; fi
passed=$((passed + ok)) failed=$((failed + bad))
printf '%-60s %4d passed %4d failed\n' tests/coverage.sh "$ok" "$bad"
cat "$covered"

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
