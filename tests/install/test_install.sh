#!/bin/bash
# `make install` puts everything where it belongs, and the installed program finds its video module there.
# BUILD_DIR, CC and SANITIZE come from `make check`; the build is up to date then.
set -u
root=$(cd "$(dirname "$0")/../.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
unset MAKEFLAGS MAKELEVEL MFLAGS SLOTJIG_VIDEO_MODULE
status=0

check() { # NAME COMMAND...
    local name=$1
    shift
    if "$@" >"$work/said" 2>&1; then
        echo "ok $name"
    else
        echo "not ok $name: $* (status $?)"
        cat "$work/said"
        status=1
    fi
}

install_to() { # PREFIX
    make -C "$root" BUILD="${BUILD_DIR:-$root/build}" CC="${CC:-gcc}" SANITIZE="${SANITIZE:-no}" \
        install PREFIX="$1" DESTDIR="$work/dest"
}

check "installs" install_to /opt/jig
prefix=$work/dest/opt/jig
expected="bin/slotjig
lib/slotjig/slotjig-page.so
lib/slotjig/slotjig-video.so
lib/udev/rules.d/60-slotjig.rules
share/doc/slotjig/LICENSE
share/doc/slotjig/README.md"
found=$(cd "$prefix" && find . -type f | sed 's/^\.\///' | LC_ALL=C sort)
if [ "$found" = "$expected" ] && [ "$(find "$work/dest" -type f | wc -l)" = 6 ]; then
    echo "ok exactly these files"
else
    echo "not ok exactly these files; found: $found"
    status=1
fi

check "the rules can go elsewhere" make -C "$root" BUILD="${BUILD_DIR:-$root/build}" CC="${CC:-gcc}" \
    SANITIZE="${SANITIZE:-no}" install PREFIX=/opt/jig DESTDIR="$work/other" UDEVDIR=/etc/udev/rules.d
check "and are there" test -s "$work/other/etc/udev/rules.d/60-slotjig.rules" \
    -a ! -e "$work/other/opt/jig/lib/udev"

check "--version runs" "$prefix/bin/slotjig" --version
if grep -q -E '[0-9]+\.[0-9]+\.[0-9]+' "$work/said"; then
    echo "ok --version names a version"
else
    echo "not ok --version names a version: $(cat "$work/said")"
    status=1
fi

# Recording needs the module, which lies in lib/ now. Away from the sources, so that nothing else can be found.
cd "$work" || exit 1
check "the installed program finds its video module" \
    "$prefix/bin/slotjig" grab --bench virtual --plan bits -o "$work/video.mkv"
check "what it recorded is there" test -s "$work/video.mkv"
check "and can be judged" "$prefix/bin/slotjig" judge --plan bits --json "$work/judged.json" "$work/video.mkv"
exit $status
