#!/bin/bash
# Installs the package of `make deb` in a chroot made by debootstrap, uses it, upgrades it and purges it:
#
#   check_package.sh CHROOT [BUILD]
#
# Needs root. The chroot stays as it is: all is done over it, in a mount namespace of its own. apt-get of the chroot has
# to reach its packages.
set -euo pipefail
chroot=$(realpath "$1") build=$(realpath "${2:-build}")
here=$(realpath "$(dirname "$0")/../..")

if [ -z "${IN_NAMESPACE:-}" ]; then
    exec env IN_NAMESPACE=1 unshare --mount --pid --fork "$0" "$chroot" "$build"
fi

over=$(mktemp -d)
mount -t tmpfs none "$over"
mkdir "$over/up" "$over/work" "$over/root"
mount -t overlay overlay -o "lowerdir=$chroot,upperdir=$over/up,workdir=$over/work" "$over/root"
root=$over/root
mount -t proc proc "$root/proc"
mkdir -p "$root/package" "$root/demo"
cp "$build"/deb/waterturn_*.deb "$root/package/"
cp -r "$here/fixtures/demo/." "$root/demo/"
# As in any container: services are not started while packages are configured.
printf '#!/bin/sh\nexit 101\n' >"$root/usr/sbin/policy-rc.d"
chmod +x "$root/usr/sbin/policy-rc.d"

inside() { chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LANG=C.UTF-8 DEBIAN_FRONTEND=noninteractive "$@"; }
as_user() { inside setpriv --reuid=waterturn --regid=waterturn --clear-groups env HOME=/var/lib/waterturn WATERTURN_DB=/var/lib/waterturn/farm.db "$@"; }
step() { echo "check_package.sh: $1"; }
fail() {
    echo "check_package.sh: FAILED: $1" >&2
    exit 1
}

step "install"
inside sh -c 'apt-get -qq update || true; apt-get -qq -y --no-install-recommends install /package/*.deb' >"$over/log" 2>&1 || {
    tail -n 30 "$over/log"
    fail "install"
}
inside waterturn --version
[ "$(inside stat -c '%U %a' /var/lib/waterturn)" = "waterturn 700" ] || fail "the directory's owner and mode"
[ "$(inside stat -c '%U %a' /etc/waterturn/credentials.json)" = "root 600" ] || fail "the credentials' owner and mode"
inside test -f /lib/systemd/system/waterturn.service || fail "the unit"
inside test -f /usr/share/man/man1/waterturn.1.gz || fail "the manual"
# bash-completion finds it by the name of the command.
inside bash -c '. /usr/share/bash-completion/completions/waterturn; COMP_WORDS=(waterturn ba) COMP_CWORD=1; _waterturn; [ "${COMPREPLY[*]}" = backup ]' || fail "completion"

step "use, as the unit's user"
inside sed -i "s#http://127.0.0.1:0/#file:/demo/weather/#" /demo/farm.json
as_user waterturn import /demo/farm.json >/dev/null
as_user waterturn morning --today 2026-07-14 >/dev/null
as_user waterturn call --today 2026-07-14 | head -n 3
as_user waterturn pair --role manager Ana --no-picture --config /etc/waterturn/daemon.json >/dev/null
as_user sh -c 'waterturn serve --config /etc/waterturn/daemon.json --listen 127.0.0.1:0 --today 2026-07-14 >/tmp/serve.log 2>&1 & echo $! >/tmp/serve.pid'
for _ in $(seq 50); do
    port=$(sed -n 's#.*http://127.0.0.1:\([0-9]*\)/.*#\1#p' "$root/tmp/serve.log")
    [ -z "$port" ] || break
    sleep 0.1
done
exec 3<>"/dev/tcp/127.0.0.1/$port" || fail "the page"
printf 'GET /healthz HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n' >&3
grep -q '^ok' <&3 || fail "the page"
exec 3>&-
inside kill "$(cat "$root/tmp/serve.pid")"

step "upgrade, with a copy of the database"
version=$(dpkg-deb -f "$build"/deb/waterturn_*.deb Version)
mkdir "$over/next"
dpkg-deb -R "$build"/deb/waterturn_*.deb "$over/next"
sed -i "s/^Version: .*/Version: $version.1/" "$over/next/DEBIAN/control"
dpkg-deb --root-owner-group -b "$over/next" "$root/package/next.deb" >/dev/null
echo '{"log": "info"}' >"$root/etc/waterturn/daemon.json"
inside dpkg -i --force-confold /package/next.deb >"$over/log" 2>&1 || {
    cat "$over/log"
    fail "upgrade"
}
[ "$(inside stat -c '%U %a' "/var/lib/waterturn/backup/before-upgrade-from-$version.db")" = "waterturn 600" ] || fail "the copy before the upgrade"
grep -q info "$root/etc/waterturn/daemon.json" || fail "settings that were changed stay"
as_user waterturn call --today 2026-07-14 >/dev/null || fail "the database after the upgrade"

step "remove and purge"
inside dpkg -r waterturn >/dev/null 2>&1
inside test -f /var/lib/waterturn/farm.db || fail "removing keeps the database"
inside dpkg -P waterturn >/dev/null 2>&1
left=$(inside find / -xdev \( -path /proc -o -path /package -o -path /demo -o -path /src -o -path /usr/share/doc \) -prune -o -name '*waterturn*' -print | grep -v '^/var/cache/apt' || true)
[ -z "$left" ] || fail "left after purge: $left"
! inside getent passwd waterturn >/dev/null || fail "the user is left"
step "done"
