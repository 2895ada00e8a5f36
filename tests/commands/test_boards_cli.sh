#!/bin/bash
# Boards as a user meets them on the command line: push, doctor, boards, benches, on the virtual bench, whose board is
# the firmware's own core behind the real wire; every refusal once. Real lines: test_push_serial.c.
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"
unset NO_COLOR

for command in push doctor boards benches; do
    ends "$command --help" 0 "$slotjig" $command --help
    says "$command --help tells its exits" '^exit: 0'
    ends "$command is in the list" 0 "$slotjig" --help
    says "$command is in the list of commands" "^  $command "
done

# push: a plan's image, and files of every scheme by their size.
ends "push of the default plan" 0 "$slotjig" push --bench virtual --json push.json
says "push says what went over" '^push: 2 blocks .* 0 left .*read back and compared'
says "the console takes it over by itself" '^start: the console took it over'
verify "push's JSON: blocks" grep -q '"sent_blocks": 2' push.json
verify "push's JSON: start" grep -q '"start": "handed_over"' push.json
verify "push's JSON: verified" grep -q '"verified": "crc_and_read_back"' push.json
verify "push's JSON: serial" grep -q -E '"serial": "[0-9A-F]{16}"' push.json
ends "push without reading back" 0 "$slotjig" push --bench virtual --no-read-back --json push.json
says "which is said" 'CRC agrees, not read back'
verify "which is in the JSON" grep -q '"verified": "crc"' push.json
ends "push of a plan, a step held" 0 "$slotjig" push --bench virtual --plan small.ini --step 1
says "the held step is said" '^step 1 is held'
ends "push, quietly" 0 "$slotjig" push --bench virtual --quiet
verify "quiet says nothing" test ! -s out.txt -a ! -s err.txt
while read -r size scheme; do
    head -c "$size" /dev/urandom >image.bin
    ends "push of $size bytes" 0 "$slotjig" push --bench virtual image.bin --json push.json
    says "$size bytes are $scheme" "$size bytes, $scheme, without mailbox"
    verify "$size bytes go as $((size / 1024)) blocks" grep -q "\"sent_blocks\": $((size / 1024))," push.json
    ends "push of $size bytes with RAM" 0 "$slotjig" push --bench virtual --ram --scheme $scheme image.bin
    says "RAM is said" "$scheme, with RAM"
done <<'SIZES'
2048 2K
4096 4K
8192 F8
16384 F6
32768 F4
SIZES
ends "an image of ours from a file" 0 "$slotjig" rom --plan small.ini -o small.bin
ends "its push" 0 "$slotjig" push --bench virtual --json push.json --step 1 small.bin
verify "is known to read the mailbox" grep -q '"mailbox": true' push.json
verify "and is taken over" grep -q '"start": "handed_over"' push.json

# push: what is refused.
head -c 3000 /dev/zero >odd.bin
head -c 40000 /dev/zero >long.bin
: >empty.bin
refused "an image of a wrong size" 2 '3000 bytes; an image has 2048 (2K), 4096 (4K), 8192 (F8)' "$slotjig" push --bench virtual odd.bin
refused "an image that is too long" 2 'over 32768 bytes' "$slotjig" push --bench virtual long.bin
refused "an empty image" 2 'empty.bin: 0 bytes' "$slotjig" push --bench virtual empty.bin
refused "an image that is not there" 2 'nothere.bin' "$slotjig" push --bench virtual nothere.bin
refused "a folder as an image" 2 'cannot be read' "$slotjig" push --bench virtual /
refused "a scheme of another size" 2 'scheme F8 has 8192' "$slotjig" push --bench virtual --scheme F8 image.bin
refused "an unknown scheme" 2 'say 2K, 4K' "$slotjig" push --bench virtual --scheme E0 image.bin
refused "a scheme for a plan" 2 'image file' "$slotjig" push --bench virtual --scheme 2K
refused "RAM for a plan" 2 'image file' "$slotjig" push --bench virtual --plan bits --ram
refused "a plan and a file" 2 'give one' "$slotjig" push --bench virtual --plan bits small.bin
refused "a hold for a file" 2 'pushed as it is' "$slotjig" push --bench virtual --hold 20 small.bin
refused "two files" 2 'one image file' "$slotjig" push --bench virtual small.bin small.bin
refused "a step and free" 2 'exclude each other' "$slotjig" push --bench virtual --step 1 --free
refused "a step past the plan's last" 2 'steps 0 to 2' "$slotjig" push --bench virtual --plan small.ini --step 3
refused "a step past a byte" 2 'from 0 to 255' "$slotjig" push --bench virtual --step 256
refused "a step of an image without mailbox" 2 'mailbox' "$slotjig" push --bench virtual --step 1 image.bin
refused "a step where nothing is stored" 3 'push one' "$slotjig" push --bench virtual --step 1
refused "a board on the virtual bench" 2 'real boards' "$slotjig" push --bench virtual --board 1-2
refused "board and serial" 2 'give one' "$slotjig" push --board 1-2 --serial /dev/ttyS0
refused "a board that is no choice" 2 'port path' "$slotjig" push --board COM1
refused "a speed without a line" 2 'serial device' "$slotjig" push --baud 9600
refused "a speed that is none" 2 'from 1200' "$slotjig" push --serial /dev/ttyS0 --baud 1
refused "a fault on a real board" 2 'virtual' "$slotjig" push --fault no-video
refused "a device that is not there" 3 'no such device' "$slotjig" push --serial /dev/nothere
refused "a file as a device" 2 "no serial device" "$slotjig" push --serial "$work/small.bin"

# boards and doctor where nothing is attached (a machine with a board has other answers, tried in tests/usb).
timeout 60 "$slotjig" boards --json boards.json >out.txt 2>err.txt
if [ $? = 3 ] && [ ! -s out.txt ]; then
    verify "no board: one line that says what to check" test "$(wc -l <err.txt)" = 1
    verify "no board: the JSON has an empty list" grep -q '"boards": \[\]' boards.json
    refused "push without a board" 3 'no board' "$slotjig" push
    ends "doctor without a board" 3 "$slotjig" doctor --json doctor.json
    says "doctor blames the board" 'TROUBLE  board'
    says "and nothing behind it" '-  *supply  *not looked at'
    verify "doctor's JSON says so" grep -q '"exit": 3' doctor.json
else
    echo "skip no board: there is one here"
fi
refused "boards takes no words" 2 'no such word' "$slotjig" boards all

# doctor on the virtual bench: each part is blamed where it is at fault, and only there.
ends "doctor on a good bench" 0 "$slotjig" doctor --bench virtual --json doctor.json
says "doctor finds no fault" 'nothing wrong'
says "doctor looks at the video" 'ok  *margin  *1.00'
verify "doctor's JSON has the slot's numbers" grep -q '"mailbox_reads": [1-9]' doctor.json
for bit in 0 1 2 3 4 5 6 7; do
    for level in low high; do
        ends "doctor with cart-data=$bit:$level" 1 "$slotjig" doctor --bench virtual --fault cart-data=$bit:$level
        says "names D$bit $level" "FAULT  *processor .*D$bit.* $level"
        ends "run with cart-data=$bit:$level" 4 "$slotjig" run --plan small.ini --fault cart-data=$bit:$level --json run.json
        says "run names D$bit $level too" "D$bit.* $level"
        # An address line stuck may give the same numbers; then both are told, before what the video lacks.
        verify "and before the video" sh -c 'grep -m 1 "\"kind\"" run.json | grep -q -E "(slot_data|address)_line_stuck"'
    done
done
for bit in 0 1 2 3 4 5 6 7 8 9 10 11 12; do
    for level in low high; do
        [ $bit$level = 12high ] && continue # not modelled: cartridge and chips would drive the bus at once
        ends "doctor with cart-address=$bit:$level" 1 "$slotjig" doctor --bench virtual --fault cart-address=$bit:$level
        says "names A$bit $level" "FAULT  *bus .*A$bit .* $level"
    done
done
ends "doctor without supply" 4 "$slotjig" doctor --bench virtual --fault no-supply
says "blames the supply" '?  *supply'
ends "doctor with a dead console" 1 "$slotjig" doctor --bench virtual --fault no-console
says "blames the bus" 'FAULT  *bus'
says "and nothing behind it" '-  *processor  *not looked at'
ends "a fault of the video chip is none of the slot's" 0 "$slotjig" doctor --bench virtual --fault bit-low=PF1.3

# run: the board's and the slot's objects.
ends "run on a good bench" 0 "$slotjig" run --plan small.ini --json run.json
verify "run's JSON has the board" grep -q '"start": "handed_over"' run.json
verify "a pass asks the slot nothing" grep -q '"slot": null' run.json
ends "run with a stuck bit" 1 "$slotjig" run --plan bits --fault bit-low=PF1.3 --json run.json
verify "the first finding is the chip's" sh -c 'grep -m 1 "\"kind\"" run.json | grep -q bit_stuck_low'
verify "a failing run has the slot's numbers" grep -q '"mailbox_reads": [1-9]' run.json
ends "run without video" 4 "$slotjig" run --plan small.ini --fault no-video --json run.json
verify "no video is said" grep -q '"kind": "no_video"' run.json
verify "and that the program runs" grep -q '"kind": "runs_without_picture"' run.json

# benches.
cat >benches.ini <<INI
[bench left]
kind = board
board = /dev/nothere
power = "$work/relay" {state}
video = file:$work/small.mkv
console = rev. 4
[bench noisy]
noise = 30
[bench burner]
kind = board
command = "$work/burn" {image} {size} {scheme}
screen = none
INI
ends "benches" 0 "$slotjig" benches --benches benches.ini --json benches.json
says "benches names its file" '^benches file: benches.ini$'
says "benches shows the board" 'board  *serial /dev/nothere, 115200 baud'
says "benches shows the console" 'console  *rev. 4'
verify "benches' JSON has them all" test "$(grep -c '"name"' benches.json)" = 4
ends "benches without a file" 0 env XDG_CONFIG_HOME="$work/none" "$slotjig" benches
says "which is said" 'none/slotjig/benches.ini (not there)'
printf '[bench a]\nkind = board\nvideo = /dev/video0\n' >bad.ini
refused "an error in the file" 2 'bad.ini:3: video = /dev/video0; say v4l2:/dev/video0' "$slotjig" benches --quiet --benches bad.ini
printf '[bench a]\n[bench a]\n' >bad.ini
refused "a bench twice" 2 'bad.ini:2' "$slotjig" benches --quiet --benches bad.ini
refused "a file that is not there" 2 'nothere.ini' "$slotjig" benches --quiet --benches nothere.ini

# A board and a cartridge that are not ours: a program of the user's.
cat >burn <<'SH'
#!/bin/sh
printf '%s %s\n' "$2" "$3" >burnt.txt
cp "$1" burnt.bin
SH
chmod +x burn
ends "push by a program" 0 "$slotjig" push --benches benches.ini --bench burner small.bin
verify "the program had the image" cmp -s burnt.bin small.bin
verify "the program had size and scheme" grep -q '^2048 2K$' burnt.txt
says "nothing is claimed of it" 'nothing was compared'
refused "a step by a program" 2 'program of yours' "$slotjig" push --benches benches.ini --bench burner --step 1 small.bin
printf '#!/bin/sh\necho "no programmer found" >&2\nexit 5\n' >burn
refused "a program that fails" 3 'no programmer found' "$slotjig" push --benches benches.ini --bench burner small.bin
rm burn
refused "a program that is not there" 2 'burn' "$slotjig" push --benches benches.ini --bench burner small.bin
refused "run without video" 2 'by-eye' "$slotjig" run --benches benches.ini --bench burner
refused "grab from a recording" 2 'no video device' "$slotjig" grab --benches benches.ini --bench left -o x.mkv
refused "run without its recording" 2 'small.mkv: cannot be opened' "$slotjig" run --benches benches.ini --bench left
ends "a recording" 0 "$slotjig" grab --quiet --plan small.ini -o small.mkv
echo '{"verdict": "pass"}' >run.json
ends "a line that two causes fit" 4 "$slotjig" run --plan small.ini --fault cart-data=5:high
verify "both are told, the one or the other" sh -c 'grep -q "^  either address_line_stuck:.*A5" out.txt && grep -q "^  or slot_data_line_stuck:.*D5" out.txt'

refused "a virtual board's loader" 2 'has no chip' "$slotjig" boards --loader --bench virtual
refused "a choice without --loader" 2 'go with --loader' "$slotjig" boards --board usb
refused "--loader with --json" 2 'exclude each other' "$slotjig" boards --loader --json x.json
refused "push with nowhere for its JSON" 2 'nowhere/x.json' "$slotjig" push --bench virtual --json nowhere/x.json
verify "push found that out before it did anything" test ! -s out.txt
refused "doctor with nowhere for its JSON" 2 'nowhere/x.json' "$slotjig" doctor --bench virtual --json nowhere/x.json
verify "doctor found that out before it did anything" test ! -s out.txt
refused "run with nowhere for its JSON" 2 'nowhere/x.json' "$slotjig" run --plan small.ini --json nowhere/x.json
verify "run found that out before it did anything" test ! -s out.txt
refused "run with a folder for its JSON" 2 'choose another name' "$slotjig" run --plan small.ini --json .
verify "run found that out before it did anything" test ! -s out.txt
refused "run without its board" 3 'nothere' "$slotjig" run --benches benches.ini --bench left --plan small.ini --json run.json --out seen
for json in run.json seen/result.json; do
    verify "$json says so" grep -q '"exit": 3' $json
    verify "$json is no pass" grep -q '"verdict": "inconclusive"' $json
    verify "$json says nothing of a video that was not looked at" grep -q '"findings": \[\]' $json
done

# A program of the user's does not go on by itself when a person stops slotjig, and its image is no litter.
cat >burn <<'SH'
#!/bin/sh
echo $$ >burn.pid
exec sleep 60
SH
chmod +x burn
mkdir temporary
cat >stop <<'SH'
TMPDIR=$PWD/temporary "$@" 2>err.txt &
pid=$!
for i in $(seq 100); do
    [ -s burn.pid ] && break
    sleep 0.1
done
kill -TERM $pid
wait $pid
SH
ends "a push that is stopped" 3 bash stop "$slotjig" push --benches benches.ini --bench burner small.bin
verify "is said to be" grep -q 'was stopped before its end' err.txt
verify "its program is ended" sh -c '! kill -0 "$(cat burn.pid)" 2>/dev/null'
verify "its image is removed" test -z "$(ls temporary)"

# Odd places.
ends "by eye, JSON on standard output" 4 "$slotjig" run --by-eye --plan small.ini --json -
verify "which holds nothing else" sh -c '[ "$(head -c 1 out.txt)" = "{" ] && grep -q "step 0" err.txt'
refused "an empty name for the JSON" 2 'empty' "$slotjig" benches --quiet --json ''
refused "a folder as a device" 2 'no serial device' "$slotjig" push --serial /tmp
printf '[bench a]\nkind = board\nconsole = \302\23331mred\n' >bad.ini
refused "a control character of two bytes" 2 'not a text file' "$slotjig" benches --quiet --benches bad.ini
exit $failed
