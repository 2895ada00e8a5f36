#!/bin/sh
# FFmpeg's filter `photosensitivity` as a witness: the virtual bench's video of plans at full speed and shown calmly,
# and what the filter makes of it, beside what `plan --flashes` says.
#
# The filter knows no flashes: it adds up how much an 8 by 8 grid of means changes from frame to frame, newer changes
# weighing more, and calls that badness; 1 is where it begins to soften the video (libavfilter/vf_photosensitivity.c,
# seen in FFmpeg 5.1 and 6). A single cut from black to white is 3.2, so its 1 is no limit of WCAG's or BT.1702's. Two
# ways to hold it against them:
# - by a scale: black and white in turn, all over, three times a second are just within both limits [A: six changes],
#   so what is worse than that is over, of the same place (10 degrees of the screen);
# - plan every draws so finely that the grid's means hardly move; there the filter's own 1 is the measure.
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"

if ! ffmpeg -hide_banner -h filter=photosensitivity 2>/dev/null | grep -q bypass; then
    echo "skip witness: no ffmpeg with the filter photosensitivity"
    exit 77
fi
small=${SLOTJIG_TEST_SMALL:-}
degrees=crop=240:80:240:80 # 1/3 of 720 and of 240, below the slate

# The filter's badness of each frame, one a line.
badness() { # FILTERS INPUT...
    filters=$1
    shift
    ffmpeg -v error -nostdin "$@" -vf "$filters,photosensitivity=bypass=1,metadata=print:file=-" -f null - |
        sed -n 's/^lavfi.photosensitivity.badness=//p'
}
worst() { sort -g | tail -n 1; }
square() { # FIELDS: black and white in turn, each for so many
    badness null -f lavfi -i "color=black:s=240x80:r=60000/1001:d=3,geq=lum='if(lt(mod(N,2*$1),$1),16,235)':cb=128:cr=128"
}
above() { awk -v a="$1" -v b="$2" 'BEGIN {exit !(a > b * 1.005)}'; }
not_above() { ! above "$1" "$2"; }
record() { # NAME PLAN HOLD FIELDS
    "$slotjig" grab --quiet --plan "$2" --hold "$3" --fields "$4" -o "$1.mkv" || not_ok "recording of $2"
}
we_say() { # PLAN HOLD OVER|under: of WCAG's general flashes
    call "$slotjig" plan --plan "$1" --flashes --hold "$2"
    grep -q "asked for, --hold $2: $3 " out.txt
}
# Ours and the filter's word are the same.
both() { # PLAN HOLD FIELDS OVER|under
    record take "$1" "$2" "$3"
    found=$(badness "separatefields,$degrees" -i take.mkv | worst)
    test=not_above
    [ "$4" = OVER ] && test=above
    verify "plan $1, --hold $2: the filter finds it $4 ($found, three a second all over are $limit)" $test "$found" "$limit"
    verify "plan $1, --hold $2: so do we" we_say "$1" "$2" "$4"
}

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
limit=$(square 10 | worst)
verify "the filter gives a scale ($limit)" above "${limit:-0}" 1
verify "3.3 flashes a second are worse than 3" above "$(square 9 | worst)" "$limit"
verify "2.7 are less" above "$limit" "$(square 11 | worst)"

both blink.ini 4 120 OVER
both blink.ini 10 120 under
if [ -z "$small" ]; then
    both bits 4 320 OVER
    both bits 10 700 under
    both colours 4 300 under
fi

# The first second begins with a cut from black.
exceeded() { tail -n +61 | awk '$1 >= 1 {n++} END {printf "%.0f\n", NR ? 100 * n / NR : -1}'; }
for hold in 1 10; do
    record every every $hold 180
    badness separatefields -i every.mkv | exceeded >exceeded-$hold
done
fast=$(cat exceeded-1) calm=$(cat exceeded-10)
verify "plan every, --hold 1: the filter would soften most fields ($fast %)" test "$fast" -gt 50
verify "plan every, --hold 10: it would soften none ($calm %)" test "$calm" = 0
verify "plan every, --hold 1: we say over" we_say every 1 OVER
verify "plan every, --hold 10: we say under" we_say every 10 under
exit $failed
