#!/bin/sh
# The tests of every transport (tests/link/transports.h), for USB: its row needs umockdev's library loaded before all
# others, which the other rows do not go well with.
set -u
program=${BUILD_DIR:-build}/tests/link/test_transports
command -v umockdev-wrapper >/dev/null 2>&1 || {
    echo "skip usb rows: umockdev-wrapper is not installed (Debian package umockdev)"
    exit 77
}
# The preloaded library comes before the sanitizer's.
ASAN_OPTIONS=${ASAN_OPTIONS:+$ASAN_OPTIONS:}verify_asan_link_order=0
export ASAN_OPTIONS
log=${TMPDIR:-/tmp}/rows.$$
SLOTJIG_TEST_ROW=usb umockdev-wrapper "$program" >"$log" 2>&1
status=$?
if grep -q 'skipped over usb' "$log"; then
    sed -n 's/.*skipped over/skip/p' "$log" | sort -u
    status=77
else
    [ $status = 0 ] || cat "$log"
    sed -n 's/^\[       OK \] over_all/ok usb/p; s/^\[  FAILED  \] over_all/not ok usb/p' "$log" | sort -u
fi
rm -f "$log"
exit $status
