#!/bin/sh
# Fuzzes the readers with libFuzzer: tests/fuzz/run.sh [SECONDS for each target]. The seeds are drawn from fixtures/.
# Needs clang. What it finds is left in $BUILD/fuzz/NAME.found.
set -eu
command -v clang >/dev/null || { echo "needs clang: apt-get install clang" >&2; exit 1; }
seconds=${1:-20}
build=${BUILD:-build}/fuzz
mkdir -p "$build"
flags="-std=c11 -g -O1 -D_GNU_SOURCE -I. -Itests -fsanitize=fuzzer,address,undefined -fno-sanitize-recover=undefined"
libraries="$(pkg-config --cflags --libs libcjson zlib) $(pkg-config --cflags libcurl) -lcsv -lpthread -lm"
make -s BUILD="${BUILD:-build}" "${BUILD:-build}/gen/assets.c"

# A byte that chooses the layout goes before each file; all values of it are tried for each.
seed() {
    kind=$1 count=$2
    shift 2
    mkdir -p "$build/$kind.seeds"
    for file in "$@"; do
        i=0
        while [ "$i" -lt "$count" ]; do
            { printf "\\$(printf %03o "$i")"; cat "$file"; } >"$build/$kind.seeds/$(basename "$file").$i"
            i=$((i + 1))
        done
    done
}
seed delimited 6 fixtures/layouts/*.csv fixtures/weather/hostile/*.csv
seed columns 3 fixtures/layouts/*.txt fixtures/layouts/*.dly
seed json_days 4 fixtures/layouts/[mnou]*.json fixtures/weather/hostile/*.json
mkdir -p "$build/layout.seeds"
for file in config/layouts/*.json; do
    name=$(basename "$file" .json)
    { cat "$file"; printf '\n====\n'; cat fixtures/layouts/"$name".*; } >"$build/layout.seeds/$name"
done

status=0
for target in delimited columns json_days layout; do
    # shellcheck disable=SC2086
    clang $flags -o "$build/$target" "tests/fuzz/fuzz_$target.c" tests/support/reader_check.c daemon/source/*.c daemon/base/*.c \
        core/base/*.c core/weather/*.c "${BUILD:-build}/gen/assets.c" $libraries
    mkdir -p "$build/$target.corpus"
    echo "== $target, $seconds s"
    "$build/$target" -max_total_time="$seconds" -timeout=10 -rss_limit_mb=2048 -max_len=65536 -verbosity=0 -print_final_stats=1 -print_funcs=0 \
        -artifact_prefix="$build/$target.found." "$build/$target.corpus" "$build/$target.seeds" || status=1
done
exit "$status"
