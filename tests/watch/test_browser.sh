#!/bin/sh
# The page of `watch` in a headless browser: see browser/page.mjs.
set -u
here=$(cd "$(dirname "$0")" && pwd)
skip() {
    echo "skip browser: $1"
    exit 77
}
[ "${SANITIZE:-no}" = no ] || skip "a browser is slow beside sanitizers; test_page.c covers the server there"
command -v node >/dev/null 2>&1 || skip "node is not installed"
[ ! -e "$BUILD_DIR/watch/why" ] || skip "$(cat "$BUILD_DIR/watch/why")"
chromium=$(command -v chromium || command -v chromium-browser) || skip "chromium is not installed"
export chromium
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
node "$here/browser/page.mjs"
