#!/bin/sh
# What is said of a plan on the command line: options of another plan, names misspelt, files that are none, pace.
. "$SOURCE_DIR/tests/commands/calls.sh"

printf '%s\n' '####................................####' >row.txt

for plan in bits moments colours drawing:row.txt; do
    refused "--lines with $plan" 2 'only plan every' "$slotjig" plan --plan "$plan" --lines 2
done
for plan in bits moments colours every; do
    refused "--windows with $plan" 2 'only a drawing' "$slotjig" plan --plan "$plan" --windows none.json
done
refused "windows that are not there" 2 'none.json: No such file' "$slotjig" plan --plan drawing row.txt --windows none.json
verify "and no line of them" sh -c '! grep -q "line -1" err.txt'

refused "a name misspelt" 2 'drawing FILE' "$slotjig" run --plan evry
refused "a picture as a plan" 2 'drawing:heart.PNG' "$slotjig" run --plan heart.PNG
refused "too few patterns" 2 'plan every:3: .* even number from 1024' "$slotjig" run --plan every:3
refused "no number of patterns" 2 'plan every:x: ' "$slotjig" run --plan every:x

# One field to settle and two to judge: with fewer no moment would ever have its two good fields.
for hold in 1 2; do
    refused "moments at --hold $hold" 2 'at least 3' "$slotjig" run --plan moments --hold $hold
done
ends "the least hold of moments" 0 "$slotjig" plan --plan moments --flashes
says "is what calm shows" 'from --hold 3 on'

ends "a short plan every" 0 "$slotjig" run --bench virtual --plan every:1024
says "at full speed" 'new pictures in every field'
ends "and held" 0 "$slotjig" run --bench virtual --plan every:1024 --hold 3
says "says so" 'new pictures every 3 fields'

exit $failed
