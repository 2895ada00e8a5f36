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

refused "plan every by eye" 2 'no steps to look at' "$slotjig" run --by-eye --plan every
call sh -c "echo y | '$slotjig' run --by-eye --plan drawing row.txt"
says "a drawing by eye: its row" '  ####................|................####  from line 83'
says "the dark below" '  ....................|....................  from line 84'
says "and the image by its own plan" 'rom --plan drawing:row.txt --hold 300'

# The plan file of the manual.
awk '/^\[plan\]/ { inside = 1 } inside && /^```/ { exit } inside' "$SOURCE_DIR/README.md" >manual.ini
ends "README's plan file" 0 "$slotjig" run --bench virtual --plan manual.ini
says "has five steps" '5 of 5 steps pass'

# What is owed: the kinds of which there are some. 16384 patterns take 98 fields.
ends "a recording that stops early" 0 "$slotjig" grab --bench virtual --plan every:16384 --fields 40 -o early.mkv
call "$slotjig" judge early.mkv
says "tells what was never shown" 'Of 16384 pictures [1-9][0-9]* were never shown'
verify "and not that none was unclear" sh -c '! grep -q " 0 were" out.txt'

# Ctrl-C while all is well: the console and the capture are not to blame.
for plan in bits moments; do
    call timeout -s INT 2 "$slotjig" run --bench virtual --plan $plan --hold 4000
    says "$plan cut short" inconclusive
    verify "and nothing was lost" sh -c '! grep -q capture_lost out.txt'
done

# A picture that stands still is not watched for four rounds of 12,484 fields: 7,200 are two minutes.
ends "frozen video, plan every" 4 "$slotjig" run --bench virtual --plan every --fault frozen=60 --json frozen.json
verify "is given up in time" sh -c '[ "$(sed -n "/\"fields\"/,/}/s/.*\"seen\": \([0-9]*\).*/\1/p" frozen.json | head -1)" -lt 7500 ]'
says "and named" 'frozen_video'

# Pictures of steps. A PNG's height: bytes 20 to 23, most significant first [W3C PNG, IHDR].
height() { od -An -tu1 -j20 -N4 "$1" | awk '{ print (($1 * 256 + $2) * 256 + $3) * 256 + $4 }'; }
ends "a plan that counts" 0 "$slotjig" run --bench virtual --plan every:1024 --out counted
verify "leaves a field and no picture of steps" sh -c 'test -s counted/field.png && ! test -e counted/steps.png'
ends "a drawing with a wrong cell" 1 "$slotjig" run --bench virtual --plan drawing row.txt --fault bit-low=PF0.4 --out drawn
verify "is drawn line by line" test "$(height drawn/steps.png)" -gt 168
ends "what must light in it" 0 "$slotjig" expect --plan drawing row.txt --png cells.png
verify "too" test "$(height cells.png)" -gt 168
ends "a plan of rows" 0 "$slotjig" expect --plan small.ini --png cells.png
verify "has 20 lines for each of three steps" test "$(height cells.png)" = 70

exit $failed
