#!/usr/bin/env bash
# Proves the two promises of the README on a machine that has nothing: makes a bare Debian 12 under
# build/fresh, clones this repository's last commit into it, and runs there `make demo` and then
# `make check`, timing both. Needs root. Where packages come from is taken from this machine's apt.
#
# What it mounts is seen by itself alone and is gone when it ends, and so is every process in it.
set -euo pipefail

if [ "$(id -u)" != 0 ]; then
    echo "fresh-check makes a chroot and so needs root: sudo make fresh-check" >&2
    exit 1
fi
cd "$(dirname "$0")/../.."
if [ -z "${FRESH_ALONE:-}" ]; then
    .ci/need fresh
    FRESH_ALONE=1 exec unshare --mount --pid --fork --kill-child --propagation private \
        bash "$0" "$@"
fi

top=$PWD
mkdir -p "${BUILD:-build}"
root=$(realpath "${BUILD:-build}")/fresh
suite=bookworm

# The mounts are private to this shell, but the folder must never be emptied through them.
unmount() {
    cd /
    for place in dev/pts dev/shm dev proc sys; do
        if mountpoint -q "$root/$place"; then umount "$root/$place"; fi
    done
}
trap unmount EXIT
unmount
cd "$top"
rm -rf --one-file-system "$root"
mkdir -p "$root"

sources=$(apt-get indextargets --format '$(REPO_URI) $(CODENAME) $(COMPONENT)')
mirror=$(awk -v suite=$suite '$2 == suite && $3 == "main" { print $1; exit }' <<<"$sources")
if [ -z "$mirror" ]; then
    echo "This machine's apt names no source for $suite; add one, then apt-get update." >&2
    exit 1
fi
proxy=$(apt-config shell p Acquire::http::Proxy | sed "s/^p='\(.*\)'$/\1/")
if [ -n "$proxy" ] && [ "$proxy" != DIRECT ]; then export http_proxy=$proxy; fi

echo "making a bare Debian ($suite) with make and git in it"
began=$SECONDS
if ! debootstrap --variant=minbase --include=make,git "$suite" "$root" "$mirror" \
    >"$root.log" 2>&1; then
    tail -n 20 "$root.log" >&2
    exit 1
fi
echo "  $((SECONDS - began)) s"

# The same sources, proxies and keys as here.
rm -f "$root/etc/apt/sources.list"
for place in sources.list sources.list.d auth.conf.d trusted.gpg.d keyrings; do
    if [ -e "/etc/apt/$place" ]; then cp -a "/etc/apt/$place" "$root/etc/apt/"; fi
done
apt-config dump | grep -E '^Acquire::(http|https|ftp)::(Proxy|Verify|CaInfo|CAInfo)' \
    >"$root/etc/apt/apt.conf.d/90of-the-host" || true
mkdir -p "$root/usr/share/keyrings"
cp -a /usr/share/keyrings/. "$root/usr/share/keyrings/"
cp /etc/resolv.conf /etc/hosts "$root/etc/"

mount -t proc proc "$root/proc"
mount -t sysfs -o ro sysfs "$root/sys"
mount -t tmpfs -o mode=755 tmpfs "$root/dev"
mkdir "$root/dev/pts" "$root/dev/shm"
mount -t devpts -o newinstance,ptmxmode=0666 devpts "$root/dev/pts"
mount -t tmpfs tmpfs "$root/dev/shm"
for device in null zero full random urandom tty; do
    cp -a "/dev/$device" "$root/dev/"
done
ln -s pts/ptmx "$root/dev/ptmx"
ln -s /proc/self/fd "$root/dev/fd"
ln -s fd/0 "$root/dev/stdin"
ln -s fd/1 "$root/dev/stdout"
ln -s fd/2 "$root/dev/stderr"

git -c safe.directory='*' clone -q "$top" "$root/srv/markerbed"
if [ -n "$(git -c safe.directory='*' status --porcelain)" ]; then
    echo "note: what is not committed is not in the clone that is checked"
fi

# Only what a login there would have; in particular nothing that this machine's PATH brings.
inside() {
    chroot "$root" /usr/bin/env -i HOME=/root PATH=/usr/sbin:/usr/bin:/sbin:/bin CI=true \
        bash -c "cd /srv/markerbed && $1" </dev/null
}
status=0
for target in ${*:-demo check}; do
    echo "make $target, in the bare Debian"
    began=$SECONDS
    inside "make $target" || status=$?
    took+=("make $target: $((SECONDS - began)) s, exit $status")
    [ "$status" = 0 ] || break
done
printf '%s\n' "${took[@]}"
exit "$status"
