#!/usr/bin/env bash
# The whole path on the invented farm of fixtures/demo: weather from a file server on this machine, the farm file into
# a fresh database, one morning, the calls; then the pages, until Ctrl-C. ONCE=1 stops after the calls.
# BUILD names the build folder; everything it makes is in $BUILD/demo, or in the folder that MADE names.
set -euo pipefail
cd "$(dirname "$0")/../.."

build=${BUILD:-build}
once=${ONCE:-}
today=2026-07-14
made=${MADE:-$build/demo}
farm=$made/farm.json
db=$made/farm.db
pages_pid=

fail() {
    echo "demo.sh: $1" >&2
    exit 1
}

finish() {
    trap - EXIT INT TERM
    [ -z "$pages_pid" ] || kill "$pages_pid" 2>/dev/null || true
    [ -z "${WEATHER_PID:-}" ] || kill "$WEATHER_PID" 2>/dev/null || true
    wait
}
trap finish EXIT
trap 'exit 0' INT TERM

# The server ends with its input, so it cannot outlive this script.
start_weather() {
    coproc WEATHER { exec "$build/tests/tools/fixture_server" --until-stdin-closes fixtures/demo/weather; }
    IFS= read -r -t 10 weather_address <&"${WEATHER[0]}" || fail "the weather's file server did not start"
    weather_port=${weather_address##*:}
    [[ $weather_port =~ ^[0-9]+$ ]] || fail "the file server said \"$weather_address\", expected its address"
}

say_and_run() {
    printf '\n$ waterturn %s\n' "$*"
    "$build/waterturn" "$@"
}

# True when nothing answers there.
port_is_free() {
    ! (exec 3<>"/dev/tcp/127.0.0.1/$1") 2>/dev/null
}

show_pages() {
    local port
    for port in 8470 8471 8472 8473 8474 0; do
        [ "$port" != 0 ] || break
        ! port_is_free "$port" || break
    done
    if [ "$port" = 0 ]; then
        printf '\nThe pages are at the address that the next line names. Ctrl-C ends the demo.\n'
    else
        printf '\nThe pages are at http://127.0.0.1:%s/ (Ctrl-C ends the demo)\n' "$port"
    fi
    printf '\n$ waterturn serve --db %s --listen 127.0.0.1:%s --today %s\n' "$db" "$port" "$today"
    "$build/waterturn" serve --db "$db" --listen "127.0.0.1:$port" --today "$today" &
    pages_pid=$!
    wait "$pages_pid"
}

mkdir -p "$made"
rm -f "$db" "$db-wal" "$db-shm"
start_weather
sed "s#http://127.0.0.1:0/#http://127.0.0.1:$weather_port/#" fixtures/demo/farm.json >"$farm"

say_and_run import "$farm" --db "$db"
say_and_run morning --db "$db" --today "$today"
say_and_run call --db "$db" --today "$today"
[ "$once" = 1 ] || show_pages
