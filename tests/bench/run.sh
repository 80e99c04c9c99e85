#!/bin/sh
# Runs every bench program, then prints one table. A program prints "# row | work | figure | held against | ratio |
# goal | met" for each row of it, other figures as lines that begin with "# measured", and ends with a status other
# than 0 when it misses a goal; those without rows get one from their status. Exit status 1 when a goal is missed.
# ONLY="bench_core bench_page" runs these alone.
set -u
build=${BUILD:-build}
only=${ONLY:-}
rows=$(mktemp)
trap 'rm -f "$rows"' EXIT
missed=0

machine() {
    model=$(sed -n 's/^model name[[:space:]]*: //p' /proc/cpuinfo | head -n 1)
    memory=$(awk '/^MemTotal/ { printf "%.0f GB", $2 / 1048576 }' /proc/meminfo)
    echo "$(nproc) x $model, $memory, Linux $(uname -r), $("${CC:-gcc}" --version | head -n 1), $(date -u +%F)"
}

run() {
    name=$(basename "$1" | sed 's/\.[^.]*$//')
    case " $only " in "  " | *" $name "*) ;; *) return ;; esac
    echo "$1"
    shift
    output=$(BUILD=$build "$@")
    status=$?
    printf '%s\n' "$output" | grep -v '^# row ' || true
    if printf '%s\n' "$output" | grep -q '^# row '; then
        printf '%s\n' "$output" | sed -n 's/^# row | //p' >>"$rows"
    else
        verdict=met
        [ "$status" -eq 0 ] || verdict="NOT MET"
        echo "$name | see its lines above | its own bound | - | within its bound | $verdict" >>"$rows"
    fi
    [ "$status" -eq 0 ] || missed=$((missed + 1))
}

for source in tests/bench/bench_*.c; do
    run "$source" "$build/${source%.c}"
done
for source in tests/bench/*.mjs; do
    run "$source" node "$source"
done

printf '\n%s\n\n' "$(machine)"
{
    echo "work | figure | held against, in the same run | ratio | goal | met or not"
    echo "--- | --- | --- | --- | --- | ---"
    cat "$rows"
} | sed 's/^/| /; s/$/ |/'
[ "$missed" -eq 0 ]
