#!/bin/sh
# Builds core/ with gcov, runs the tests of core/ and the published values, and names every file of core/ of which a line
# or a branch was not taken. What stands in headers is in every object that uses it, and counts when it was taken in one
# of them. Exit status 1 when there is one.
set -u
BUILD=${BUILD:-build}
build=$BUILD/coverage
make --no-print-directory tests-core BUILD="$build" CFLAGS='-O0 -g --coverage' LDFLAGS=--coverage >/dev/null || exit 1
find "$build" -name '*.gcda' -delete
export TURNS_INSTANCES=1000
for source in tests/core/test_*.c tests/published/test_*.c; do
    # The symbols of an instrumented build are not those of the program.
    [ "$source" = tests/core/test_symbols.c ] || BUILD=$BUILD "$build/${source%.c}" >/dev/null 2>&1 || {
        echo "$source failed in $build" >&2
        exit 1
    }
done
scratch=$(mktemp -d)
ln -s "$PWD/core" "$PWD/tests" "$scratch"
trap 'rm -rf "$scratch"' EXIT
top=$PWD bad=0 files=0
for source in core/*/*.c; do
    files=$((files + 1))
    (cd "$scratch" && gcov -b -r -s "$top" -o "$top/$build/${source%.c}.gcda" "$top/$source" 2>/dev/null) |
        awk -v name="$source" '
            /^File/ { here = index($0, name) }
            here && /^Lines executed/ { lines = $0 }
            here && /^Taken at least once/ { taken = $0 }
            here && /^No branches/ { taken = "100.00%" }
            END { if (lines !~ /100.00%/ || taken !~ /100.00%/) { print "# measured " name ": " lines "; " taken; exit 1 } }' ||
        bad=$((bad + 1))
done
for source in core/*/*.c tests/core/test_*.c tests/published/test_*.c; do
    (cd "$scratch" && rm -f ./*.gcov && gcov -b -r -s "$top" -o "$top/$build/${source%.c}.gcda" "$top/$source" >/dev/null 2>&1
        cat ./*.h.gcov 2>/dev/null)
done | awk '
    /:Source:/ { header = $0; sub(/.*:Source:/, "", header); if (header !~ /^core\//) header = "" }
    header == "" || /^function / { next }
    /^branch / { part = header ":" line ": branch " $2; if (/taken/ && !/taken 0%/) took[part] = 1; else seen[part] = 1; next }
    /^ *[#=0-9]+\*?: *[1-9]/ { split($0, field, ":"); line = field[2] + 0; part = header ":" line; if (/^ *[#=]/) seen[part] = 1; else took[part] = 1 }
    END { for (part in took) all++; for (part in seen) if (!(part in took)) { print "# measured " part " of a header not taken"; missed++ }
          print "# measured " all + 0 " lines and branches of headers taken, " missed + 0 " not"; exit missed > 0 || all == 0 }' ||
    bad=$((bad + 1))
echo "# measured $files files of core/ and its headers, $bad of them not wholly covered"
[ "$bad" -eq 0 ] && [ "$files" -gt 0 ]
