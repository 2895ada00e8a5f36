#!/bin/bash
# `baseline` and `compare` over records, on the virtual bench: what is new is told with its cells, what only the bench
# can have done is not blamed on the console, and nothing is said that was not seen.
. "$SOURCE_DIR/tests/commands/calls.sh"
export XDG_DATA_HOME=$work/data

seed=0
record() { # COUNT OPTION...
    count=$1
    shift
    for ((i = 0; i < count; i++)); do
        seed=$((seed + 1))
        call "$slotjig" run --plan small.ini --noise 30 --seed $seed --quiet "$@"
    done
}
json_has() { # NAME PATTERN: of the JSON in j.json, its white space squeezed
    if tr -s ' \n' ' ' <j.json | grep -q -- "$2"; then ok "$1"; else not_ok "$1: $2 is not in $(head -c 1500 j.json)"; fi
}

# ---- before there is anything ----
refused "no store" 2 "nothing is recorded" "$slotjig" compare --console one
refused "no store for a baseline" 2 "nothing is recorded" "$slotjig" baseline --console one

# ---- a baseline ----
record 6 --console one
verify "a good console passes" test "$got" = 0
refused "no baseline" 2 "has no baseline" "$slotjig" compare --console one
refused "no such console" 2 "no run of a console of that name" "$slotjig" compare --console two
refused "no baseline of such a console" 2 "no run of a console of that name" "$slotjig" baseline --console two
ends "the latest five" 0 "$slotjig" baseline --console one --json j.json
says "and which" "plan small: 5 runs, 2, 3, 4, 5, 6"
json_has "as JSON" '"runs": \[ 2, 3, 4, 5, 6 \]'
ends "listed" 0 "$slotjig" baseline
says "with its runs" "console one, plan small: made .* of 5 runs 2, 3, 4, 5, 6"
refused "no run since" 2 "no run since its baseline" "$slotjig" compare --console one
ends "an earlier one if asked" 0 "$slotjig" compare --console one --last 1 --json j.json
json_has "is outside of it" '"runs": \[ 1 \]'
says "too few for drifts" "each side needs 3 judged runs"

# ---- nothing new ----
record 4 --console one
ends "nothing is worse" 0 "$slotjig" compare --console one --json j.json
says "in words" "nothing is worse than the baseline"
json_has "the runs since" '"runs": \[ 7, 8, 9, 10 \]'
json_has "tests drifts" '"tested": [1-9]'
json_has "names the tests" '"tests": \[ "Welch", "Student" \], "unit": "run", "correction": "Benjamini and Hochberg"'
ends "on standard output, alone" 0 "$slotjig" compare --console one --json - --quiet
verify "is JSON" node -e 'JSON.parse(require("fs").readFileSync("out.txt", "utf8"))'

# ---- a fault: PF1 D3 is the fifth of PF1's cells from the left, so cells 8 and 28 in copy [H TIA 1A, serial output] ----
record 1 --console one --fault bit-low=PF1.3
verify "it fails" test "$got" = 1
ends "a regression" 1 "$slotjig" compare --console one --json j.json
says "is named" "new  bit_stuck_low PF1 D3 (an alternative): in 0 of 5 before, 1 of 5 now  WORSE"
json_has "the finding" '"change": "new", "step": null, "name": "bit_stuck_low PF1 D3 (an alternative)"'
json_has "the cells" '"cells": \[ 8, 28 \]'
ends "only the plan asked for" 1 "$slotjig" compare --console one --plan small --quiet
verify "quiet says nothing" test ! -s out.txt
refused "of another plan" 2 "has no baseline of plan bits" "$slotjig" compare --console one --plan bits

# ---- the fault in the baseline: gone is no regression ----
ends "a run as baseline" 0 "$slotjig" baseline --console one --run 11
says "that failed" "1 of them failed"
record 1 --console one
ends "what is gone is not worse" 0 "$slotjig" compare --console one
says "and told" "gone bit_stuck_low PF1 D3"
refused "a run that is not there" 2 "9999" "$slotjig" baseline --console one --run 9999
refused "a run of another console" 2 "of console one, not of two" "$slotjig" baseline --console two --run 11

# ---- no video is a doubt, not a fault ----
ends "good runs as baseline" 0 "$slotjig" baseline --console one --until 9999-01-01 --last 3
record 1 --console one --fault no-video
verify "no picture is inconclusive" test "$got" = 4
record 3 --console one
ends "not known" 4 "$slotjig" compare --console one
says "since runs could not be judged" "beside 1 that could not be judged"

# ---- margins under other noise are the bench's ----
record 1 --console one --fault no-video
refused "no baseline of a run without video" 2 "needs a pass or a fail" "$slotjig" baseline --console one --run 17
ends "a baseline of the latest" 0 "$slotjig" baseline --console one --last 3
says "that could be judged" "plan small: 3 runs, 14, 15, 16"
for i in 1 2 3 4; do call "$slotjig" run --plan small.ini --noise 20 --seed $((50 + i)) --quiet --console one; done
ends "noise is not blamed on the console" 4 "$slotjig" compare --console one --json j.json
json_has "and said" '"other_noise": true'
json_has "the margin drifts" '"quantity": "margin".*"called": true, "worse": false, "perhaps_bench": true'

# ---- revisions and groups ----
cat >benches.ini <<'INI'
[bench a]
kind = virtual
console = a
revision = A
noise = 30
[bench a2]
kind = virtual
console = a2
revision = A
noise = 30
[bench b]
kind = virtual
console = b
revision = B
noise = 30
fault = bit-low=PF0.5
[bench b2]
kind = virtual
console = b2
revision = B
noise = 30
fault = bit-low=PF0.5
INI
for bench in a a2 b b2; do
    for i in 1 2; do
        seed=$((seed + 1))
        call "$slotjig" run --benches benches.ini --bench $bench --plan small.ini --seed $seed --quiet
    done
done
ends "a revision's baseline" 0 "$slotjig" baseline --revision A
says "of both consoles" "baseline of revision A, plan small: 4 runs"
call "$slotjig" run --benches benches.ini --bench a --plan small.ini --seed 99 --quiet --fault bit-high=PF2.7
ends "counts for a console without one" 1 "$slotjig" compare --console a
says "and is named" "baseline of its revision, made 2[01]"
call "$slotjig" run --benches benches.ini --bench a2 --plan small.ini --seed 98 --quiet
ends "all consoles of a revision" 1 "$slotjig" compare --revision A --json j.json
says "the one that is worse" "^a, plan small: WORSE"
says "and the one that is not" "^a2, plan small: nothing is worse"
json_has "each with its own" '"console": "a2", "plans": .*"exit": 0, "problem": null'
refused "a revision without a baseline" 2 "no console of it has runs" "$slotjig" compare --revision B
refused "a revision that is not there" 2 "no console of it has runs" "$slotjig" compare --revision Z
ends "two groups" 0 "$slotjig" compare --group revision:A --group revision:B --until 9999-01-01 --json j.json
says "the consoles are counted" "2 consoles (6 runs) of revision:A against 2 (4) of revision:B"
json_has "the step that is wrong in one of them" '"quantity": "share wrong", "unit": "", "step": 1, "name": "step two"\|"name": "two"'
says "no bench had both" "no bench had both groups"
json_has "and said" '"other_bench": true'
json_has "the console is the unit" '"unit": "console"'
says "also in words" "both Welch's and Student's t over consoles, corrected by Benjamini and Hochberg to 5 %"
for bench in a b; do
    call "$slotjig" run --benches benches.ini --bench $bench --plan colours --quiet
done
ends "two groups, of several plans" 0 "$slotjig" compare --group revision:A --group revision:B --until 9999-01-01 --json j.json
says "the plan run last" "^plan colours: 1 console (1 run) of revision:A against 1 (1) of revision:B"
json_has "with its levels" '"quantity": "level"'
json_has "and its hues" '"quantity": "hue"'
says "and which others there are" "also run on both (--plan NAME): small"
ends "two groups, the other plan" 0 "$slotjig" compare --group revision:A --group revision:B --until 9999-01-01 --plan small
says "as asked" "^plan small: 2 consoles"
refused "an odd group" 2 "say revision:TEXT" "$slotjig" compare --group colour:red --group revision:B
refused "a group without runs" 2 "no run of it" "$slotjig" compare --group revision:C --group revision:B
refused "one group" 2 "two groups" "$slotjig" compare --group revision:A
refused "files and records" 2 "and no records" "$slotjig" compare one.json two.json --console one
refused "baseline of both" 2 "not of both" "$slotjig" baseline --console one --revision A
refused "baseline of nobody" 2 "say of what" "$slotjig" baseline --clear
cat >benches.ini <<'INI'
[bench c]
kind = virtual
console = c
revision = C
[bench later]
kind = virtual
console = c
revision = D
INI
for bench in c later; do
    call "$slotjig" run --benches benches.ini --bench $bench --plan small.ini --quiet
done
refused "a baseline of a revision that no console is of by now" 2 "of another one by their latest runs" \
    "$slotjig" baseline --revision C
ends "the baselines of a plan that has none" 0 "$slotjig" baseline --plan bits
says "are none" "no baselines"
refused "a list by what does not tell baselines apart" 2 "no more than --plan" "$slotjig" baseline --station attic
refused "forgetting by that" 2 "no more than --plan" "$slotjig" baseline --console one --clear --since 2026-01-01
refused "a run and a choice" 2 "that run is chosen" "$slotjig" baseline --console one --run 11 --last 3
refused "a console on one bench" 2 "every bench" "$slotjig" compare --console one --of-bench virtual
ends "forgotten" 0 "$slotjig" baseline --console one --clear
refused "once" 2 "there is none of that" "$slotjig" baseline --console one --clear
refused "and gone" 2 "has no baseline" "$slotjig" compare --console one
refused "a store that is none" 2 "small.ini" "$slotjig" compare --console one --store small.ini
ends "help" 0 "$slotjig" baseline --help
ends "help of compare" 0 "$slotjig" compare --help
says "tells what --out is here" "--out DIR .*difference.txt"
ends "help of sweep" 0 "$slotjig" sweep --help
says "tells what --out is there" "--out DIR .*junit.xml"
exit $failed
