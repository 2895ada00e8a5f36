#!/bin/sh
# Video on the command line: what stands beside a recording, kinds of grabber, the doctor's look at a video and the
# section it leaves, and what becomes of results when the bench is in trouble.
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"
XDG_CONFIG_HOME=$work/config
export XDG_CONFIG_HOME
sed 's/^name.*/&\nstandard = pal/' small.ini >small-pal.ini

# ---- what stands beside a recording ----
ends "grab" 0 "$slotjig" grab --plan small.ini --standard pal --seed 3 --grabber stick --impair left=70 -o one.mkv
for fact in '"standard": "pal"' '"plan": "small"' '"seed": "3"' '"grabber": "stick"' '"left=70"' '"hold": 4' \
    '"layout": "woven"' '"frames": 2[0-9]' '"image_hash": "[0-9a-f]*"' '"date": "20[0-9-]*T[0-9:]*Z"'; do
    verify "beside it stands $fact" grep -q -- "$fact" one.mkv.json
done
ends "judge needs no options" 0 "$slotjig" judge one.mkv --json one.json
says "and says where it has them from" 'note: plan and standard .* one.mkv.json'
verify "its JSON too" grep -q '"recording": "one.mkv.json"' one.json
ends "quietly" 0 "$slotjig" judge --quiet one.mkv
verify "nothing is said then" test ! -s err.txt
sed 's/"image_hash": "[0-9a-f]*"/"image_hash": "1234"/' one.mkv.json >two.mkv.json
cp one.mkv two.mkv
ends "another hash" 0 "$slotjig" judge two.mkv
says "is told" 'image 1234 was recorded'
ends "a plan that is named goes before" 4 "$slotjig" judge --plan bits one.mkv
says "the standard is still taken from there" 'note: standard of the recording as one.mkv.json'
mv one.mkv.json aside.json
ends "without the file beside it, the plan file says the standard" 0 "$slotjig" judge --plan small-pal.ini one.mkv
ends "and without either it is another's" 4 "$slotjig" judge --plan small.ini one.mkv
echo '{"what": "mine"}' >one.mkv.json
ends "a file beside it that is not ours is none" 4 "$slotjig" judge one.mkv
refused "and is not written over" 2 'not of a recording' "$slotjig" grab --plan small.ini -o one.mkv
verify "it stands as it was" grep -q mine one.mkv.json
sed 's/"image_hash": "[0-9a-f]*"/"image_hash": "12zz"/' two.mkv.json >one.mkv.json
ends "nor one with a hash that is none" 4 "$slotjig" judge one.mkv
echo '{' >one.mkv.json
ends "nor one that is no JSON" 4 "$slotjig" judge one.mkv
ends "a plan of one standard on a bench of another" 0 "$slotjig" run --plan small-pal.ini --standard ntsc --quiet
ends "a run writes the standard into its plan" 1 "$slotjig" run --plan small.ini --standard pal --fault bit-low=PF1.7 --out pal
ends "so its evidence needs no --standard" 1 "$slotjig" judge --plan pal/plan.ini pal/failing.mkv
printf '[plan]\nstandard = mesecam\n[step a]\nPF1 = 1\n' >bad.ini
refused "a standard that there is not" 2 'bad.ini:2' "$slotjig" run --plan bad.ini

# ---- what a bench of the benches file has is told too ----
printf '[bench ill]\nkind = virtual\nscreen = none\ngrabber = stick\nimpair = ghost=0.1:1.5\ngain = 0.9\nfault = bit-low=PF1.7\n' >ill.ini
ends "a broken bench of the file" 1 "$slotjig" run --plan small.ini --benches ill.ini --bench ill --noise 30 --json ill.json
tr -d ' \n' <ill.json >ill.txt
verify "its faults are told" grep -q '"faults":\["bit-low=PF1.7"\]' ill.txt
verify "and its impairments" grep -q '"impairments":\["ghost=0.1:1.5","gain=0.9","noise=30"\]' ill.txt
ends "recorded" 0 "$slotjig" grab --plan small.ini --benches ill.ini --bench ill -o ill.mkv
verify "they stand beside the recording" grep -q '"bit-low=PF1.7"' ill.mkv.json

# ---- pipes, threads, an early end ----
ends "grab ntsc" 0 "$slotjig" grab --plan small.ini -o n.mkv
"$slotjig" judge --plan small.ini - <n.mkv >out.txt 2>err.txt
verify "judge reads standard input" test $? = 0
for threads in 1 3; do
    ends "judge with $threads threads" 0 "$slotjig" judge n.mkv --threads $threads --json t$threads.json
done
verify "which is the same" cmp -s t1.json t3.json
refused "no threads" 2 'from 1 to' "$slotjig" judge n.mkv --threads 0
"$slotjig" grab --plan small.ini --fields 100000000 -o long.mkv >out.txt 2>err.txt &
pid=$!
for i in $(seq 400); do # until some rounds of the plan are in it, however slow this machine is now
    [ "$(cat long.mkv.part-* 2>/dev/null | wc -c)" -gt 1000000 ] && break
    sleep 0.05
done
kill -TERM $pid
wait $pid
verify "grab that is stopped ends well" test $? = 0
ends "and has kept what there was" 0 "$slotjig" judge long.mkv

# ---- kinds of grabber ----
for set in stacked single bob mjpeg top-first; do
    ends "run with the grabber $set" 0 "$slotjig" run --plan small.ini --grabber $set --hold 8 --out $set --json $set.json
    verify "which is told" grep -q "\"grabber\": \"$set\"" $set.json
    verify "with a picture of the field" test -s $set/field.png
    ends "a fault seen with it" 1 "$slotjig" run --plan small.ini --grabber $set --hold 8 --fault bit-low=PF1.7 --out $set --quiet
    ends "is seen again in what was kept" 1 "$slotjig" judge --plan $set/plan.ini $set/failing.mkv
    ends "grab with it" 0 "$slotjig" grab --plan small.ini --grabber $set --hold 8 -o $set.y4m
    ends "judge of that" 0 "$slotjig" judge --quiet $set.y4m
done
verify "stacked fields are found out" grep -q '"layout": "stacked"' stacked.json
verify "a field a frame too" grep -q '"layout": "single"' single.json
ends "a grabber that gives every frame twice" 0 "$slotjig" grab --plan small.ini --grabber pairs -o pairs.mkv
verify "takes twice the frames for as long a time" test "$(grep -o '"frames": [0-9]*' pairs.mkv.json | head -n 1 | tr -dc 0-9)" -ge 40
ends "judge of that too" 0 "$slotjig" judge --quiet pairs.mkv
refused "bare frames have one size only" 2 'let the name end in' "$slotjig" grab --plan small.ini --grabber single -o x.yuv
ends "two recordings of one name" 0 "$slotjig" grab --quiet --plan small.ini --grabber single -o stacked.y4m
verify "the later facts stand" grep -q '"grabber": "single"' stacked.y4m.json
refused "an unknown grabber" 2 'wobbly' "$slotjig" run --grabber wobbly
refused "an unknown impairment" 2 'wobble' "$slotjig" run --impair wobble=1
refused "an impairment by eye" 2 'person' "$slotjig" run --by-eye --impair noise=30
refused "noise out of range" 2 'from 0 to 200' "$slotjig" run --noise 300
ends "noise below the picture" 4 "$slotjig" run --plan small.ini --noise 0
printf '[bench n]\nnoise = 0\n' >n.ini
ends "and as a bench's key" 4 "$slotjig" run --benches n.ini --bench n --plan small.ini
printf '[bench g]\nnoise = 50\ngrabber = single\nimpair = left=60\nimpair = ghost=0.1:1.5\n' >g.ini
ends "a bench's grabber and impairments" 0 "$slotjig" benches --benches g.ini --json -
verify "the set does not undo what comes with it" grep -q '"noise": 50' out.txt
ends "a run on it" 0 "$slotjig" run --benches g.ini --bench g --plan small.ini --json g.json
verify "is one with a field a frame" grep -q '"layout": "single"' g.json

# ---- results when the bench is in trouble ----
printf '[bench left]\nkind = board\nboard = /dev/nothere\nvideo = file:n.mkv\n' >left.ini
ends "a run" 0 "$slotjig" run --plan small.ini --out kept --quiet
cp -r kept before
refused "a run without its board" 3 'kept keeps what an earlier run left' \
    "$slotjig" run --benches left.ini --bench left --plan small.ini --out kept --json now.json
verify "leaves an earlier run's folder alone" diff -r kept before
verify "and says in its JSON what happened" grep -q '"problem": ".*nothere' now.json
refused "by eye without the board" 3 'nothere' "$slotjig" run --by-eye --benches left.ini --bench left --plan small.ini --json eye.json
verify "leaves a JSON" grep -q '"exit": 3' eye.json
mkdir judged
touch judged/step-0007.png judged/other.txt
ends "judge into a used folder" 0 "$slotjig" judge --quiet --out judged n.mkv
verify "what an earlier one left is gone" test ! -e judged/step-0007.png -a -e judged/other.txt
printf '[bench hand]\nkind = board\nboard = none\nvideo = file:n.mkv\n' >hand.ini
ends "a bench without a board" 0 "$slotjig" run --benches hand.ini --bench hand --plan small.ini --json hand.json
verify "has no board in its JSON" grep -q '"board": null' hand.json
refused "nothing can be pushed to it" 2 'board = none' "$slotjig" push --benches hand.ini --bench hand --plan small.ini
refused "an input where there is no device" 2 'inputs' "$slotjig" run --benches hand.ini --bench hand --input 1
refused "grab from a bench with a recording" 2 'no video device' "$slotjig" grab --benches hand.ini --bench hand -o x.mkv

# ---- doctor ----
ends "doctor on the virtual bench" 0 "$slotjig" doctor --bench virtual --json d.json
for check in device standard signal slate raster margin fields; do
    says "looks at its $check" "^  ok  *$check"
done
verify "its JSON has the capture" grep -q '"layout": "woven"' d.json
ends "without a signal" 4 "$slotjig" doctor --bench virtual --seconds 1 --fault no-video
says "that is what is wrong" '^  ?  *signal'
says "and nothing behind it is looked at" '^  -  *slate  *not looked at'
ends "a console at fault is not blamed on the video" 1 "$slotjig" doctor --bench virtual --seconds 1 --fault no-console
ends "cells that cannot be read" 4 "$slotjig" doctor --bench virtual --noise 6 --seconds 1
says "are the margin's" '^  ?  *margin'
ends "fields lost" 0 "$slotjig" doctor --bench virtual --grabber drops --seconds 2
ends "a picture that stands still" 4 "$slotjig" doctor --bench virtual --fault frozen
says "is named, and not for fields lost" 'stands still'
ends "blended fields" 0 "$slotjig" doctor --bench virtual --grabber blend --seconds 1
says "are no matter of USB" 'turn off deinterlacing'
ends "a comb filter" 0 "$slotjig" doctor --bench virtual --grabber comb --json d.json
says "is told beside the checks" 'capture: comb_filter'
verify "and in the JSON" grep -q '"kind": "comb_filter"' d.json
verify "and no gain that hunts" sh -c '! grep -q gain_hunting d.json'
ends "doctor on a recording" 0 "$slotjig" doctor --video n.mkv
says "says that it is one" 'this is a recording'
ends "of another standard" 4 "$slotjig" doctor --video file:two.mkv
says "says which" 'standard = pal'
ends "and looks for that one when told" 0 "$slotjig" doctor --video file:two.mkv --standard pal
refused "a video for a bench that has its own" 2 'has its own' "$slotjig" doctor --bench virtual --video n.mkv
ends "a video that is not there" 3 "$slotjig" doctor --video nothere.mkv
says "is the device's" '^  TROUBLE  *device'
printf '[bench prog]\nkind = board\ncommand = burn {image}\nvideo = file:%s/n.mkv\n' "$work" >prog.ini
ends "a bench whose board cannot be asked" 4 "$slotjig" doctor --benches prog.ini --bench prog
says "has its video looked at" '^  ok  *margin'
printf '[bench blind]\nkind = board\ncommand = burn {image}\n' >blind.ini
ends "a bench without a video" 4 "$slotjig" doctor --benches blind.ini --bench blind
says "is told how to get one" 'doctor --write'
if command -v ffmpeg >/dev/null; then
    for source in testsrc2 smptebars; do
        ffmpeg -v error -y -f lavfi -i "$source=size=720x480:rate=30000/1001" -t 2 -c:v ffv1 $source.mkv
        ends "doctor on $source" 4 timeout 60 "$slotjig" doctor --video $source.mkv
        says "finds no slate" '^  ?  *slate'
        ends "judge of $source" 4 timeout 60 "$slotjig" judge --plan small.ini $source.mkv
    done
    ffmpeg -v error -y -i n.mkv -vf crop=720:300:0:0 -c:v ffv1 cut.mkv
    ffmpeg -v error -y -i n.mkv -vf yadif,scale=1280:720 -c:v ffv1 big.mkv
    ends "a picture that was scaled up" 4 "$slotjig" judge --plan small.ini big.mkv
    says "is told so, and the console is not blamed first" 'next: Frames of 720 lines were scaled up'
    ends "and by the doctor" 4 "$slotjig" doctor --video big.mkv
    says "in the same words" 'scaled up'
    ends "a picture cut off" 4 "$slotjig" doctor --video cut.mkv
    says "is the raster's" '^  ?  *raster'
    ffmpeg -v error -y -f lavfi -i "color=black:size=720x480:rate=30000/1001" -t 2 -c:v ffv1 black.mkv
    ends "a black one is no signal" 4 "$slotjig" doctor --write --video black.mkv
    says "of which nothing is written" 'nothing was written'
    verify "and no file is made" test ! -e config
else
    echo "skip other pictures: no ffmpeg"
fi

ends "a grabber that cuts a side off" 0 "$slotjig" grab --quiet --plan small.ini --impair crop=76:0:0:0 -o side.mkv
ends "leaves no slate" 4 "$slotjig" doctor --video side.mkv
says "and is told what to look for" 'cuts nothing off at a side'

# ---- doctor --write ----
ends "doctor writes a section" 0 "$slotjig" doctor --write --video two.mkv --bench right --json w.json
says "and says so" "written to $work/config/slotjig/benches.ini: \[bench right\]"
verify "which its JSON has" grep -q '"written": ".*bench right' w.json
verify "the standard was found by looking" grep -q '^standard = pal$' config/slotjig/benches.ini
ends "run works with it" 0 "$slotjig" run --bench right --plan small.ini
cat >config/slotjig/benches.ini <<'INI'
; what I have
[bench left]   ; the one by the window
kind = virtual
noise = 40     ; dB

[bench right]
kind = board
board = none   ; yet
video = none   ; to come
power = relay {state}

; the end
INI
ends "doctor writes into a section" 0 "$slotjig" doctor --write --video n.mkv --bench right
cat >wanted.ini <<INI
; what I have
[bench left]   ; the one by the window
kind = virtual
noise = 40     ; dB

[bench right]
kind = board
board = none   ; yet
video = file:$work/n.mkv   ; to come
power = relay {state}
standard = ntsc

; the end
INI
verify "all else stays byte for byte" cmp wanted.ini config/slotjig/benches.ini
ends "a bench without a name" 0 "$slotjig" doctor --write --video n.mkv
verify "gets one" grep -q '^\[bench console\]$' config/slotjig/benches.ini
ends "and another" 0 "$slotjig" doctor --write --video two.mkv --standard pal
verify "gets another" grep -q '^\[bench console2\]$' config/slotjig/benches.ini
ends "both are understood" 0 "$slotjig" benches
ends "run on the second" 0 "$slotjig" run --bench console2 --plan small.ini
cp config/slotjig/benches.ini before.ini
refused "the built-in bench needs no section" 2 'built in' "$slotjig" doctor --write --bench virtual
refused "a virtual one is no place for it" 2 'virtual one' "$slotjig" doctor --write --bench left --video n.mkv
refused "a name that is none" 2 'no name for a section' "$slotjig" doctor --write --bench 'a]b' --video n.mkv
ends "a video that is not there" 3 "$slotjig" doctor --write --bench right --video nothere.mkv
verify "nothing of all this was written" cmp before.ini config/slotjig/benches.ini
cp n.mkv 'odd ;name.mkv'
ends "a name that cannot stand in the file" 2 "$slotjig" doctor --write --bench odd --video 'odd ;name.mkv'
verify "is not written" cmp before.ini config/slotjig/benches.ini
printf 'stray = 1\n' >config/slotjig/benches.ini
refused "a place where no folder can be made" 2 'the folder cannot be made' "$slotjig" doctor --quiet --write --video n.mkv --benches /proc/none/benches.ini
verify "and no option that there is not is named" sh -c '! grep -q -- --out err.txt'
refused "a file with an error is not touched" 2 'benches.ini:1' "$slotjig" doctor --write --video n.mkv
verify "it stands as it was" grep -q '^stray = 1$' config/slotjig/benches.ini
exit $failed
