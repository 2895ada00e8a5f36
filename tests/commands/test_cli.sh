#!/bin/sh
# The command line as a user meets it: calls that must work as written, exit statuses, one clear line for bad input,
# and no half-written file under its final name.
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"

# Calls that must work as written.
ends "run" 0 "$slotjig" run --bench virtual --plan bits --out DIR --json FILE
verify "run leaves its pictures" test -s DIR/steps.png -a -s DIR/field.png -a -s DIR/result.json -a -s DIR/image.bin
verify "run's JSON says pass" grep -q '"verdict": "pass"' FILE
ends "expect" 0 "$slotjig" expect --plan bits --json -
verify "expect writes JSON to standard output" grep -q '"expected"' out.txt
ends "rom" 0 "$slotjig" rom --plan bits -o rom.bin --listing rom.asm
verify "rom leaves 2 or 4 KiB" test "$(wc -c <rom.bin)" = 2048 -o "$(wc -c <rom.bin)" = 4096
ends "grab" 0 "$slotjig" grab --bench virtual --plan small.ini -o small.mkv
ends "judge" 0 "$slotjig" judge --plan small.ini --json - small.mkv
verify "judge writes JSON to standard output" grep -q '"verdict": "pass"' out.txt
for standard in pal secam; do
    ends "run on $standard" 0 "$slotjig" run --plan small.ini --standard $standard --quiet
    ends "grab on $standard" 0 "$slotjig" grab --plan small.ini --standard $standard -o $standard.y4m
    ends "judge on $standard" 0 "$slotjig" judge --plan small.ini --standard $standard $standard.y4m
done
ends "grab raw" 0 "$slotjig" grab --plan small.ini -o small.yuv
ends "judge raw" 0 "$slotjig" judge --plan small.ini small.yuv
for command in run plan rom expect grab judge; do
    ends "$command --help" 0 "$slotjig" $command --help
done
ends "no command" 2 "$slotjig"
ends "version" 0 "$slotjig" --version

# A fault of the console ends in 1, what cannot be seen in 4; the same from a recording.
ends "a stuck bit ends in 1" 1 "$slotjig" run --plan bits --fault bit-low=PF1.3 --out broken --json broken.json
verify "the cause is named" grep -q '"kind": "bit_stuck_low"' broken.json
verify "the failing fields are kept" test -s broken/failing.mkv
ends "the kept fields fail again" 1 "$slotjig" judge --plan broken/plan.ini broken/failing.mkv
ends "no video ends in 4" 4 "$slotjig" run --plan small.ini --fault no-video
ends "frozen video ends in 4" 4 "$slotjig" run --plan small.ini --fault frozen=5
ends "grab of a broken console" 0 "$slotjig" grab --plan small.ini --fault bit-low=PF1.7 -o bad.mkv
ends "judge of a broken console" 1 "$slotjig" judge --plan small.ini --json bad.json bad.mkv
verify "judge names the cause" grep -q '"kind": "bit_stuck_low"' bad.json
ends "another plan's recording" 4 "$slotjig" judge --plan bits small.mkv
ends "the same seed, once" 0 "$slotjig" run --plan small.ini --seed 5 --noise 30 --no-record --quiet --json seed1.json
ends "the same seed, twice" 0 "$slotjig" run --plan small.ini --seed 5 --noise 30 --no-record --quiet --json seed2.json
verify "the same seed gives the same result" cmp -s seed1.json seed2.json

# By eye.
yes y | head -98 >yes.txt
"$slotjig" run --by-eye --plan small.ini --json eye.json <yes.txt >out.txt 2>err.txt
verify "by eye, all yes" test $? = 0
printf 'y\nn\nlooks smeared\n' | "$slotjig" run --by-eye --plan small.ini --json eye.json >out.txt 2>err.txt
verify "by eye, one no" test $? = 1
verify "by eye keeps the note" grep -q 'looks smeared' eye.json
printf 'y\n' | "$slotjig" run --by-eye --plan small.ini >out.txt 2>err.txt
verify "by eye, input ends" test $? = 4

# Bad input: one line, the right status.
refused "unknown command" 2 juggle "$slotjig" juggle
refused "unknown option" 2 frobnicate "$slotjig" run --frobnicate
refused "unknown plan" 2 nosuch "$slotjig" run --plan nosuch
refused "unknown bench" 2 nosuch "$slotjig" run --bench nosuch
refused "unknown fault" 2 wobble "$slotjig" run --fault wobble
refused "unknown standard" 2 mesecam "$slotjig" run --standard mesecam
refused "a seed that is no number" 2 seed "$slotjig" run --seed x
refused "a hold too short for a watched screen" 2 flashing "$slotjig" rom --plan bits --hold 4 -o x.bin
refused "rom without an output" 2 listing "$slotjig" rom --plan bits
refused "an unwritable folder" 2 /proc/nope "$slotjig" run --plan small.ini --out /proc/nope --quiet
refused "an unwritable image" 2 /proc/x.bin "$slotjig" rom --plan bits -o /proc/x.bin
refused "an unwritable recording" 2 /proc/x.mkv "$slotjig" grab --plan small.ini -o /proc/x.mkv
refused "an unknown ending" 2 odd "$slotjig" grab --plan small.ini -o x.odd
refused "no such recording" 2 nothere.mkv "$slotjig" judge --plan small.ini nothere.mkv
refused "two recordings" 2 "one video file" "$slotjig" judge --plan small.ini a.mkv b.mkv
printf '[step x]\nPF1 = $1FF\n' >bad.ini
refused "a bad register" 2 'bad.ini:2' "$slotjig" run --plan bad.ini
{ for i in $(seq 1 1100); do printf '[step s%d]\nPF1 = 1\n' "$i"; done; } >many.ini
refused "a step too many" 2 many.ini "$slotjig" run --plan many.ini
printf '[step x]\ncells = #...................#..................\n' >wide.ini
refused "cells of a wrong length" 2 wide.ini "$slotjig" expect --plan wide.ini
refused "cells no register draws" 2 cell "$slotjig" expect --cells '#.......................................'
: >empty.mkv
refused "an empty recording" 2 empty.mkv "$slotjig" judge --plan small.ini empty.mkv
echo 'this is no video' >foreign.mkv
refused "a foreign file" 2 foreign.mkv "$slotjig" judge --plan small.ini foreign.mkv
# What cannot be read is inconclusive too: a script finds it, and why, where it looks for a verdict.
for file in empty.mkv foreign.mkv nothere.mkv; do
    refused "$file with JSON" 2 $file "$slotjig" judge --plan small.ini --json unread.json $file
    if grep -q '^ "verdict": "inconclusive"' unread.json && grep -q "^ \"problem\": \"$file: " unread.json &&
        grep -q '^ "exit": 2' unread.json && ! grep -q '"verdict": "[pf]a' unread.json; then
        ok "$file is inconclusive there"
    else
        not_ok "$file: $(cat unread.json)"
    fi
    rm -f unread.json
done

# A recording cut anywhere: never a fail, never a crash.
size=$(wc -c <small.mkv)
for part in 5 20 35 50 65 80 95; do
    head -c $((size * part / 100)) small.mkv >cut.mkv
    timeout 60 "$slotjig" judge --plan small.ini cut.mkv >out.txt 2>err.txt
    status=$?
    case $status in
    0 | 2 | 4) ok "cut at $part %" ;;
    *) not_ok "cut at $part % ended in $status: $(head -c 300 err.txt)" ;;
    esac
done
# Started anywhere (raw frames of 720 x 480 x 2 bytes).
for skip in 1 3 7; do
    tail -c +$((skip * 691200 + 1)) small.yuv >late.yuv
    ends "started $skip frames late" 0 "$slotjig" judge --plan small.ini late.yuv
done

# A picture that the capture cut off is no evidence, neither way.
if command -v ffmpeg >/dev/null; then
    for crop in 660:480:0:0 600:480:60:0 720:300:0:0; do
        ffmpeg -v error -y -i small.mkv -vf crop=$crop -c:v ffv1 crop.mkv
        ends "cropped to $crop" 4 "$slotjig" judge --plan small.ini crop.mkv
    done
else
    echo "skip cropped recordings: no ffmpeg"
fi

# Outputs: a link stays a link, an earlier run's failures do not stay, text that cannot be printed is an error.
: >real.json
ln -s real.json link.json
ends "output through a link" 0 "$slotjig" expect --plan small.ini --json link.json
verify "the link is still one, its target written" test -L link.json -a -s real.json
ends "a run into a used folder" 0 "$slotjig" run --plan small.ini --out broken --quiet
verify "nothing of the earlier run is left" test ! -e broken/failing.mkv -a -z "$(ls broken/step-*.png 2>/dev/null)"
mkdir 'o*' other
touch other/failing.mkv
ends "a run into a folder named like a pattern" 0 "$slotjig" run --plan small.ini --out 'o*' --quiet
verify "other folders are left alone" test -e other/failing.mkv
refused "image and listing in one file" 2 "file each" "$slotjig" rom --plan small.ini -o one --listing one
refused "text to a full device" 3 "standard output" sh -c '"$0" plan --plan bits >/dev/full' "$slotjig"
refused "a fault by eye" 2 "person" sh -c '"$0" run --by-eye --fault no-video' "$slotjig"
timeout 20 "$slotjig" run --by-eye --plan small.ini </dev/zero >out.txt 2>err.txt
verify "by eye, input without an end" test $? = 4
refused "control characters in a name" 2 "a?" "$slotjig" plan --plan "$(printf 'a\033[31m\nb')"

# The disk fills: exit 3, nothing under the final name.
(
    ulimit -f 200
    "$slotjig" grab --plan small.ini -o full.yuv >out.txt 2>err.txt
)
verify "a full disk ends in 3" test $? = 3
verify "a full disk leaves nothing" test ! -e full.yuv -a -z "$(ls full.yuv.* 2>/dev/null)"
(
    ulimit -f 2
    "$slotjig" expect --plan bits --json full.json >out.txt 2>err.txt
)
verify "a full disk under JSON ends in 3" test $? = 3
verify "a full disk leaves no JSON" test ! -e full.json -a -z "$(ls full.json.* 2>/dev/null)"
mknod full.dev c 1 7 2>/dev/null && { # needs root; a device must be written to, never replaced
    refused "a device that is full" 3 full.dev "$slotjig" expect --plan bits --json full.dev
    verify "the device is still one" test -c full.dev
}
mkfifo pipe.mkv
refused "a pipe is not recorded to" 2 pipe.mkv "$slotjig" grab --plan small.ini -o pipe.mkv
verify "the pipe is still one" test -p pipe.mkv
refused "standard output is full" 3 "standard output" sh -c '"$0" expect --plan bits --json - >/dev/full' "$slotjig"
exit $failed
