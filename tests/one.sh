#!/bin/sh
# Runs one test, a C program's source or a JavaScript file, prints what it measured and, when it fails, all it said.
# Leaves "passed failed" in the folder $COUNTS. Always exits 0: who reads the counts judges.
set -u
source=$1
log=$(mktemp) out=$(mktemp)
trap 'rm -f "$log" "$out"' EXIT

count() { grep -c "$1" "$log"; }

case $source in
*.mjs)
    node --test --test-reporter=tap "$source" >"$log" 2>&1
    status=$?
    ok=$(sed -n 's/^# pass \([0-9]*\)$/\1/p' "$log") bad=$(sed -n 's/^# fail \([0-9]*\)$/\1/p' "$log")
    ok=${ok:-0} bad=${bad:-0} figures='^# measured'
    ;;
*.c)
    "$BUILD/${source%.c}" >"$log" 2>&1
    status=$?
    ok=$(count '^\[       OK \]') bad=$(grep '^\[  FAILED  \] [A-Za-z_0-9]*$' "$log" | sort -u | wc -l) figures='^#'
    ;;
*)
    "$source" >"$log" 2>&1
    status=$?
    [ "$status" -eq 0 ] && ok=1 bad=0 || { ok=0 bad=1; }
    figures='^#'
    ;;
esac
# A program that dies fails at least once, whatever it printed before; one that ran no test fails too.
if [ "$status" -ne 0 ] && [ "$bad" -eq 0 ]; then bad=1; fi
if [ "$status" -eq 0 ] && [ "$ok" -eq 0 ]; then bad=1; echo "no test ran" >>"$log"; fi
echo "$ok $bad" >"$COUNTS/$(echo "$source" | tr / .)"

# In one piece, since another test may be printing.
{
    printf '%-60s %4d passed %4d failed\n' "$source" "$ok" "$bad"
    if [ "$bad" -eq 0 ]; then grep "$figures" "$log"; else cat "$log"; fi
} >"$out"
cat "$out"
exit 0
