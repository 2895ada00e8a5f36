#!/bin/sh
# Plan cartridge on the command line: every scheme on the virtual bench, what is broken and how it is named, soak,
# a cartridge that is pulled out, words of items, and what is refused.
. "$SOURCE_DIR/tests/commands/calls.sh"
check() { # WORDS...: sets the call that follows
    run="$slotjig run --bench virtual --plan cartridge --no-record $*"
}
named() { # FAULT KIND: with the scheme of the last check
    ends "$1" 1 $run --fault "$1" --json result.json
    says "$1 is named" "$2: "
}

for scheme in 2K 4K F8 F6 F4; do
    check --scheme $scheme
    ends "a good cartridge, $scheme" 0 $run
    says "and its parts" 'pages .* 0  every byte'
done
for scheme in f8 F4; do
    check --scheme $scheme --ram
    ends "a good cartridge with RAM, $scheme" 0 $run --noise 30 --seed 7
    says "its RAM was tested" 'ram  *8  *8  *0 '
done
check --scheme F8
ends "another standard" 0 $run --standard pal
ends "whichever bank comes up is no fault" 0 $run --fault cart-first=0
says "and is told" 'began in bank 0'
ends "a grabber that mixes fields" 0 $run --grabber blend
says "is shown each item longer" 'stands for 3 of them'
ends "one that loses fields" 0 $run --grabber drops

ends "one that loses half of them" 0 $run --impair drop=0.5 --seed 3

named 'cart-byte=$0321:$04' cartridge_byte_wrong
says "by bank and address" 'Bank 0, $F321 (byte $0321 of the image)'
says "with the digits on the screen" '  10303  page 3 (bank 0'
named cart-slow=0.2:600 cartridge_slow
named cart-hotspot=1:0 cartridge_hotspot_wrong
named cart-hotspot=0:none cartridge_not_switching
named 'cart-also=$1FD9:1' cartridge_switches_too
verify "the result has them" grep -q '"cartridge_switches_too"' result.json
verify "and each item" grep -q '"item": "805' result.json
check --scheme F8 --ram
named cart-no-ram cartridge_ram_missing
named cart-ram=stuck:5.3:low cartridge_ram_stuck
named cart-ram=inversion:5.3:9.1:high cartridge_ram_coupled
named cart-ram=no-cell:5 cartridge_ram_decoder

check --scheme F8
ends "an address line open: no fail" 4 $run --fault cart-open=A3
says "for the console may be at fault as well" 'either cartridge_dead'
says "and no count that was never seen" 'cartridge F8: no round was seen to its end'
ends "a bus that is held: likewise" 4 $run --fault cart-hold=D3:low
says "and it is among the causes" 'either cartridge_dead: .*a bus that it holds while A12 = 0'
ends "a dead console is no fail" 4 $run --fault no-console

ends "pulled out in the middle" 3 $run --fault cart-pulled=2.5
says "and told so" 'the cartridge.s check stopped after 1 finished round .*pulled out'
run="$slotjig run --bench virtual --plan cartridge --scheme F8 --store store.sqlite"
ends "it is kept" 3 $run --fault cart-pulled=2.5
ends "in the store" 0 "$slotjig" history --store store.sqlite
says "as trouble" 'trouble'
ends "a pass is kept too" 0 $run --out kept
verify "with a page" grep -q 'What the console says of the cartridge' kept/report.html
ends "and shown again" 0 "$slotjig" history --store store.sqlite 2
says "with its parts" 'hotspots  *8  *8  *0 '
ends "as JSON" 0 "$slotjig" report --store store.sqlite --run 2 --jsonl runs.jsonl
verify "under a key of its own" grep -q '"check"' runs.jsonl

check --scheme F8
ends "so many rounds" 0 $run --rounds 6
says "are watched" ': 6 rounds watched'
ends "for a time" 0 $run --for 0.2
says "many rounds" ': [5-9] rounds watched'
# Most of them crash the check's program sooner or later (exit 3); one that does not is told with its rate.
for seed in 11 12 4 6 1 2 3 5 7 8 9 10 13 14 15 16; do
    call $run --rounds 8 --seed $seed --fault cart-loose=A0:0.000002
    [ "$got" = 1 ] && break
done
verify "a loose contact is found in a soak (seed $seed, exit $got)" test "$got" = 1
says "with its rate" 'cartridge_contact: Comes and goes'
timeout -s INT 2 $run --rounds 0 >out.txt 2>err.txt </dev/null
got=$?
verify "Ctrl-C ends a soak (exit $got)" grep -q '^pass' out.txt
says "with its rounds" 'rounds watched, in 0 of them'

refused "no scheme" 2 'Give --scheme' "$slotjig" run --plan cartridge
refused "no such scheme" 2 'F9: say 2K' "$slotjig" run --plan cartridge --scheme F9
refused "a scheme for another plan" 2 'only plan cartridge' "$slotjig" run --plan bits --scheme F8
refused "RAM for another plan" 2 'only plan cartridge' "$slotjig" run --ram
refused "rounds of another plan" 2 'only plan cartridge goes round' "$slotjig" run --rounds 3
refused "time of plan every" 2 'only plan cartridge goes round' "$slotjig" run --plan every --for 3
refused "one round" 2 'from 2 to' "$slotjig" run --plan cartridge --scheme F8 --rounds 1
refused "no rounds" 2 'from 2 to' "$slotjig" run --plan cartridge --scheme F8 --rounds many
refused "no minutes" 2 'more than 0' "$slotjig" run --plan cartridge --scheme F8 --for 0
refused "a fault of RAM that is not there" 2 'RAM' "$slotjig" run --plan cartridge --scheme F8 --fault cart-ram=stuck:5.3:low
refused "a time that is none" 2 'seconds' "$slotjig" run --plan cartridge --scheme F8 --fault cart-pulled=soon

ends "an item in words" 0 "$slotjig" plan --plan cartridge --scheme F8 --item 11303
says "of its scheme" 'page 19 (bank 1, $F300-$F3FF): its CRC and sum are wrong'
ends "no wrong item" 0 "$slotjig" plan --plan cartridge --scheme F8 --item 00000
says "in words" 'in the top row: nothing was wrong so far'
ends "late work" 0 "$slotjig" plan --plan cartridge --scheme F8 --item 0FF02
says "in words" 'longer than its field'
refused "an item that F8 never shows" 2 'were the digits copied right' "$slotjig" plan --plan cartridge --scheme F8 --item 13A02
refused "digits that are none" 2 'five hexadecimal' "$slotjig" plan --plan cartridge --scheme F8 --item 113
refused "an item of no plan" 2 'say --plan cartridge' "$slotjig" plan --item 11303
refused "lines of its patterns, of which it has none" 2 'only plan every' "$slotjig" run --plan cartridge --scheme F8 --lines 2
refused "an item of another plan" 2 'only plan cartridge' "$slotjig" plan --plan bits --item 11303

by_eye() { # ANSWERS
    call sh -c "printf '$1' | '$slotjig' run --by-eye --plan cartridge --scheme F8 --agreed-to-flashing --no-record"
}
by_eye 'none\nE0002\n'
verify "by eye: no wrong item in two rounds (exit $got)" test "$got" = 0
by_eye '11303\n'
verify "by eye: a wrong item (exit $got)" test "$got" = 1
says "in words" 'cartridge_page_wrong: .*11303: page 19 (bank 1, $F300'
by_eye '13A02\n11303\n'
verify "by eye: copied wrong first (exit $got)" test "$got" = 1
says "asks again" 'an image of F8 never shows 13A02; look once more'
by_eye '0FF02\n'
verify "by eye: late work (exit $got)" test "$got" = 4
says "is told" 'longer than its field'
by_eye 'none\nE0001\n'
verify "by eye: one round is not enough (exit $got)" test "$got" = 4
by_eye 'what\n\n'
verify "by eye: nothing (exit $got)" test "$got" = 4

# The maker's own program puts the image on the cartridge; here it copies it. The video is a recording.
ends "a recording" 0 "$slotjig" grab --bench virtual --plan cartridge --scheme 2K -o own.mkv --fields 120
ends "is judged by what stands beside it" 0 "$slotjig" judge own.mkv
cat >benches.ini <<INI
[bench shelf]
kind = board
command = cp "{image}" taken.bin
power = true {state}
video = file:own.mkv
screen = none
[bench own]
kind = board
board = none
video = file:own.mkv
screen = none
INI
ends "a program gets the image" 0 "$slotjig" run --benches benches.ini --bench shelf --plan cartridge --scheme 2K --no-record
ends "and the image by hand" 0 "$slotjig" rom --plan cartridge --scheme 2K -o made.bin
verify "is the same" cmp made.bin taken.bin
ends "which is there already" 0 "$slotjig" run --benches benches.ini --bench own --plan cartridge --scheme 2K --no-record
ends "another image than that" 4 "$slotjig" run --benches benches.ini --bench own --plan cartridge --scheme 4K --no-record
says "is named" 'cartridge_other_image'
exit $failed
