#!/bin/sh
# Installs what this machine lacks: `setup.sh build` for the program and the demo, `setup.sh check` for the tests too,
# `setup.sh bench` for `make bench`, `setup.sh deb` for the Debian package.
# Says what it installs and why, touches nothing when all is there, and needs root or sudo only when something is not.
set -eu
cd "$(dirname "$0")/../.."

# package | command that stands in for it when already on PATH ("-": none) | why
BUILD_PACKAGES='
gcc|gcc|compiles the program
libc6-dev|-|the C library to compile against
make|make|runs the build
pkg-config|pkg-config|finds the libraries
ca-certificates|-|checks the servers of https downloads
libcurl4-openssl-dev|-|downloads weather
libcjson-dev|-|reads and writes JSON
libsqlite3-dev|-|keeps the database
libmicrohttpd-dev|-|serves the pages
zlib1g-dev|-|packs the pages for slow lines
libcsv-dev|-|reads delimited weather files
libglpk-dev|-|plans shared supplies
libsodium-dev|-|makes and compares access tokens
libqrencode-dev|-|draws the pairing code
'
CHECK_PACKAGES='
libcmocka-dev|-|runs the C tests
chromium|chromium|opens the pages as a browser does
r-base-core|Rscript|judges trials beside the program
r-cran-mass|-|has the split plot that R judges
openssl|openssl|makes a certificate for the test of TLS
mandoc|mandoc|checks the manual pages
'
BENCH_PACKAGES='
python3-numpy|-|computes ET0 by vectors, for ours to be held against
gnumeric|ssconvert|recalculates a season as a spreadsheet
binutils|strip|strips the program whose size is told
'
DEB_PACKAGES='
debhelper|-|makes the Debian package
dpkg-dev|-|makes the Debian package
lintian|lintian|judges it
'
# Debian's own, unless a newer Node.js with npm is on PATH.
NODE_PACKAGES='
nodejs|-|runs the JavaScript tests
npm|-|fetches the reference packages of tests/package.json
'
NODE_OLDEST=18

usage() {
    echo "usage: setup.sh build | check | bench | deb" >&2
    exit 2
}

node_is_there() {
    command -v node >/dev/null && command -v npm >/dev/null || return 1
    major=$(node -p 'process.versions.node.split(".")[0]' 2>/dev/null) || return 1
    [ "$major" -ge "$NODE_OLDEST" ]
}

installed() {
    [ "$(dpkg-query -W -f '${db:Status-Status}' "$1" 2>/dev/null)" = installed ]
}

# Prints the lines of the table on stdin whose package is neither installed nor stood in for.
missing() {
    while IFS='|' read -r package command why; do
        [ -n "$package" ] || continue
        [ "$command" != - ] && command -v "$command" >/dev/null && continue
        installed "$package" || echo "$package|$why"
    done
}

names() {
    cut -d'|' -f1 | tr '\n' ' '
}

install_missing() {
    wanted=$(printf '%s\n' "$1" | missing)
    [ -n "$wanted" ] || return 0
    packages=$(printf '%s\n' "$wanted" | names)
    if [ "$(id -u)" -eq 0 ]; then
        as_root=
    elif command -v sudo >/dev/null; then
        as_root=sudo
    else
        echo "setup.sh: these packages are missing, and neither root nor sudo is at hand: $packages" >&2
        echo "setup.sh: as root, run: apt-get update && apt-get install -y --no-install-recommends $packages" >&2
        exit 1
    fi
    echo "Installing from Debian:"
    printf '%s\n' "$wanted" | sed 's/|/: /; s/^/  /'
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300 update ||
        echo "setup.sh: the package lists were not all renewed; going on with those at hand" >&2
    # shellcheck disable=SC2086 # one word for each package
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300 \
        install -y --no-install-recommends $packages || {
        echo "setup.sh: apt-get could not install: $packages" >&2
        exit 1
    }
}

install_reference_packages() {
    made=tests/node_modules/.package-lock.json
    [ -f "$made" ] && [ -z "$(find tests/package-lock.json -newer "$made")" ] && return 0
    echo "Fetching the reference packages of tests/package-lock.json"
    (cd tests && npm ci --ignore-scripts --no-audit --no-fund) || {
        echo "setup.sh: npm ci failed in tests/; the lines above say why" >&2
        exit 1
    }
    touch "$made"
}

# Debian's package of promtool brings a server that starts by itself: only the one program is taken out of it.
fetch_promtool() {
    command -v promtool >/dev/null || [ -x "$tools/promtool" ] && return 0
    echo "Fetching promtool, which checks the metrics, out of Debian's package prometheus (nothing is installed)"
    mkdir -p "$tools/fetch"
    (cd "$tools/fetch" && apt-get -qq download prometheus 2>/dev/null && dpkg-deb --fsys-tarfile prometheus_*.deb | tar -x ./usr/bin/promtool) || {
        echo "setup.sh: apt-get could not download prometheus" >&2
        exit 1
    }
    mv "$tools/fetch/usr/bin/promtool" "$tools/promtool"
    rm -rf "$tools/fetch"
}

tools=${BUILD:-build}/tools
[ $# -eq 1 ] || usage
case $1 in
build) table=$BUILD_PACKAGES ;;
deb) table=$BUILD_PACKAGES$DEB_PACKAGES ;;
check | bench)
    table=$BUILD_PACKAGES$CHECK_PACKAGES
    [ "$1" != bench ] || table=$table$BENCH_PACKAGES
    node_is_there || table=$table$NODE_PACKAGES
    ;;
*) usage ;;
esac

if command -v dpkg-query >/dev/null; then
    install_missing "$table"
else
    echo "setup.sh: not a Debian system; these must be there by its own means: $(printf '%s\n' "$table" | sed '/^$/d' | names)" >&2
fi
case $1 in build | deb) exit 0 ;; esac
install_reference_packages
! command -v dpkg-deb >/dev/null || fetch_promtool
