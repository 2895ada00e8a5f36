#!/bin/bash
# `compare` and --against by the command line, and files from outside that are no results of ours.
. "$SOURCE_DIR/tests/commands/calls.sh"

run_colours() { # NAME OPTION...
    json=$1
    shift
    call "$slotjig" run --plan colours --quiet --json "$json" "$@"
}
verify "a good console" run_colours one.json
run_colours two.json --seed 5 --grabber stick
run_colours wrong.json --fault colour-low=COLUPF.4
verify "a wrong one" test "$got" = 1

# ---- the same, and not the same ----
ends "two runs of one console" 0 "$slotjig" compare one.json two.json
says "says what was compared" "0 of 256 colours differ"
says "says the bounds" "0.02 of the black-white distance.*3 degrees"
ends "itself" 0 "$slotjig" compare one.json one.json --quiet
verify "quiet says nothing" test ! -s out.txt
ends "two consoles" 1 "$slotjig" compare one.json wrong.json --out out --json difference.json
says "names the codes" 'COLUPF *\$30'
# 8 of 16 hues have the bit [A: half of 128 codes], and only one register
says "counts them" "^64 of 256 colours differ"
verify "its text" grep -q "64 of 256" out/difference.txt
verify "its table" test "$(grep -c ',1$' out/difference.csv)" = 64
verify "a row for each" test "$(wc -l <out/difference.csv)" = 257
verify "its chart" grep -q "Colours of two consoles" out/difference.svg
verify "its JSON" grep -q '"differing": 64' difference.json
ends "JSON on standard output" 1 "$slotjig" compare one.json wrong.json --json -
verify "is all there is" grep -q '"command": "compare"' out.txt
verify "and the text is on standard error" grep -q "64 of 256" err.txt

# ---- --against ----
ends "a pass that differs" 1 "$slotjig" run --plan colours --against wrong.json --json against.json --out held
says "is still called a pass" "^pass"
says "says against what" "wrong.json (first)"
verify "is in its JSON" grep -q '"against"' against.json
verify "with its exit" grep -q '"exit": 1' against.json
verify "and in its folder" test -s held/difference.svg -a -s held/colours.svg
ends "a pass that does not" 0 "$slotjig" run --plan colours --against one.json --quiet --seed 9
ends "a fail stays one" 1 "$slotjig" run --plan colours --against wrong.json --fault colour-low=COLUPF.4
says "though nothing differs" "0 of 256 colours differ"
ends "inconclusive stays so" 4 "$slotjig" run --plan colours --against one.json --impair no-colour --quiet
refused "a plan that measures nothing" 2 "measures nothing" "$slotjig" run --plan bits --against one.json
refused "another standard" 2 "of an* ntsc console" "$slotjig" run --plan colours --standard pal --against one.json
refused "no such file" 2 "nowhere.json" "$slotjig" run --plan colours --against nowhere.json

# ---- a recording ----
call "$slotjig" grab --plan colours --fields 60 -o short.mkv --quiet
ends "a recording too short" 4 "$slotjig" judge short.mkv --against one.json --json short.json
says "compares what was seen" "0 of [1-9][0-9]* colours differ"
says "and says what was not" "could not be compared"
verify "its JSON too" grep -q '"missing": 2' short.json
refused "a recording, and no such file" 2 "nowhere.json" "$slotjig" judge short.mkv --quiet --against nowhere.json

# ---- moments ----
if [ -n "${SLOTJIG_TEST_SMALL:-}" ]; then
    echo "skip moments: three whole plans are long under a sanitizer"
else
    call "$slotjig" run --plan moments --quiet --json moments.json
    call "$slotjig" run --plan moments --quiet --json late.json --fault delay=PF1:7
    ends "moments of one console" 0 "$slotjig" compare moments.json moments.json
    ends "moments of two" 1 "$slotjig" compare moments.json late.json --out moments
    says "name the register" "PF1"
    verify "their chart" grep -q "two consoles" moments/difference.svg
    refused "moments and colours" 2 "plan" "$slotjig" compare moments.json one.json
fi

# ---- results that are none ----
refused "one file" 2 "name two" "$slotjig" compare one.json
refused "three files" 2 "name two" "$slotjig" compare one.json one.json one.json
refused "no such file" 2 "nowhere.json" "$slotjig" compare one.json nowhere.json
refused "a folder" 2 "out" "$slotjig" compare one.json out
call "$slotjig" run --plan small.ini --json small.json --quiet
refused "another plan" 2 "result of plan small" "$slotjig" compare one.json small.json
run_colours pal.json --standard pal
refused "standards that differ" 2 "one standard" "$slotjig" compare one.json pal.json
head -c 20000 one.json >cut.json
refused "cut off" 2 "cut.json" "$slotjig" compare cut.json one.json
: >empty.json
refused "empty" 2 "empty.json" "$slotjig" compare one.json empty.json
echo '[1, 2]' >list.json
refused "a list" 2 "no object" "$slotjig" compare list.json one.json
echo '{}' >bare.json
refused "an empty object" 2 "names no plan" "$slotjig" compare bare.json one.json
echo '{"plan": "colours", "standard": "ntsc"}' >hollow.json
refused "no colours in it" 2 "list of 256" "$slotjig" compare hollow.json one.json
echo '{"plan": "colours", "standard": "ntsc", "colours": 7, "hues": {}}' >types.json
refused "other types" 2 "list of 256" "$slotjig" compare types.json one.json
head -c 40000000 /dev/zero | tr '\0' '[' >huge.json
refused "huge" 2 "MiB" "$slotjig" compare huge.json one.json
head -c 1000000 huge.json >deep.json
refused "deep" 2 "deep.json" "$slotjig" compare deep.json one.json
rm -f huge.json
head -c 3000 /dev/urandom >noise.json
refused "noise" 2 "noise.json" "$slotjig" compare noise.json one.json
refused "no end" 2 "MiB" "$slotjig" compare /dev/zero one.json

at=$(grep -n '^ "colours": \[' one.json | cut -d: -f1)
change() { # NAME WHAT TO: one.json with the first match in its list of colours changed
    name=$1
    head -n "$at" one.json >changed.json
    tail -n "+$((at + 1))" one.json | sed "0,/$2/s//$3/" >>changed.json
    cmp -s changed.json one.json && not_ok "$name: nothing was changed"
    refused "$name" 2 "changed.json" "$slotjig" compare changed.json one.json
}
change "a code twice" '"code": 2,' '"code": 4,'
change "an odd code" '"code": 2,' '"code": 3,'
change "a code out of range" '"code": 2,' '"code": 256,'
change "a code that is a text" '"code": 2,' '"code": "2",'
change "another register" '"COLUBK",' '"COLUP9",'
change "a level that is a text" '"level": 0' '"level": "low", "was": 0'
change "a number beyond all" '"level": 0' '"level": 1e300, "was": 0'
change "a number that overflows" '"level": 0' '"level": 1e999, "was": 0'
change "fields that are negative" '"fields": 3' '"fields": -3'
change "fields that are none" '"fields": 3' '"fields": 0'
change "spread below none" '"level_spread": 0' '"level_spread": -1, "was": 0'
change "clipped is no flag" '"clipped": false' '"clipped": 2'
change "a key twice" '"code": 2,' '"code": 2, "code": 2,'
sed 's/"code": 2,/"code": 2, "novel": [1],/' one.json >more.json
ends "keys of a later version" 0 "$slotjig" compare more.json one.json

ends "help" 0 "$slotjig" compare --help
says "tells the bounds" "3 degrees"
refused "an option it has not" 2 "not an option" "$slotjig" compare --hold 4 one.json one.json
exit $failed
