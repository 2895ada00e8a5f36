#!/bin/sh
# `sweep` as a user, a robot and a bad day meet it: a shelf on two benches, faults found, consoles put in one after
# another, kill -9 and Ctrl-C in the midst, and going on. Virtual benches; the consoles that must be put in are
# recordings of them. What is counted is read from the store with the sqlite3 program.
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"
store=$work/records.sqlite
XDG_DATA_HOME=$work/data
export XDG_DATA_HOME
small=${SLOTJIG_TEST_SMALL:-}

cat >benches.ini <<'INI'
[bench left]
kind = virtual
screen = none
[bench right]
kind = virtual
screen = none
[bench tape]
kind = board
board = none
video = file:small.mkv
screen = none
[bench lost]
kind = board
board = none
video = file:nothere.mkv
screen = none
INI
printf '[step one]\nPF1 = $81\n[step two]\nmode = mirror\nPF0 = %%10100000\n' >two.ini

sweep() { # ARGUMENTS...: on the benches of this folder
    timeout 120 "$slotjig" sweep --benches benches.ini --store "$store" "$@"
}
begin() { # ARGUMENTS...: as a program of its own, `sweeping`, that hears Ctrl-C, which a shell takes from it
    env --default-signal=INT setsid "$slotjig" sweep --benches benches.ini --store "$store" "$@" >out.txt 2>err.txt &
    sweeping=$!
}
run_at_work() { # sets `run` to the process of a run that begin() has started
    run=
    for i in $(seq 1 1000); do
        run=$(cut -d ' ' -f 1 "/proc/$sweeping/task/$sweeping/children" 2>/dev/null) && [ -n "$run" ] && return
        sleep 0.01
    done
}
sweeps() { # NAME STATUS ARGUMENTS...
    name=$1 status=$2
    shift 2
    ends "$name" "$status" "$slotjig" sweep --benches benches.ini --store "$store" "$@"
}
bad() { # NAME WORD ARGUMENTS...
    name=$1 word=$2
    shift 2
    refused "$name" 2 "$word" "$slotjig" sweep --benches benches.ini --store "$store" "$@"
}
count() { # SQL
    sqlite3 "$store" "$1"
}
json() { # FILE PATH
    sqlite3 :memory: "select json_extract(readfile('$1'), '$2')"
}
standing() { # FILE CONSOLE PLAN
    sqlite3 :memory: "select json_extract(value, '\$.standing') from json_each(readfile('$1'), '\$.standings')
        where json_extract(value, '\$.console') = '$2' and json_extract(value, '\$.plan') = '$3'"
}
same() { # NAME WANTED GOT
    if [ "$2" = "$3" ]; then ok "$1"; else not_ok "$1: $3, wanted $2"; fi
}

# ---- a shelf: two plans by five consoles by three repeats on two benches at once ----
cat >shelf.ini <<'INI'
[sweep]
name = shelf
plan = bits
plan = two.ini
repeats = 3
[console alpha]
bench = left
[console beta]
bench = left
fault = bit-low=PF1.3
[console gamma]
bench = left
[console delta]
bench = right
fault = flaky=PF1.7:low:0.05
[console <script>alert(1)</script>]
bench = right
revision = "4'; drop table runs; --
INI
sweeps "a shelf with faults ends in 1" 1 shelf.ini --json shelf.json --out shelf
for file in report.html junit.xml runs.jsonl steps.csv; do
    verify "it leaves $file" test -s shelf/$file
done
says "and says so" '^shelf: report.html, junit.xml, runs.jsonl, steps.csv'
same "a row of JSON for each run" "$(count 'select count(*) from runs')" "$(wc -l <shelf/runs.jsonl)"
same "a good console passes" pass "$(standing shelf.json alpha bits)"
same "a good console passes the other plan" pass "$(standing shelf.json gamma two.ini)"
same "a stuck bit is found" fail "$(standing shelf.json beta bits)"
same "a bit that comes and goes is no pass" 0 "$(standing shelf.json delta bits | grep -c pass)"
same "a hostile name passes, too" pass "$(standing shelf.json '<script>alert(1)</script>' bits)"
same "each repeat was run" 30 "$(count 'select count(distinct item) from runs')"
# Retries: one for each repeat that did not pass at first [A].
same "as many retries as first attempts that did not pass" \
    "$(count 'select count(*) from runs where attempt is null and "end" <> 0')" "$(count 'select count(*) from runs where attempt = 2')"
same "no seed was used twice" "$(count 'select count(*) from runs')" "$(count 'select count(distinct seed) from runs')"
same "the interval of three in three" 0.438503 "$(json shelf.json '$.standings[0].rate_low')" # 3 / (3 + 1.959964^2) [A]
says "the matrix names the run" 'run [0-9].*fail: PF1 D3'
says "and the seed" '--seed 1'

printf '[console often]\nbench = left\nfault = flaky=PF1.7:low:0.2\n' >flaky.ini
sweeps "a fault that comes and goes ends in 1" 1 flaky.ini --plan two.ini --repeats 8 --json flaky.json
same "and is called unsteady" unsteady "$(standing flaky.json often two.ini)"
verify "some of its repeats passed at once" test "$(json flaky.json '$.standings[0].passed')" -gt 0

sweeps "all good ends in 0" 0 --plan two.ini --bench left --bench right --repeats 2 --json good.json
same "nothing is left" 0 "$(json good.json '$.runs_left')"
sweeps "nothing readable ends in 4" 4 --plan two.ini --fault no-video --retries 0
sweeps "no file but options, quiet" 0 --plan two.ini --quiet
verify "quiet says nothing" test ! -s out.txt -a ! -s err.txt
sweeps "JSON alone on standard output" 0 --plan two.ini --anew --json -
verify "it is JSON" sh -c "sqlite3 :memory: \"select json_valid(readfile('out.txt'))\" | grep -q 1"

# ---- a bench whose device is lost ----
before=$(count 'select count(*) from runs')
sweeps "a lost device ends in 3" 3 --plan two.ini --bench lost --bench right --repeats 2 --retries 2 --json lost.json
same "it is bench trouble" trouble "$(standing lost.json lost two.ini)"
same "the other bench passes" pass "$(standing lost.json right two.ini)"
same "each attempt is on record" 8 $(($(count 'select count(*) from runs') - before)) # 2 x 3 + 2 [A]
says "and why" 'nothere.mkv: cannot be opened'
sweeps "a bench in trouble gives up" 3 --plan two.ini --bench lost --repeats 20 --retries 0 --json lost.json
same "and keeps what it had left" 17 "$(json lost.json '$.runs_left')" # 20 less three in a row [A]

# ---- consoles put in one after another ----
"$slotjig" grab --plan two.ini -o small.mkv >out.txt 2>&1 || not_ok "a recording for the bench"
printf '[sweep]\nplan = two.ini\n[console a]\nbench = tape\n[console b]\nbench = tape\n[console c]\nbench = tape\n' >three.ini
asked() { # NAME STATUS ANSWERS ARGUMENTS...
    name=$1 status=$2 answers=$3
    shift 3
    printf "$answers" | sweep "$@" >out.txt 2>err.txt
    got=$?
    if [ "$got" = "$status" ]; then ok "$name"; else not_ok "$name (exit $got, wanted $status: $(cat out.txt err.txt))"; fi
}
asked "Enter for each console" 0 '\n\n\n' three.ini
says "it says which console" 'Bench tape: '
says "and to switch off first" 'switch console a off'
asked "no answers: nothing is done" 3 '' three.ini --anew
says "and how to go on" 'say the same again, without --anew, to go on'
asked "a robot" 0 'ready\nready\nready\n' three.ini --robot --anew --quiet
printf 'put-in\ttape\ta\nput-in\ttape\tb\nput-in\ttape\tc\n' >wanted.txt
verify "a robot's requests alone on standard output" cmp -s wanted.txt out.txt
same "minutes since power-on are kept" 3 "$(count 'select count(*) from (select minutes_on from runs order by id desc limit 3) where minutes_on >= 0')"
asked "skip leaves a console" 3 'ready\nskip\nready\n' three.ini --robot --anew --json skip.json
same "that one is open" open "$(standing skip.json b two.ini)"
same "the others are done" pass "$(standing skip.json c two.ini)"
asked "the same again asks for that alone" 0 'ready\n' three.ini --robot --json skip.json
verify "for no other" sh -c "grep -c put-in out.txt | grep -qx 1 && grep -q 'put-in	tape	b' out.txt"
same "and went on" 1 "$(json skip.json '$.went_on')"
asked "stop" 3 'ready\nstop\nready\n' three.ini --robot --anew --json stop.json
same "stop leaves two" 2 "$(json stop.json '$.runs_left')"
asked "the end of answers" 3 'ready\n' three.ini --robot --json stop.json
same "the end of answers leaves one" 1 "$(json stop.json '$.runs_left')"
mkfifo answers.fifo requests.fifo
sweep three.ini --robot --anew --quiet <answers.fifo >requests.fifo 2>err.txt &
sweeping=$!
exec 7>answers.fifo 8<requests.fifo
robot=''
while read -r word bench console <&8; do # a robot: one answer for each request
    robot="$robot $word-$bench-$console"
    echo ready >&7
done
exec 7>&- 8<&-
wait $sweeping
same "a robot over two pipes" 0 $?
same "it was asked three times" " put-in-tape-a put-in-tape-b put-in-tape-c" "$robot"
exec 9<>answers.fifo # somebody who never says a word
sweep three.ini --robot --anew --patience 1 --json wait.json <&9 >out.txt 2>err.txt
same "patience has an end" 3 $?
exec 9>&-
says "and it is said" 'nobody put a console in'

# ---- a bad day ----
repeats=8
[ -n "$small" ] && repeats=4
asked_runs=$((2 * repeats))
printf '[sweep]\nplan = bits\nrepeats = %d\n[console a]\nbench = left\n[console b]\nbench = right\n' $repeats >long.ini
store=$work/killed.sqlite
moments() { # SEED N: seconds, from 0 to 0.3 s
    awk -v seed="$1" -v n="$2" 'BEGIN { srand(seed); for (i = 0; i < n; i++) printf "%.3f\n", 0.3 * rand() }'
}
for moment in $(moments 7 8); do
    begin long.ini --quiet
    sleep "$moment"
    kill -9 $sweeping 2>/dev/null
    wait $sweeping 2>/dev/null
done
sweeps "after eight kills -9 it goes on to its end" 0 long.ini --json killed.json
# A machine so fast that a sweep is done within these moments begins another one: each must be whole.
whole=$(count 'select count(*) from sweeps')
verify "some of the nine went on with what was there (seed 7)" test "$whole" -lt 9
same "exactly the runs that were asked for" $((whole * asked_runs)) "$(count 'select count(*) from runs')"
same "none of them twice" $((whole * asked_runs)) "$(count 'select count(distinct item) from runs')"
same "the store is sound" ok "$(count 'pragma integrity_check')"
sweeps "done once, it is another one the next time" 0 long.ini --quiet
same "one sweep more" $((whole + 1)) "$(count 'select count(*) from sweeps')"
sed -i 's/^plan = bits/plan = two.ini/' long.ini
sweeps "other plans are another sweep" 0 long.ini
says "and that is said" 'of that name had other plans'
verify "no lock is left" test -z "$(ls "$work" | grep sqlite-sweep)"

# Ctrl-C, as a terminal sends it to all of them.
store=$work/stopped.sqlite
sed -i 's/^plan = two.ini/plan = bits/' long.ini
begin long.ini --plan moments --json stopped.json
run_at_work
kill -INT -$sweeping
wait $sweeping
same "Ctrl-C ends in 3" 3 $?
verify "what it cut off is not on record" test "$(count 'select count(*) from runs')" = "$(count 'select count(*) from runs where "end" = 0')"
verify "and is left" test "$(json stopped.json '$.runs_left')" -gt 0
says "it says how to go on" 'say the same again'

# A run's process is killed: bench trouble, tried again.
store=$work/shot.sqlite
begin --plan moments --bench left --json shot.json
run_at_work
kill -9 $run
wait $sweeping
same "a run that was killed and passed then is unsteady" 1 $?
same "so it is called" unsteady "$(standing shot.json left moments)"
verify "why is on record" sh -c "sqlite3 '$store' 'select text from texts' | grep -q 'signal 9'; sqlite3 '$store' 'select problem from runs' | grep -q 'signal 9'"

# A plan file changed in the midst of it ends it: nothing else is run under its name.
store=$work/changed.sqlite
cp two.ini changing.ini
begin --plan changing.ini --bench left --bench right --repeats 500 --quiet
for i in $(seq 1 1000); do # until a run is on record
    [ -s "$store" ] && [ "$(count 'select count(*) from runs' 2>&1)" -gt 0 ] 2>/dev/null && break
    sleep 0.01
done
printf '[step one]\nPF1 = $7E\n' >changing.ini
wait $sweeping
same "a plan changed meanwhile ends in 2" 2 $?
says "and it is said" 'changing.ini was changed since'
same "one plan is on record" 1 "$(count 'select count(distinct hash) from plans')"

# One at a time.
store=$work/locked.sqlite
begin --plan bits --bench left --repeats 2 --quiet
run_at_work
kill -STOP $sweeping # so that it does not end meanwhile
refused "a sweep that is at work is not done twice" 3 'at work already' "$slotjig" sweep --benches benches.ini \
    --store "$store" --plan bits --bench left --repeats 2 --quiet
ln -s "$store" "$work/other-name"
refused "nor under another name of the store" 3 'at work already' "$slotjig" sweep --benches benches.ini \
    --store "$work/other-name" --plan bits --bench left --repeats 2 --quiet
kill -CONT $sweeping
wait $sweeping
same "and the first one ends well" 0 $?

# ---- bad input: one line, 2, and nothing is begun ----
store=$work/none.sqlite
bad "no such file" 'nothere.ini' nothere.ini
bad "two files" 'one file' shelf.ini three.ini
bad "an option of another command" 'by-eye' --by-eye
bad "no such plan" "'nosuch'" --plan nosuch
bad "no such bench" "'nosuch'" --bench nosuch
bad "repeats that are none" 'repeats' --repeats 0
bad "retries that are none" 'retries' --retries x
bad "patience that is none" 'patience' --patience 0
bad "a robot and JSON on one output" 'robot' --robot --json -
bad "an unwritable JSON file" 'nothere/x.json' --json nothere/x.json
bad "an unwritable folder" '/proc/nope' --out /proc/nope
bad "a fault that is none" 'wobble' --fault wobble
bad "a fault for a real console" 'virtual' --bench tape --fault late=4
bad "flashing on a watched screen" 'flashing' --screen watched --hold 4
bad "a drawing without a picture" 'drawing' --plan drawing
bad "a bench twice" 'twice' --bench left --bench left
printf '[sweep]\nplan = bits\n[console a]\nbench = left\n[console a]\nbench = left\n' >bad.ini
bad "a console twice" 'bad.ini:5' bad.ini
printf '[sweep]\nrepeats = many\n' >bad.ini
bad "a bad number" 'bad.ini:2' bad.ini
printf '[console a]\nbench = left\nfault = wobble\n' >bad.ini
bad "a bad fault in the file" 'bad.ini:3' bad.ini
printf '\377\376' >bad.ini
bad "no text" 'bad.ini' bad.ini
printf '[sweep]\nplan = bad.ini\n[console a]\nbench = left\n' >plans.ini
bad "a bad plan file" 'plans.ini:2' plans.ini
bad "a store that cannot be" 'none' --store /proc/none/x.sqlite
verify "nothing was begun" test ! -e "$store"

exit $failed
