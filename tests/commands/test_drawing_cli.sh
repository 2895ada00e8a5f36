#!/bin/sh
# Plan drawing on the command line: files of each kind, run, record and judge, export, windows, refusals.
. "$SOURCE_DIR/tests/commands/calls.sh"

# 40 by 20, by arithmetic: bits of the product of row and column.
awk 'BEGIN {
    print "P1\n# by arithmetic\n40 20"
    for (y = 1; y <= 20; y++) { for (x = 0; x < 40; x++) printf "%d ", int(x * y / 7) % 2; print "" }
}' >pic.pbm
awk 'NR > 3 { row = ""; for (i = 1; i <= NF; i++) row = row ($i ? "#" : "."); print row }' pic.pbm >pic.txt

ends "a PBM is drawn and passes" 0 "$slotjig" run --bench virtual --plan drawing pic.pbm --screen none --out out --json run.json
says "says so" "pass  plan drawing"
verify "the record holds the plan" test -s out/plan.ini
ends "the same as text, named with a colon" 0 "$slotjig" rom --plan drawing:pic.txt --screen none -o text.bin
ends "and as PBM" 0 "$slotjig" rom --plan drawing pic.pbm --screen none -o pbm.bin
# The names differ, but no image holds a name.
verify "are one image" cmp text.bin pbm.bin
ends "the plan that a run leaves" 0 "$slotjig" rom --plan out/plan.ini --screen none -o plan.bin
verify "is that image again" cmp plan.bin pbm.bin
ends "PAL has 204 rows" 0 "$slotjig" run --bench virtual --standard pal --plan drawing:pic.pbm --screen none

ends "a recording" 0 "$slotjig" grab --bench virtual --plan drawing:pic.pbm --screen none -o video.mkv
ends "is judged by the picture" 0 "$slotjig" judge --plan drawing:pic.pbm video.mkv
ends "is judged by its own plan" 0 "$slotjig" judge video.mkv
ends "a stuck bit is named" 1 "$slotjig" run --bench virtual --plan drawing:pic.pbm --screen none --fault bit-low=PF1.3
says "by register and bit" "PF1 D3 never lights"

ends "an export beside an image" 0 "$slotjig" rom --plan drawing pic.pbm --screen none -o x.bin --export x.asm
verify "has the routine" grep -q '^drawing_row$' x.asm
ends "an export alone" 0 "$slotjig" rom --plan drawing:pic.pbm --export -
says "goes to standard output" "jsr drawing"
refused "no export of another plan" 2 "only a drawing" "$slotjig" rom --plan bits --export x.asm

refused "windows are a drawing's" 2 "say --plan drawing FILE" "$slotjig" run --bench virtual --plan bits --windows x.json
refused "and lines are none of its" 2 "only plan every" "$slotjig" run --bench virtual --plan drawing pic.pbm --lines 2
refused "no file" 2 "name the picture" "$slotjig" run --bench virtual --plan drawing
refused "a file that is not there" 2 "cannot be read" "$slotjig" run --bench virtual --plan drawing:none.png
refused "a plan file is no picture" 2 "no row of 40 cells" "$slotjig" run --bench virtual --plan drawing small.ini
refused "a bad export path" 2 "nowhere" "$slotjig" rom --plan drawing pic.pbm --export nowhere/x.asm

# A console on which PF1 cannot be rewritten in mid-line: rows 2 and 3 need it. The rest is the handbook's.
window() { # REGISTER HALF FIRST LAST
    for mode in copy mirror; do
        echo "{\"register\":\"$1\",\"half\":\"$2\",\"mode\":\"$mode\",\"first_cycle\":$3,\"last_cycle\":$4}"
    done
}
{
    window PF0 left 0 19 && window PF1 left 0 25 && window PF2 left 0 35
    window PF0 right 30 46 && window PF2 right 51 62 && window COLUPF left 0 19 && window COLUBK left 0 19
} >all
{ echo '{"windows":[' && { cat all && window PF1 right null null; } | paste -sd, - && echo ']}'; } >without.json
{ echo '{"windows":[' && { cat all && window PF1 right 40 51; } | paste -sd, - && echo ']}'; } >with.json
cat >rows.txt <<'ROWS'
#...................#...................
.....#..............#...................
.....#..................................
#...................#...................
ROWS
refused "rows that a console cannot draw" 2 "rows 2-3 need PF1 rewritten in mid-line; no cycle fits" \
    "$slotjig" run --bench virtual --plan drawing rows.txt --windows without.json --screen none
ends "and one that can" 0 "$slotjig" run --bench virtual --plan drawing rows.txt --windows with.json --screen none --out own
verify "is vouched for" grep -q '^vouched = yes$' own/plan.ini
refused "a windows file that is none" 2 "rows.txt" \
    "$slotjig" run --bench virtual --plan drawing rows.txt --windows rows.txt --screen none
exit $failed
