#!/bin/sh
# Recordings of a good and of a broken console, made anew by FFmpeg's own program in the ways people do: the verdict
# and the findings must be those of the recording itself. And pictures of something else: never a verdict.
#
# PROOF=yes: every way with every step of plan bits, and lines `way NAME|VERDICT FINDING` for tests/proof/recordings.sh.
# SLOTJIG_SEED (1): the virtual bench's.
set -u
slotjig=$BUILD_DIR/slotjig
here=$SOURCE_DIR/tests/recordings
proof=${PROOF:-no}
seed=${SLOTJIG_SEED:-1}
fault=bit-low=PF1.3
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
failed=0

if ! command -v ffmpeg >/dev/null; then
    echo "skip recordings: no ffmpeg"
    exit 77
fi

report() { # NAME WHY: WHY is empty where all is well
    if [ -z "$2" ]; then
        echo "ok $1"
    else
        echo "not ok $1 ($2)"
        failed=1
    fi
}

# What a result says: verdict, then each finding's kind, register and bit, in one line.
said() {
    awk '
        /^ "verdict":/ {gsub(/[ ",]/, ""); sub(/verdict:/, ""); printf "%s", $0}
        /^ "findings": \[$/ {on = 1}
        /^ \]/ {on = 0}
        on && /^   "(kind|register|bit)":/ && !/null/ {gsub(/^ *"[a-z]*": *|[",]/, ""); printf " %s", $0}
        END {print ""}' "$1"
}

# judge PLAN FILE [OPTION...]: sets `answer`, and `status`. Bounded: video of any kind ends.
judge() {
    plan=$1 file=$2
    shift 2
    rm -f result.json
    timeout 120 "$slotjig" judge --quiet --plan "$plan" "$@" --json result.json "$file" >out.txt 2>err.txt </dev/null
    status=$?
    answer=$(if [ -s result.json ]; then said result.json; else echo "none: $(head -c 300 err.txt)"; fi)
}

record() { # NAME PLAN HOLD FIELDS [OPTION...]: NAME-good.mkv and NAME-bad.mkv
    name=$1 plan=$2 hold=$3 fields=$4
    shift 4
    "$slotjig" grab --quiet --seed "$seed" --plan "$plan" --hold "$hold" --fields "$fields" "$@" -o "$name-good.mkv" &&
        "$slotjig" grab --quiet --seed "$seed" --plan "$plan" --hold "$hold" --fields "$fields" "$@" --fault $fault -o "$name-bad.mkv" || exit 1
}

# What the recordings themselves say.
wanted() { # NAME PLAN [OPTION...]
    name=$1 plan=$2
    shift 2
    judge "$plan" "$name-good.mkv" "$@"
    good_answer=$answer
    report "$name: the good one passes" "$([ "$status" = 0 ] && [ "$answer" = pass ] || echo "exit $status, $answer")"
    judge "$plan" "$name-bad.mkv" "$@"
    bad_answer=$answer
    report "$name: the broken one is named" \
        "$([ "$status" = 1 ] && [ "$answer" = "fail bit_stuck_low PF1 3" ] || echo "exit $status, $answer")"
}

# way NAME SUFFIX FFMPEG-OPTION...: both recordings of the set in hand ($from, $plan_now, $more) go that way.
way() {
    way_name=$1 suffix=$2
    shift 2
    for kind in good bad; do
        if [ $kind = good ]; then exit_wanted=0 answer_wanted=$good_answer; else exit_wanted=1 answer_wanted=$bad_answer; fi
        if ! ffmpeg -v error -nostdin -y -i "$from-$kind.mkv" "$@" "made.$suffix" 2>ffmpeg.txt; then
            report "$from, $way_name, $kind" "ffmpeg: $(head -n 1 ffmpeg.txt)"
            continue
        fi
        # shellcheck disable=SC2086 # $more is words
        judge "$plan_now" "made.$suffix" $more
        if [ "$proof" = yes ]; then
            echo "way $from, $way_name, $kind|$answer"
        fi
        report "$from, $way_name, $kind" \
            "$([ "$status" = $exit_wanted ] && [ "$answer" = "$answer_wanted" ] || echo "exit $status, $answer; wanted $answer_wanted")"
        rm -f "made.$suffix"
    done
}

lossless="-c:v rawvideo"

lossy() {
    way h264-crf23 mkv -c:v libx264 -preset "$preset" -crf 23 -pix_fmt yuv420p
    way h264-crf28 mkv -c:v libx264 -preset "$preset" -crf 28 -pix_fmt yuv420p
    way mpeg2 mpg -c:v mpeg2video -q:v 5 -pix_fmt yuv420p
    way mjpeg-q5 avi -c:v mjpeg -q:v 5 -pix_fmt yuvj422p
}

# shellcheck disable=SC2086 # $lossless is words
levels_and_places() {
    way scaled-640-and-back nut -vf scale=640:480,scale=720:480 $lossless
    way noise nut -vf noise=alls=20:allf=t:all_seed=1 $lossless
    way unsharp nut -vf unsharp=5:5:1.5 $lossless
    way eq nut -vf eq=contrast=0.7:brightness=0.08:saturation=0.5 $lossless
    way shift-right-10 nut -vf pad=740:480:10:0,crop=720:480:0:0 $lossless
    way shift-left-10-up-10 nut -vf pad=740:500:0:0,crop=720:480:10:10 $lossless
}

# The recording is woven, bottom field first. Fields one by one go through `separatefields`.
# shellcheck disable=SC2086
packings() {
    way tinterlace-interlacex2 nut -vf tinterlace=interlacex2 $lossless
    way tinterlace-interleave-lowpass nut -vf tinterlace=interleave_top:flags=vlpf $lossless
    way tinterlace-merge nut -vf separatefields,tinterlace=merge $lossless
    way tinterlace-mergex2 nut -vf separatefields,tinterlace=mergex2 $lossless
    way tinterlace-pad nut -vf separatefields,tinterlace=pad $lossless
    way tinterlace-drop-even nut -vf separatefields,tinterlace=drop_even $lossless
    way stacked nut -vf separatefields,tile=1x2 $lossless
    way frames-twice nut -vf fps=60000/1001 $lossless
    way fields-mixed-in-time nut -vf separatefields,tmix=frames=2 $lossless
    way half-height nut -vf scale=720:240 $lossless
}

# shellcheck disable=SC2086
deinterlacers() {
    way yadif-0 nut -vf yadif=0 $lossless
    way yadif-1 nut -vf yadif=1:parity=bff $lossless
    way yadif-1-wrong-order nut -vf yadif=1:parity=tff $lossless
    way bwdif nut -vf bwdif=1:parity=bff $lossless
    if ffmpeg -v error -filters | grep -q ' pp '; then # libpostproc is left out of some builds
        way linear-blend nut -vf pp=lb $lossless
    else
        echo "skip linear-blend: this ffmpeg has no pp filter"
    fi
}

# A sanitizer sees as much in a few.
# shellcheck disable=SC2086
few_ways() {
    way mjpeg-q5 avi -c:v mjpeg -q:v 5 -pix_fmt yuvj422p
    way tinterlace-interleave-lowpass nut -vf tinterlace=interleave_top:flags=vlpf $lossless
    way stacked nut -vf separatefields,tile=1x2 $lossless
    way yadif-1 nut -vf yadif=1:parity=bff $lossless
}

all_ways() {
    if [ "${SLOTJIG_TEST_SMALL:-}" = 1 ]; then
        few_ways
        return
    fi
    lossy
    levels_and_places
    packings
    deinterlacers
}

other_picture() { # NAME FINDING SOURCE
    ffmpeg -v error -nostdin -y -f lavfi -i "$3" -frames:v 64 -c:v rawvideo -pix_fmt yuv422p other.nut 2>ffmpeg.txt || {
        report "$1" "ffmpeg: $(head -n 1 ffmpeg.txt)"
        return
    }
    judge "$plan_now" other.nut
    report "$1" "$([ "$status" = 4 ] && [ "$answer" = "inconclusive $2" ] && [ ! -s err.txt ] || echo "exit $status, $answer")"
    text=$(grep -o '"text": "[^"]*"' result.json | head -n 1)
    report "$1: it says what was seen" "$(echo "$text" | grep -q -E 'Seen: [0-9]+ (flat|without a slate|whose)|All of the last [0-9]+ fields were flat' || echo "$text")"
}

other_pictures() {
    other_picture testsrc2 no_slate testsrc2=size=720x480:rate=30
    other_picture mandelbrot no_slate mandelbrot=size=720x480:rate=30
    other_picture smptebars no_slate smptebars=size=720x480:rate=30
    other_picture "plain noise" no_slate "nullsrc=size=720x480:rate=30,geq=lum=random(1)*255:cb=128:cr=128"
    other_picture "one grey" no_video color=gray:size=720x480:rate=30
    # Other sizes than a grabber's.
    other_picture "testsrc2, wide" no_slate testsrc2=size=1920x1080:rate=30
    other_picture "testsrc2, tiny" no_video testsrc2=size=64x48:rate=30
}

preset=veryfast more=
if [ "$proof" = yes ]; then
    preset=medium
    record bits bits 8 820
    from=bits plan_now=bits
    wanted bits bits
    all_ways
else
    # Each step for eight fields: four are left where every other field is lost.
    record few "$here/few.ini" 8 84
    from=few plan_now=$here/few.ini
    wanted few "$plan_now"
    all_ways
fi
other_pictures

if [ "${SLOTJIG_TEST_SMALL:-}" != 1 ]; then
    record pal "$here/few.ini" 8 84 --standard pal
    from=pal plan_now=$here/few.ini more="--standard pal"
    wanted pal "$plan_now" --standard pal
    way h264-crf28 mkv -c:v libx264 -preset $preset -crf 28 -pix_fmt yuv420p
    # shellcheck disable=SC2086
    way yadif-1 nut -vf yadif=1:parity=tff $lossless
fi
if [ "${SLOTJIG_TEST_SMALL:-}" != 1 ] && [ "$proof" != yes ]; then
    record bits bits 4 420
    from=bits plan_now=bits more=
    wanted bits bits
    way h264-crf28 mkv -c:v libx264 -preset $preset -crf 28 -pix_fmt yuv420p
    way mjpeg-q5 avi -c:v mjpeg -q:v 5 -pix_fmt yuvj422p
fi
exit $failed
