#!/bin/sh
# `ship` from its files to its pages: both ways, serials seen before, what is refused before anything is tested, what the
# bench spoils, hostile names, full disks. Records are read back by sqlite3(1).
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"
export XDG_DATA_HOME="$work/data" XDG_CONFIG_HOME="$work/config"
store=$XDG_DATA_HOME/slotjig/records.sqlite
command -v sqlite3 >tools.txt || {
    echo "skip ship: no sqlite3(1); \`make setup\` installs it"
    exit 77
}
sql() { sqlite3 -batch -cmd '.timeout 10000' "${2:-$store}" "$1"; }
is() { # NAME WANTED SQL
    is_got=$(sql "$3")
    if [ "$is_got" = "$2" ]; then ok "$1"; else not_ok "$1 (got '$is_got', wanted '$2')"; fi
}
holds() { # NAME JSON CONDITION: of t, the file's text, by SQLite's own JSON functions
    if [ "$(sql "WITH f AS (SELECT CAST(readfile('$2') AS TEXT) AS t) SELECT $3 FROM f" :memory:)" = 1 ]; then ok "$1"; else not_ok "$1: $3"; fi
}
ship() { # NAME STATUS SERIAL OPTIONS...
    name=$1 status=$2 serial=$3
    shift 3
    ends "$name" "$status" "$slotjig" ship --serial "$serial" "$@"
}

printf '[ship]\nscheme = 4K\nproduct = test\n[limits]\naccess_ns = 300\n' >both.ini
printf '[ship]\nscheme = F8\nways = reader\nimage = game.bin\n[limits]\nmargin_ns = 200\n' >reader.ini
printf '[ship]\nscheme = 4K\nways = console\n' >console.ini
awk 'BEGIN { for (i = 0; i < 8192; i++) printf "%c", 65 + (i * 7 + int(i / 4096) + int(i / 256)) % 57 }' >game.bin

# ---- refused, and nothing tested ----
refuse() { # NAME WORD OPTIONS...
    name=$1 word=$2
    shift 2
    refused "$name" 2 "$word" "$slotjig" ship "$@"
}
refuse "neither serial nor lot" "give --serial"
refuse "limits without a serial" "give --serial" --limits both.ini
refuse "an empty serial" "has 0 bytes" --serial '' --limits both.ini
refuse "a serial with a line feed" "control" --serial "$(printf 'a\nb')" --limits both.ini
refuse "a serial with an escape" "control" --serial "$(printf 'a\033[31mb')" --limits both.ini
refuse "a serial with DEL" "control" --serial "$(printf 'a\177')" --limits both.ini
refuse "a serial with C1" "control" --serial "$(printf 'a\302\205b')" --limits both.ini
refuse "a serial that turns its direction" "hidden" --serial "$(printf 'a\342\200\256b')" --limits both.ini
refuse "a serial that is no UTF-8" "UTF-8" --serial "$(printf 'a\377')" --limits both.ini
refuse "a serial with a blank before it" "blanks" --serial ' a' --limits both.ini
refuse "a serial with a blank behind it" "blanks" --serial 'a ' --limits both.ini
sixty_four=$(printf '%064d' 0)
refuse "a serial of 65 bytes" "has 65 bytes" --serial "${sixty_four}0" --limits both.ini
refuse "a lot with a tab" "lot: has control" --serial a --lot "$(printf 'a\tb')" --limits both.ini
refuse "a lot of 65 bytes" "lot: has 65 bytes" --serial a --lot "${sixty_four}0" --limits both.ini
refuse "no limits file" "none.ini: No such file" --serial a --limits none.ini
printf '[ship]\nscheme = F8\n[limits]\naccess_ns = 500\n' >far.ini
refuse "a limit out of its range, with file and line" "far.ini:4: access_ns = 500: give a number from 20 to 410" --serial a --limits far.ini
printf '[ship]\nscheme = F8\nspeed = 1\n' >key.ini
refuse "an unknown key" "key.ini:3: unknown key 'speed'" --serial a --limits key.ini
printf '[ship]\nscheme = F8\nways = console\n[limits]\nwake_ms = 1\n' >against.ini
refuse "limits that contradict" "against.ini:5: wake_ms is measured by the reader" --serial a --limits against.ini
head -c 4096 game.bin >small.bin
printf '[ship]\nscheme = F8\nimage = small.bin\n' >size.ini
refuse "an image of another size than the scheme" "small.bin: 4096 bytes, but scheme F8" --serial a --limits size.ini
refuse "a standard beside the limits file's" "not an option" --serial a --limits both.ini --standard pal
refuse "--again without limits" "again" --serial a --again
refuse "--out of what is on record" "out" --serial a --out x
refuse "nothing is on record" "nothing is recorded there yet" --serial a
verify "and nothing is" test ! -e "$store"
refuse "no such fault" "there is no such fault" --serial a --limits both.ini --fault nonsense

refuse "a reader that there is not, before the console" "no bench 'nope'" --serial a --limits both.ini --reader nope
verify "so no console was looked at" sh -c '! grep -q console: out.txt'
printf '[ship]\nscheme = 4K\nways = reader, console\n' >turned.ini
refuse "a console's refusal, before the reader" "both say how long" --serial a --limits turned.ini --hold 9 --calm
cp both.ini kept.ini
refuse "a page over the limits file" "needed and" --serial a --limits both.ini --html ./both.ini
refuse "a result over the image" "needed and" --serial a --limits reader.ini --json game.bin
refuse "page and result in one file" "a file each" --serial a --limits both.ini --json one --html one
verify "the limits file is as it was" cmp both.ini kept.ini
verify "and nothing is on record" test ! -e "$store"

# ---- tested ----
ship "a good one, both ways" 0 "S-1" --lot one --limits both.ini --out out --json good.json
says "says so" '^pass: S-1, lot one; test 1 of this serial'
verify "the page for its box" grep -q 'data-verdict=pass' out/box.html
verify "the console's own page" test -s out/console/report.html
verify "the reader's chart" test -s out/reader/reader.svg
is "a row, two runs with its serial" '1|pass|run,reader|S-1,S-1' "select count(distinct ships.id), case \"end\" when 0 then 'pass' end, (select group_concat(command) from (select command from runs join setups on setups.id = setup order by runs.id)), (select group_concat(serial) from runs join setups on setups.id = setup) from ships"
is "its limits file as it stands" "$(cat both.ini)" "select text from ships join texts on texts.id = limits"
is "its figures" 'access|margin|release|wake|differing readings|rounds' "select group_concat(name, '|') from (select name from ship_figures order by number)"
is "all kept" 6 'select sum(within) from ship_figures'
holds "JSON" good.json "t ->> 'verdict' = 'pass' AND t ->> 'serial' = 'S-1' AND t ->> 'attempt' = 1 AND json_array_length(t, '\$.figures') = 6 AND t -> 'findings' = '[]' AND t -> 'earlier' = '[]' AND t ->> 'console_run' = 1 AND t ->> 'reader_run' = 2"
ship "a slow one" 1 "S-2" --lot one --limits both.ini --fault cart-slow=all:330
says "is named" 'cartridge_slow'
says "and its figure" 'access *3[23][0-9] ns *at most 300 ns *NO'
ship "an open line" 1 "S-3" --lot one --limits both.ini --fault cart-open=A7
says "is named" 'cartridge_address_open A7'
ship "a limit, not a fault" 1 "S-4" --limits reader.ini --fault cart-slow=all:250
says "says which" 'margin *15[0-9] ns *at least 200 ns *NO'
ship "on a reader alone, with an image of its own" 0 "$sixty_four" --limits reader.ini
ship "with another image on it" 1 "S-6" --limits reader.ini --fault 'cart-byte=$0123:$10'
says "is named" 'cartridge_byte_wrong'
ship "in a console alone" 0 "S-7" --limits console.ini
# A contact that is open once in three million accesses: by these seeds one error in a minute, and 208.
printf '[ship]\nscheme = F8\nways = console\nsoak = 1\n[limits]\nsoak_errors = 1\n' >soak.ini
sed 's/= 1$/= 65535/; s/^soak = .*/soak = 1/' soak.ini >lenient.ini
ship "a soak with as many errors as it may have" 0 "K-1" --limits soak.ini --fault cart-loose=D3:0.0000003 --seed 7 --store soak.sqlite
ship "a byte that is wrong each time, whatever the limit" 1 "K-2" --limits lenient.ini --fault 'cart-byte=$0123:$10' --store soak.sqlite
ship "with more" 1 "K-3" --limits soak.ini --fault cart-loose=D3:0.0000003 --seed 8 --store soak.sqlite

# ---- what was rehearsed says so, whatever its verdict ----
says "on the terminal" 'rehearsed on a virtual bench: no cartridge was tested'
verify "on the page" grep -q 'Rehearsed on a virtual bench' out/box.html
holds "in JSON" good.json "json_extract(t, '\$.rehearsed') = 1"
ends "a recording of a console" 0 "$slotjig" grab --bench virtual --plan cartridge --scheme 2K -o own.mkv --fields 120
printf '[bench own]\nkind = board\nboard = none\nvideo = file:own.mkv\nscreen = none\n' >benches.ini
printf '[ship]\nscheme = 2K\nways = console\n' >own.ini
ship "on a bench that is none" 0 "R-1" --limits own.ini --benches benches.ini --bench own --html own.html --json own.json --store own.sqlite
verify "is no rehearsal" sh -c '! grep -qi rehearsed out.txt own.html'
holds "in JSON either" own.json "json_extract(t, '\$.rehearsed') = 0"
ends "the list of it" 0 "$slotjig" ship --list --store own.sqlite
verify "says nothing of one" sh -c '! grep -q rehearsed out.txt'
ends "the other list" 0 "$slotjig" ship --list
says "does" 'pass (rehearsed)'
ends "ship --help" 0 "$slotjig" ship --help
for key in scheme ram ways product standard image rounds soak access_ns margin_ns release_ns wake_ms differing soak_errors; do
    says "tells of $key" "^  $key = "
done
# Its own text, cut at the notes, is a limits file.
sed -n '/^  \[ship\]/,/^$/p' out.txt | sed 's/^  //; s/   *[^ ].*//; /^product/d; /^image/d; /^soak_errors/d' >told.ini
ship "a limits file out of the help" 0 "R-2" --limits told.ini --store told.sqlite

# ---- seen before ----
refused "a serial that has a verdict is not tested" 2 'has 1 verdict, the last pass on' "$slotjig" ship --serial S-1 --limits both.ini
says "but shown" '^ *1  S-1  *one '
is "and nothing written" 7 'select count(*) from ships'
ship "--again tests it" 1 "S-1" --lot one --limits both.ini --again --fault 'cart-byte=$0010:$01'
says "as its second test" 'test 2 of this serial'
is "the first stays" '1:0,2:1' "select group_concat(attempt || ':' || \"end\") from (select * from ships where serial = 'S-1' order by id)"
ends "its tests are listed" 0 "$slotjig" ship --serial S-1 --json tests.json --html box.html
holds "all of them" tests.json "json_array_length(t) = 2 AND t ->> '\$[0].verdict' = 'pass' AND t ->> '\$[1].verdict' = 'fail'"
verify "the page is the last verdict's" grep -q 'data-verdict=fail data-attempt=2' box.html

# ---- spoilt ----
ship "pulled in the middle, in the console" 3 "S-8" --lot one --limits console.ini --fault cart-pulled=0.5
says "says so" 'picture went away'
ship "is no verdict: the same again needs no leave" 3 "S-8" --lot one --limits reader.ini --fault cart-pulled=0.5
says "pulled on the reader" 'was pulled out'
is "both are on record as trouble" '3:,3:' "select group_concat(\"end\" || ':') from (select * from ships where serial = 'S-8')"
is "and so are their runs" '3,3' "select group_concat(\"end\") from (select \"end\" from runs join setups on setups.id = setup where serial = 'S-8')"
ship "and then it passes" 0 "S-8" --lot one --limits console.ini
ship "without a picture nothing is known" 4 "S-9" --lot one --limits console.ini --fault no-video

refuse "page and result of a record in one file" "a file each" --serial S-8 --json one --html one
ends "what is on record of it" 0 "$slotjig" ship --serial S-8
says "tells why it was spoilt, not what was not seen then" ' 1 .* trouble .*picture went away'

# ---- the lot ----
ends "a lot" 0 "$slotjig" ship --lot one --json lot.json --html lot.html
holds "counts its cartridges" lot.json "t ->> 'cartridges' = 5 AND t ->> 'tests' = 8 AND t ->> 'tested_again' = 1 AND json(t -> 'verdicts') = '{\"pass\":1,\"fail\":3,\"inconclusive\":1,\"trouble\":0}' AND t ->> '\$.yield.passed' = 1 AND t ->> '\$.yield.of' = 4 AND t ->> '\$.first_yield.passed' = 2"
holds "causes add up to the failed" lot.json "(SELECT sum(value ->> 'first') FROM json_each(t, '\$.causes')) = 3"
verify "and so does the page" grep -q 'data-tested=4 data-passed=1 data-failed=3 data-first=2' lot.html
ends "all of them" 0 "$slotjig" ship --list --json list.json
holds "in the order of their tests" list.json "(SELECT group_concat(value ->> 'id') FROM json_each(t)) = '1,2,3,4,5,6,7,8,9,10,11,12'"
refused "no such lot" 2 'no test of it is on record' "$slotjig" ship --lot two

# ---- soak ----
printf '[ship]\nscheme = 2K\nways = console\nsoak = 1\n' >soak.ini
ship "a minute's soak" 0 "S-10" --limits soak.ini
says "says first what it needs" 'double-insulated, of the right voltage and the right polarity'
says "nothing that burns" 'nothing that burns'
says "and dims the picture" 'a picture that stands still burns in'
says "and counts errors" 'errors in soak *0 *at most 0'
printf '[ship]\nscheme = 2K\nways = console\nsoak = 600\n' >long.ini
call timeout --preserve-status -s INT 1 "$slotjig" ship --serial S-11 --limits long.ini
verify "a soak that a person stops is no pass" test "$got" = 3
says "and says so" 'a person stopped it before it was done'

# ---- names ----
evil="'; DROP TABLE ships; -- <script>alert(1)</script> \"%s"
ship "a hostile serial and lot" 0 "$evil" --lot "$evil" --limits reader.ini --html evil.html --json evil.json
is "is a text" "$evil|$evil" "select serial, lot from ships where id = (select max(id) from ships)"
holds "in JSON" evil.json "t ->> 'serial' = '$(printf %s "$evil" | sed "s/'/''/g")' AND t ->> 'lot' = t ->> 'serial'"
verify "and no markup in HTML" sh -c '! grep -q "<script" evil.html && grep -q "&lt;script&gt;" evil.html'
ends "nor in the lot's page" 0 "$slotjig" ship --lot "$evil" --html evil-lot.html
verify "of that name" sh -c '! grep -q "<script" evil-lot.html && grep -q "&lt;script&gt;" evil-lot.html'

# ---- a limit of as much as can be measured ----
printf '[ship]\nscheme = 4K\nways = reader\n[limits]\nwake_ms = 2000\n' >late.ini
ship "later than can be measured is a fail" 1 S-late --limits late.ini --fault cart-late=2002
is "and its figure is not within a limit of that" 0 "SELECT within FROM ship_figures WHERE name = 'wake' AND ship = (SELECT id FROM ships WHERE serial = 'S-late')"

# ---- files ----
refuse "a page that cannot be written" "evil.html/x" --serial S-12 --limits console.ini --html evil.html/x
refuse "two on standard output" "one format" --serial S-12 --limits console.ini --html - --json -
ends "JSON on standard output is JSON alone" 0 "$slotjig" ship --serial S-12 --limits console.ini --json -
holds "indeed" out.txt "t ->> 'serial' = 'S-12'"
mkdir locked
if [ "$(id -u)" != 0 ]; then
    chmod 555 locked
    refused "a store that cannot be written" 2 'cannot be' "$slotjig" ship --serial S-13 --limits console.ini --store locked/x.sqlite
    chmod 755 locked
fi
refused "a store that is none" 2 'no store of records' "$slotjig" ship --serial S-13 --limits console.ini --store game.bin
refused "a store in no folder" 2 'cannot be' "$slotjig" ship --serial S-13 --limits console.ini --store /proc/none/x.sqlite
cp "$store" full.sqlite
call sh -c 'ulimit -f 66; exec "$0" ship --serial S-13 --limits console.ini --store full.sqlite --html full.html --json full.json' "$slotjig"
verify "a full disk is trouble" test "$got" = 3
says "which says that it does not count" 'was not recorded, so it does not count'
verify "and leaves no page for a box" test ! -e full.html
verify "and a store that is whole" test "$(sql 'pragma integrity_check; select count(*) from ships where serial = "S-13"' full.sqlite | tr '\n' ' ')" = "ok 0 "
exit $failed
