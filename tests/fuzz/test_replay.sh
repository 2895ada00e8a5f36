#!/bin/sh
# Replays the kept corpus of every fuzz target.
set -u
failed=0
for source in "$SOURCE_DIR"/tests/fuzz/fuzz_*.c; do
    name=$(basename "$source" .c)
    name=${name#fuzz_}
    log=${TMPDIR:-/tmp}/replay_$name.log
    if "$BUILD_DIR/tests/fuzz/replay_$name" "$SOURCE_DIR/tests/fuzz/corpus/$name" >"$log" 2>&1; then
        echo "ok replay of $name: $(tail -n 1 "$log")"
    else
        echo "not ok replay of $name"
        tail -n 40 "$log"
        failed=1
    fi
done
exit $failed
