#!/bin/sh
# Pages of every kind, of invented records and of the program's own, in a headless browser: see browser/pages.mjs.
set -u
here=$(cd "$(dirname "$0")" && pwd)
failed=0
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
. "$here/whole.sh"
skip() {
    echo "skip browser: $1"
    exit $failed
}

# What two plans measure, and a field; each plan twice, by different grabbers, for the page of a console's history.
mkdir pages
set -- pages
noises="40 30"
[ "${SANITIZE:-no}" = no ] || noises=30
for plan in moments colours; do
    for noise in $noises; do
        "$BUILD_DIR/slotjig" run --plan $plan --impair noise=$noise --impair chroma-noise=$noise --fault delay=COLUPF:$((noise / 10)) \
            --out $plan --quiet --console measured --store measured.sqlite ||
            { echo "not ok run of plan $plan: $?"; exit 1; }
    done
    set -- "$@" $plan/result.json $plan/field.png
done
"$BUILD_DIR/slotjig" report --store measured.sqlite --console measured --quiet --html pages/measured-console.html \
    --jsonl pages/measured-console.jsonl || { echo "not ok report of what was measured: $?"; exit 1; }
"$BUILD_DIR/tests/pages/make/make" "$@" || { echo "not ok pages are made: $?"; exit 1; }
echo "ok pages are made"
whole

[ "${SANITIZE:-no}" = no ] || skip "a browser is slow beside sanitizers; that the pages are made is tested"
command -v node >/dev/null 2>&1 || skip "node is not installed"
[ ! -e "$BUILD_DIR/watch/why" ] || skip "$(cat "$BUILD_DIR/watch/why")"
chromium=$(command -v chromium || command -v chromium-browser) || skip "chromium is not installed"
export chromium
node "$here/browser/pages.mjs" pages && [ $failed = 0 ]
