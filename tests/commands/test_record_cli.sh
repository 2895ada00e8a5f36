#!/bin/sh
# Runs that are recorded: read back by sqlite3(1), and held against result.json of the same run field by field (by
# SQLite's own JSON functions). What is not recorded, and a store that cannot be written.
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"
export XDG_DATA_HOME="$work/data" XDG_CONFIG_HOME="$work/config"
store=$XDG_DATA_HOME/slotjig/records.sqlite
command -v sqlite3 >tools.txt || {
    echo "skip records: no sqlite3(1); \`make setup\` installs it"
    exit 77
}

sql() { sqlite3 -batch -cmd '.timeout 10000' "${2:-$store}" "$1"; }
is() { # NAME WANTED SQL [STORE]
    is_got=$(sql "$3" "${4:-$store}")
    if [ "$is_got" = "$2" ]; then ok "$1"; else not_ok "$1 (got '$is_got', wanted '$2')"; fi
}
# One line for each figure that is not what the JSON says. A margin is kept to 1/10000, a place to 1/1000 of a sample.
differences() { # JSON ID
    sql "
WITH file AS (SELECT CAST(readfile('$1') AS TEXT) AS t),
     run AS (SELECT runs.*, setups.station, setups.bench, setups.cartridge, setups.command, setups.settings,
                    setups.image_hash, setups.by_eye, plans.name AS plan, plans.standard, consoles.name AS console
             FROM runs JOIN setups ON setups.id = runs.setup JOIN plans ON plans.id = setups.plan
                  JOIN states ON states.id = setups.state JOIN consoles ON consoles.id = states.console
             WHERE runs.id = $2),
     pairs(what, kept, told) AS (
         SELECT 'command', command, json_extract(t, '$.command') FROM run, file UNION ALL
         SELECT 'plan', plan, json_extract(t, '$.plan') FROM run, file UNION ALL
         SELECT 'standard', standard, json_extract(t, '$.standard') FROM run, file UNION ALL
         SELECT 'bench', bench, json_extract(t, '$.bench') FROM run, file UNION ALL
         SELECT 'exit', exit, json_extract(t, '$.exit') FROM run, file UNION ALL
         SELECT 'end', \"end\", CASE WHEN json_extract(t, '$.exit') = 3 THEN 3 WHEN json_extract(t, '$.verdict') = 'pass'
             THEN 0 WHEN json_extract(t, '$.verdict') = 'fail' THEN 1 ELSE 2 END FROM run, file UNION ALL
         SELECT 'margin', abs(margin / 10000.0 - json_extract(t, '$.margin')) < 0.000051, 1 FROM run, file UNION ALL
         SELECT 'seen', fields_seen, json_extract(t, '$.fields.seen') FROM run, file UNION ALL
         SELECT 'judged', fields_judged, json_extract(t, '$.fields.judged') FROM run, file UNION ALL
         SELECT 'unreadable', fields_unreadable, json_extract(t, '$.fields.unreadable') FROM run, file UNION ALL
         SELECT 'of', coverage_of, coalesce(json_extract(t, '$.coverage.of'), 0) FROM run, file UNION ALL
         SELECT 'wrong', coverage_wrong, coalesce(json_extract(t, '$.wrong.pictures'), 0) FROM run, file UNION ALL
         SELECT 'seed', seed, json_extract(t, '$.settings.seed') FROM run, file UNION ALL
         SELECT 'image', printf('%04x', image_hash), coalesce(json_extract(t, '$.settings.image_hash'),
             printf('%04x', image_hash)) FROM run, file UNION ALL
         SELECT 'raster', coalesce(abs(raster_left / 1000.0 - json_extract(t, '$.raster.left')) < 0.00051,
             json_extract(t, '$.raster') IS NULL AND raster_left IS NULL), 1 FROM run, file UNION ALL
         SELECT 'settings', json_remove(settings, '$.signal'), json_remove(json_extract(t, '$.settings'), '$.seed',
             '$.image_hash') FROM run, file WHERE json_extract(t, '$.settings') IS NOT NULL UNION ALL
         SELECT 'problem', coalesce(problem, ''), coalesce(json_extract(t, '$.problem'), '') FROM run, file UNION ALL
         SELECT 'findings', (SELECT coalesce(group_concat(kind || ':' || text, '|'), '') FROM (SELECT causes.kind,
             texts.text FROM findings JOIN causes ON causes.id = findings.cause JOIN texts ON texts.id = causes.text
             WHERE findings.run = $2 AND findings.trouble = 0 ORDER BY number)),
             (SELECT coalesce(group_concat(json_extract(value, '$.kind') || ':' || json_extract(value, '$.text'), '|'),
             '') FROM file, json_each(t, '$.findings')) UNION ALL
         SELECT 'id', $2, json_extract(t, '$.record.id') FROM file)
SELECT what, kept, told FROM pairs WHERE kept IS NOT told;
SELECT 'no run' WHERE NOT EXISTS (SELECT * FROM runs WHERE id = $2);"
}
id=0
recorded() { # NAME STATUS COMMAND...: leaves one run more, which says what the JSON says
    name=$1 status=$2
    shift 2
    call "$@" --json run.json
    id=$((id + 1))
    differing=$(differences run.json $id 2>&1)
    if [ "$got" = "$status" ] && [ -z "$differing" ] && [ "$(sql 'SELECT count(*) FROM runs')" = $id ]; then
        ok "$name is recorded"
    else
        not_ok "$name (exit $got, wanted $status; differing: $differing; $(head -c 600 err.txt))"
    fi
}
blobs() { # ID: names of what is kept of it by content
    sql "SELECT group_concat(name, ' ') FROM (SELECT labels.name FROM run_blobs JOIN labels ON labels.id = label WHERE
        run = $1 ORDER BY number)"
}

# ---- every kind of run ----
recorded "a pass" 0 "$slotjig" run --plan small.ini --out page
verify "the first pass of a console has its picture" test "$(blobs 1)" = "field"
verify "a page stands beside the pictures" grep -q '</html>' page/report.html
says "the terminal says which run it is" 'recorded as run 1, console virtual'
recorded "the same again" 0 "$slotjig" run --plan small.ini --quiet --out page
verify "the second pass needs none" test -z "$(blobs 2)"
verify "quiet says nothing" test ! -s out.txt
recorded "a console of its own" 0 "$slotjig" run --plan small.ini --console other
verify "has its own first pass" test "$(blobs 3)" = "field"
recorded "a fail" 1 "$slotjig" run --plan bits --fault bit-low=PF1.3 --impair noise=40 --seed 7
verify "keeps the field and eight failing steps" \
    test "$(blobs 4 | tr ' ' '\n' | sed 's/-.*//' | sort | uniq -c | tr -s ' \n' ' ')" = " 1 field 8 step "
call "$slotjig" history --quiet --jsonl all.jsonl
grep '"id":4,' all.jsonl >one.jsonl
wrong=$(sql "
WITH told AS (SELECT key AS k, value AS v FROM json_each(CAST(readfile('run.json') AS TEXT), '\$.steps')),
     kept AS (SELECT key AS k, value AS v FROM json_each(CAST(readfile('one.jsonl') AS TEXT), '\$.steps'))
SELECT count(*), sum(json_extract(told.v, '\$.name') IS NOT json_extract(kept.v, '\$.name') OR
    json_extract(told.v, '\$.mode') IS NOT json_extract(kept.v, '\$.mode') OR
    json_extract(told.v, '\$.registers') IS NOT json_extract(kept.v, '\$.registers') OR
    json_extract(told.v, '\$.expected') IS NOT json_extract(kept.v, '\$.expected') OR
    json_extract(told.v, '\$.seen') IS NOT json_extract(kept.v, '\$.seen') OR
    json_extract(told.v, '\$.verdict') IS NOT json_extract(kept.v, '\$.verdict') OR
    json_extract(told.v, '\$.fields') IS NOT json_extract(kept.v, '\$.fields') OR
    json_extract(told.v, '\$.failed_fields') IS NOT json_extract(kept.v, '\$.failed_fields') OR
    abs(json_extract(told.v, '\$.margin') - json_extract(kept.v, '\$.margin')) > 0.000051 OR
    abs(json_extract(told.v, '\$.offset_clocks') - json_extract(kept.v, '\$.offset_clocks')) > 0.00051)
FROM told JOIN kept USING (k)")
verify "its 98 steps come back" test "$wrong" = "98|0"
recorded "no video" 4 "$slotjig" run --plan small.ini --fault no-video
recorded "plan colours" 0 "$slotjig" run --plan colours
verify "keeps its table" test "$(blobs 6)" = "colours field"
recorded "plan moments" 0 "$slotjig" run --plan moments
verify "keeps its table" test "$(blobs 7)" = "moments field"
recorded "plan every" 0 "$slotjig" run --plan every:1024
recorded "plan every that fails" 1 "$slotjig" run --plan every:1024 --fault bit-high=PF2.0
printf '####................................####\n' >row.txt
recorded "a drawing" 0 "$slotjig" run --plan drawing:row.txt
recorded "another standard" 0 "$slotjig" run --plan small.ini --standard secam
is "the plan's text is the plan file" "name = small" \
    "SELECT substr(text, instr(text, 'name'), 12) FROM plans WHERE name = 'small' LIMIT 1"
is "and one plan in each standard" 2 "SELECT count(*) FROM plans WHERE name = 'small'"
sql "SELECT text FROM plans WHERE name = 'small' AND standard = 'ntsc'" >plan.txt
printf 'ntsc\0%s\n' "$(cat plan.txt)" | sha256sum | cut -d' ' -f1 >sum.txt
is "whose identity is sha256sum's of standard and text" "$(cat sum.txt)" \
    "SELECT hash FROM plans WHERE name = 'small' AND standard = 'ntsc'"
is "the store is sound" ok "PRAGMA integrity_check"
is "each reference leads somewhere" "" "PRAGMA foreign_key_check"

# ---- the page holds a run against its console's baseline ----
recorded "a console to be watched" 0 "$slotjig" run --plan bits --console watched --seed 3
ends "its baseline" 0 "$slotjig" baseline --console watched --run $id
recorded "the same console, broken since" 1 "$slotjig" run --plan bits --console watched --fault bit-low=PF1.3 --out since
verify "its page says what is new" grep -qi 'baseline' since/report.html
ends "the same without a record" 1 "$slotjig" run --plan bits --console watched --fault bit-low=PF1.3 --no-record \
    --out since
verify "likewise" grep -qi 'baseline' since/report.html

# ---- trouble ----
cat >benches.ini <<'INI'
[bench left]
kind = board
board = 9-9.9
screen = none
console = left one
revision = rev. 4
markings = CO10444, CO14577
modifications = new capacitors
station = workshop
video = file:small.mkv
[bench burner]
kind = board
command = true "{image}"
power = true {state}
screen = none
video = file:small.mkv
INI
mkdir -p config/slotjig
cp benches.ini config/slotjig/benches.ini
ends "a recording" 0 "$slotjig" grab --quiet --plan small.ini -o small.mkv
recorded "a board that is not there" 3 "$slotjig" run --bench left --plan small.ini
is "whose console is the bench's" "left one|rev. 4|CO10444, CO14577|new capacitors|workshop|usb" \
    "SELECT name, revision, markings, modifications, station, cartridge FROM setups JOIN states ON states.id = state
    JOIN consoles ON consoles.id = console WHERE setups.id = (SELECT setup FROM runs WHERE id = $id)"
recorded "another console on it" 3 "$slotjig" run --bench left --plan small.ini --console guest --station attic \
    --cartridge 'number 12' --on-for 12.5
is "is not described as the bench's" "guest||||attic|usb|number 12|1250" \
    "SELECT name, revision, markings, modifications, station, cartridge, serial, minutes_on FROM runs JOIN setups ON
    setups.id = setup JOIN states ON states.id = state JOIN consoles ON consoles.id = console WHERE runs.id = $id"
recorded "by a program, switched by another" 0 "$slotjig" run --bench burner --plan small.ini
is "whose console has just been switched on" "command|1" \
    "SELECT cartridge, minutes_on IS NOT NULL AND minutes_on < 100 FROM runs JOIN setups ON setups.id = setup WHERE
    runs.id = $id"
is "of a virtual one that is not known" 1 "SELECT minutes_on IS NULL FROM runs WHERE id = 1"

# ---- by eye, and a recording ----
printf 'y\nn\nlooks smeared\n' | "$slotjig" run --by-eye --plan small.ini --json run.json --out eye >out.txt 2>err.txt
verify "by eye" test $? = 1
id=$((id + 1))
verify "is recorded" test -z "$(differences run.json $id)"
is "as seen by a person" "1|none|seen by eye" \
    "SELECT by_eye, cartridge, name FROM runs JOIN setups ON setups.id = setup JOIN states ON states.id = state JOIN
    consoles ON consoles.id = console WHERE runs.id = $id"
verify "and has its page" grep -q '</html>' eye/report.html
printf 'y\n' | "$slotjig" run --by-eye --plan small.ini --console left --json run.json >out.txt 2>err.txt
verify "by eye, ended early" test $? = 4
id=$((id + 1))
verify "is recorded as it was left" test -z "$(differences run.json $id)"
is "which is said" "ended by a person; until then 1 of 3 steps were answered" "SELECT problem FROM runs WHERE id = $id"
recorded "a recording of a console" 0 "$slotjig" judge small.mkv --console 'left one'
verify "which the JSON names" grep -q '"console": "left one"' run.json
is "came from a file" "file|small.mkv" \
    "SELECT cartridge, bench FROM runs JOIN setups ON setups.id = setup WHERE runs.id = $id"
ends "a recording somewhere" 0 "$slotjig" judge "$work/small.mkv" --console 'left one'
id=$((id + 1))
is "is kept without its folder, which may be a person's" "small.mkv" \
    "SELECT bench FROM runs JOIN setups ON setups.id = setup WHERE runs.id = $id"
refused "a recording that is not there" 2 'nothere.mkv' "$slotjig" judge --plan small.ini nothere.mkv --console 'left one'
ends "a recording of nobody's" 0 "$slotjig" judge small.mkv --json run.json --out judged
verify "is not recorded" grep -q '"record": null' run.json
verify "and has its page" grep -q '</html>' judged/report.html
is "nor is wrong usage" $id "SELECT count(*) FROM runs"

# ---- an early end ----
"$slotjig" run --plan every --json run.json >out.txt 2>err.txt &
pid=$!
sleep 1
kill -TERM $pid
wait $pid
verify "a run that a person ends" test $? = 4
id=$((id + 1))
verify "is recorded" test -z "$(differences run.json $id)"
is "which is said" 1 "SELECT problem LIKE 'ended by a person; until then % pictures had their fields' FROM runs WHERE
    id = $id"

# ---- names ----
harm="'; DROP TABLE runs; -- \"<script>alert(1)</script>"
recorded "a console named to do harm" 0 "$slotjig" run --plan small.ini --console "$harm" --out harm
is "keeps its name" "$harm" "SELECT name FROM consoles WHERE name LIKE '%DROP%'"
verify "and does none" sh -c '! grep -q "<script>alert" harm/report.html'
refused "a name with a control character" 2 'console' "$slotjig" run --plan small.ini --console "$(printf 'a\001b')"
refused "a name that is not UTF-8" 2 'station' "$slotjig" run --plan small.ini --station "$(printf 'a\377')"
mkdir beside
ends "a store beside results" 0 "$slotjig" run --plan small.ini --store beside/difference.sqlite --quiet
ends "which are made anew" 0 "$slotjig" run --plan small.ini --store beside/difference.sqlite --quiet --out beside
verify "stays" test "$(sqlite3 beside/difference.sqlite 'select count(*) from runs')" = 2
refused "an empty name" 2 'console' "$slotjig" run --plan small.ini --console ''
refused "a name that looks like another's" 2 'blanks at an end' "$slotjig" run --plan small.ini --console 'virtual '
refused "a name that turns what stands beside it" 2 'hidden' "$slotjig" run --plan small.ini --station "$(printf '\342\200\256x')"
printf '[bench ill]\nkind = virtual\nrevision = a\001b\n' >ill.ini
refused "a benches file with one" 2 'ill.ini' "$slotjig" run --benches ill.ini --bench ill --plan small.ini
ends "the benches file" 0 "$slotjig" benches
says "shows what describes a console" 'console   left one; revision rev. 4; markings CO10444, CO14577; modifications: new'

# ---- without a store ----
mkdir none
ends "no record" 0 env XDG_DATA_HOME="$work/none" "$slotjig" run --plan small.ini --no-record --out bare --json run.json
verify "leaves no file" test -z "$(ls none)"
verify "and says so" grep -q '"record": null' run.json
verify "but has its page" grep -q '</html>' bare/report.html
ends "a store by name" 0 "$slotjig" run --plan small.ini --store "$work/deep/er/my.sqlite" --quiet
is "is made with its folders" 1 "SELECT count(*) FROM runs" "$work/deep/er/my.sqlite"
ends "HOME alone" 0 env -u XDG_DATA_HOME HOME="$work/home" "$slotjig" run --plan small.ini --quiet
verify "is enough" test -s home/.local/share/slotjig/records.sqlite
refused "nowhere to go" 3 '--no-record' env -u XDG_DATA_HOME -u HOME "$slotjig" run --plan small.ini
ends "which --no-record mends" 0 env -u XDG_DATA_HOME -u HOME "$slotjig" run --plan small.ini --no-record --quiet
for bad in /proc/none/x.sqlite /dev/full/x.sqlite; do
    refused "an unwritable store $bad" 3 '--no-record' "$slotjig" run --plan small.ini --store $bad --json run.json
    verify "was found out before anything was shown" test ! -s out.txt
done
refused "a store that is none" 2 'run.json' "$slotjig" run --plan small.ini --store run.json
cat >burn <<'SH'
#!/bin/sh
touch burnt
SH
chmod +x burn
printf '[bench b]\nkind = board\ncommand = "./burn" "{image}"\nscreen = none\nvideo = file:small.mkv\n' >burn.ini
refused "a store in /proc" 3 'no-record' "$slotjig" run --plan small.ini --benches burn.ini --bench b --store /proc/x
verify "and nothing was pushed" test ! -e burnt

# ---- a store that is lost on the way: everything else is told and written first ----
printf '#!/bin/sh\nrm -rf lost; touch lost\n' >burn
mkdir lost
printf 'power = true {state}\n' >>burn.ini
ends "a store that goes" 3 "$slotjig" run --plan small.ini --benches burn.ini --bench b --store lost/x.sqlite \
    --json run.json --out last
says "is told" 'the run was not recorded'
verify "once" test "$(grep -c 'the run was not recorded' err.txt)" = 1
says "after the report" 'pass  plan small'
verify "and written" grep -q '"verdict": "pass"' last/result.json
verify "with what is wrong" grep -q '"problem": "the run was not recorded' run.json
verify "and its status" grep -q '"exit": 3' run.json

# ---- within a sweep a run that a person ends is done again, and so not recorded: tests/commands/test_recorder.c ----

# ---- a store that another program has locked: waited for, and a person need not wait for it ----
mkdir held
"$slotjig" run --plan small.ini --store held/x.sqlite --quiet
until_true() { # COMMAND...: for fifteen seconds at most
    for i in $(seq 150); do
        "$@" && return
        sleep 0.1
    done
    return 1
}
is_locked() { ! sqlite3 -batch held/x.sqlite 'BEGIN IMMEDIATE; ROLLBACK;' 2>lock.txt; }
(
    echo 'BEGIN IMMEDIATE;'
    while [ ! -e release ]; do sleep 0.1; done
    echo 'COMMIT;'
) | sqlite3 -batch held/x.sqlite &
until_true is_locked
"$slotjig" run --plan small.ini --store held/x.sqlite --out impatient >out.txt 2>err.txt &
pid=$!
verify "is told the result before" until_true grep -q 'pass  plan small' out.txt
kill -TERM $pid
sleep 0.3
touch release
wait $pid
verify "and loses nothing" test $? = 0
is "not even the record" 2 "SELECT count(*) FROM runs" held/x.sqlite
verify "nor what was to be written" grep -q '"id": 2' impatient/result.json
wait

# ---- what recording costs ----
seconds() { # COMMAND...
    begun=$(date +%s%N)
    for i in 1 2 3 4 5; do
        "$@" >out.txt 2>err.txt
    done
    echo $((($(date +%s%N) - begun) / 5000000))
}
with=$(seconds "$slotjig" run --plan small.ini --quiet)
without=$(seconds "$slotjig" run --plan small.ini --quiet --no-record)
echo "a run of plan small: $with ms, $without ms with --no-record (mean of five)"

exit $failed
