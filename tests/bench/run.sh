#!/bin/sh
# Runs every bench program; each prints what it measured as lines that begin with "# measured", and fails when it
# misses what it has to keep.
set -u
build=${BUILD:-build}
missed=0

for source in tests/bench/bench_*.c; do
    [ -f "$source" ] || continue
    echo "$source"
    BUILD=$build "$build/${source%.c}" || { missed=$((missed + 1)); echo "$source: missed its bound, or failed"; }
done

for source in tests/bench/*.mjs; do
    [ -f "$source" ] || continue
    echo "$source"
    BUILD=$build node "$source" || { missed=$((missed + 1)); echo "$source: missed its bound, or failed"; }
done

[ "$missed" -eq 0 ]
