#!/bin/bash
# The program itself killed while it runs and records, its store read by sqlite3(1): runs that ended with status 0 are
# in it, there are never more than were begun, and it is whole. SLOTJIG_SEED: the moments.
set -u
seed=${SLOTJIG_SEED:-1}
kills=16
[ -n "${SLOTJIG_TEST_SMALL:-}" ] && kills=4
if ! command -v sqlite3 >/dev/null; then
    echo "skip killed while recording: sqlite3 is not installed"
    exit 77
fi
folder=$(mktemp -d "${TMPDIR:-/tmp}/slotjig-kill.XXXXXX")
trap 'rm -rf "$folder"' EXIT
store=$folder/records.sqlite
run=("$BUILD_DIR/slotjig" run --bench virtual --plan bits --quiet --store "$store")
failed=0

# How long one takes here; it makes the store.
start=$(date +%s%N)
"${run[@]}" || { echo "not ok a run is recorded"; exit 1; }
whole=$((($(date +%s%N) - start) / 1000))
kept=1

for ((i = 0; i < kills; i++)); do
    pause=$(awk -v seed="$((seed + i))" -v most="$whole" 'BEGIN { srand(seed); printf "%.6f", rand() * most * 1.2 / 1e6 }')
    "${run[@]}" &
    process=$!
    sleep "$pause"
    kill -KILL $process 2>/dev/null
    wait $process 2>/dev/null
    status=$?
    [ $status = 0 ] && kept=$((kept + 1))
    found=$(sqlite3 "$store" 'SELECT count(*) FROM runs') || found=none
    check=$(sqlite3 "$store" 'PRAGMA integrity_check; PRAGMA foreign_key_check')
    steps=$(sqlite3 "$store" 'SELECT count(*) FROM runs WHERE id NOT IN (SELECT run FROM steps)')
    if [ "$found" = none ] || [ "$found" -lt $kept ] || [ "$found" -gt $((kept + 1)) ] || [ "$check" != ok ] ||
        [ "$steps" != 0 ]; then
        echo "seed $((seed + i)): killed after $pause s, status $status: $found runs, $kept were acknowledged, $steps without steps, $check"
        failed=1
    fi
    kept=$found
done 2>/dev/null
echo "$kills kills, seeds from $seed, $kept runs kept"
if [ $failed != 0 ]; then
    echo "not ok killed while recording"
    exit 1
fi
echo "ok killed while recording"
