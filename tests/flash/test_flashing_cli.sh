#!/bin/sh
# Flashing on the command line: what `plan --flashes` says, and what is refused, told or made slower before anybody sees
# it.
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"

cat >blink.ini <<'INI'
[plan]
name = blink
[step dark]
PF0 = 0
[step lit]
PF0 = $F0
PF1 = $FF
PF2 = $FF
INI
cat >benches.ini <<INI
[bench seen]
kind = board
command = "$work/burn" {image}
[bench hidden]
kind = board
command = "$work/burn" {image}
screen = none
INI
cat >burn <<'SH'
#!/bin/sh
cp "$1" burnt.bin
SH
chmod +x burn
# The line of rule $1 in the block of hold $2.
rule() { awk -v rule="$1" -v hold="--hold $2:" 'index($0, "--hold") {on = index($0, hold)} on && index($0, rule)' out.txt; }

# [A] a change every 4 fields of 59.92 a second: 15 in 60 fields, 7.5 flashes; every 20: 3 and 1.5; limit 3.
ends "plan --flashes" 0 "$slotjig" plan --plan blink.ini --flashes
says "it states the screen assumed" '30 degrees wide.*200 cd/m2'
verify "full speed is over" sh -c "printf '%s' \"\$1\" | grep -q ' 7.5 a second.*OVER'" - "$(rule 'WCAG 2.3.1, general' 4)"
verify "by BT.1702 too" sh -c "printf '%s' \"\$1\" | grep -q ' 7.5 a second.*OVER'" - "$(rule 'BT.1702, luminance' 4)"
verify "black and white are no red" sh -c "printf '%s' \"\$1\" | grep -q ' 0.0 a second'" - "$(rule 'WCAG 2.3.1, red' 4)"
verify "a watched screen is under" sh -c "printf '%s' \"\$1\" | grep -q ' 1.5 a second' && ! printf '%s' \"\$1\" | grep -q OVER" - "$(rule 'WCAG 2.3.1, general' 20)"
says "it names the calm hold" 'from --hold 10 on (--calm)'
ends "a hold of one's own" 0 "$slotjig" plan --plan blink.ini --flashes --hold 9
says "is the one told" 'asked for, --hold 9: OVER'
ends "as JSON" 0 "$slotjig" plan --plan blink.ini --flashes --json flashes.json
verify "JSON has the calm hold" grep -q '"calm_hold": 10' flashes.json
verify "JSON has the screen" grep -q '"peak_cd_m2": 200' flashes.json
verify "JSON has each rule, twice" test "$(grep -c '"flashes_per_second"' flashes.json)" = 9
for plan in bits every moments colours; do
    ends "plan $plan" 0 "$slotjig" plan --plan $plan --flashes
    says "can be shown calmly" 'under the limits from --hold'
    verify "and is, on a watched screen" grep -q '^on a watched screen.*under the limits' out.txt
done
ends "every plan" 0 "$slotjig" plan --flashes
for plan in bits every moments colours; do
    says "tells of $plan" "^plan $plan, ntsc: how its"
done
ends "every plan as JSON" 0 "$slotjig" plan --flashes --json all.json
verify "has four" test "$(grep -c '"calm_hold": [0-9]' all.json)" = 4
ends "PAL" 0 "$slotjig" plan --plan blink.ini --flashes --standard pal
says "is calm from another hold on" 'from --hold 9 on'

refused "rom, over the limits" 2 'flashing' "$slotjig" rom --plan blink.ini --hold 4 -o seen.bin
says "tells the ways out" '--calm (--hold 10), --agreed-to-flashing'
verify "and writes nothing" test ! -e seen.bin
refused "neither with a hold and --calm" 2 'give one' "$slotjig" rom --plan blink.ini --hold 4 --calm -o seen.bin
refused "steps are not shown for a field" 2 'at least 3' "$slotjig" rom --plan blink.ini --screen none --hold 2 -o seen.bin
ends "rom, nobody sees it" 0 "$slotjig" rom --plan blink.ini --hold 4 --screen none -o none.bin
says "says so" 'note: plan blink at --hold 4 is flashing: 7.5 general'
ends "rom, agreed" 0 "$slotjig" rom --plan blink.ini --hold 4 --agreed-to-flashing -o agreed.bin
says "says why and what comes first" 'flashing: 7.5 general.*dark for 3 s'
verify "the image begins otherwise" sh -c '! cmp -s none.bin agreed.bin'
ends "rom, calm" 0 "$slotjig" rom --plan blink.ini --calm -o calm.bin
says "is slower" 'a step every 10 fields'
verify "and needs no word" sh -c '! grep -q flashing err.txt'
ends "rom at 10 fields" 0 "$slotjig" rom --plan blink.ini --hold 10 -o ten.bin
verify "is the same" cmp -s calm.bin ten.bin
ends "rom as it is" 0 "$slotjig" rom --plan blink.ini -o usual.bin
verify "needs no word either" sh -c '! grep -q flashing err.txt'

refused "push where people see it" 2 'flashing' "$slotjig" push --benches benches.ini --plan blink.ini --bench seen --hold 4
verify "nothing was pushed" test ! -e burnt.bin
ends "push, agreed" 0 "$slotjig" push --benches benches.ini --plan blink.ini --bench seen --hold 4 --agreed-to-flashing
verify "with a dark start" cmp -s burnt.bin agreed.bin
says "which is told" 'dark for 3 s'
ends "push where nobody sees it" 0 "$slotjig" push --benches benches.ini --plan blink.ini --bench hidden
verify "at full speed" cmp -s burnt.bin none.bin
says "which is told" 'note: plan blink'
ends "push, calm" 0 "$slotjig" push --benches benches.ini --plan blink.ini --bench hidden --calm
verify "slowly" cmp -s burnt.bin calm.bin
ends "push, usual" 0 "$slotjig" push --benches benches.ini --plan blink.ini --bench seen
verify "as usual" cmp -s burnt.bin usual.bin
refused "by eye, over the limits" 2 'flashing' "$slotjig" run --by-eye --plan blink.ini --hold 4

ends "the virtual bench shows nothing" 0 "$slotjig" run --plan blink.ini --hold 4
verify "so it says nothing" sh -c '! grep -q flashing err.txt'
refused "unless it is to be as on a watched screen" 2 'flashing' "$slotjig" run --plan blink.ini --hold 4 --screen watched
ends "and agreed to" 0 "$slotjig" run --plan blink.ini --hold 4 --agreed-to-flashing --json run.json
says "says why and what comes first" 'flashing: 7.5 general.*dark for 3 s'
# [A] 3 s at 59.92 fields a second.
verify "and 180 fields are dark" sh -c "grep -m1 -o '\"unreadable\": [0-9]*' run.json | grep -q ': 18[0-9]$'"
exit $failed
