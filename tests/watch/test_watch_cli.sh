#!/bin/bash
# `watch` on the command line: how it begins and ends, and what it refuses in one line.
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"
serves() { # NAME COMMAND...: ends well; one line with the address on standard output, nothing on standard error
    local name=$1
    shift
    call "$@"
    if [ "$got" = 0 ] && [ "$(wc -l <out.txt)" = 1 ] && [ ! -s err.txt ] &&
        grep -q -E '^watch: http://127\.0\.0\.1:[0-9]+/ ' out.txt; then
        ok "$name"
    else
        not_ok "$name (exit $got: $(cat out.txt err.txt))"
    fi
}
# The state, by whatever client is there; bash can do it alone.
state() { # PORT
    exec 3<>"/dev/tcp/127.0.0.1/$1" || return 1
    printf 'GET /state.json HTTP/1.1\r\nHost: 127.0.0.1:%s\r\nConnection: close\r\n\r\n' "$1" >&3
    timeout 5 cat <&3
    exec 3<&-
}
shows() { # NAME WORD COMMAND...: within 20 seconds the state holds the word
    local name=$1 word=$2 port= found=no pid
    shift 2
    "$@" --seconds 60 >out.txt 2>err.txt </dev/null &
    pid=$!
    for _ in $(seq 200); do
        port=$(sed -n 's/.*127\.0\.0\.1:\([0-9]*\).*/\1/p' out.txt)
        [ -n "$port" ] && state "$port" 2>/dev/null | tr -d '\n' >state.txt && grep -q -- "$word" state.txt && found=yes && break
        sleep 0.1
    done
    kill -TERM $pid
    wait $pid
    local got=$?
    if [ $found = yes ] && [ $got = 0 ]; then
        ok "$name"
    else
        not_ok "$name (found $found, exit $got: $(cat err.txt) $(tail -c 600 state.txt))"
    fi
}

cat >one.ini <<'INI'
[plan]
name = one
[step one]
PF1 = $81
INI
"$slotjig" grab --bench virtual --plan one.ini --fields 30 --quiet -o one.mkv || not_ok "a recording"
"$slotjig" grab --bench virtual --plan one.ini --fields 30 --quiet -o one.yuv || not_ok "a bare recording"
: >empty.mkv

serves "ends after its seconds" "$slotjig" watch --seconds 1
serves "ends with the recording" "$slotjig" watch --plan one.ini one.mkv
serves "ends with a bare recording" "$slotjig" watch --plan one.ini one.yuv
serves "ends a recording played over and over" "$slotjig" watch --plan one.ini --loop --seconds 2 one.mkv
mkfifo silent.yuv
serves "ends in front of a silent pipe" "$slotjig" watch --seconds 1 silent.yuv

shows "a good console" '"kind":"well"' "$slotjig" watch --plan one.ini
shows "another standard" '"standard":"pal"' "$slotjig" watch --plan one.ini --standard pal
shows "no signal" '"kind":"no_signal"' "$slotjig" watch --fault no-video
shows "a frozen grabber" '"kind":"stands_still"' "$slotjig" watch --plan one.ini --fault frozen=20
shows "a stuck bit" '"kind":"wrong"' "$slotjig" watch --plan one.ini --fault bit-low=PF1.7
shows "the plan of another image" '"kind":"other_image"' "$slotjig" watch --loop one.mkv
shows "a board with nothing on it" '"kind":"idle"' "$slotjig" watch --no-push
shows "noise" '"kind":"\(trouble\|unclear\|thin\)"' "$slotjig" watch --plan one.ini --noise 16
shows "whether people agreed" '"may_flash":true' "$slotjig" watch --plan one.ini --agreed-to-flashing
shows "and whether they did not" '"may_flash":false' "$slotjig" watch --plan one.ini

refused "two videos" 2 'one video at a time' "$slotjig" watch one.mkv one.yuv
refused "a video and a bench" 2 'or else a bench' "$slotjig" watch --bench virtual one.mkv
refused "a video that is not there" 2 'nothing.mkv' "$slotjig" watch nothing.mkv
refused "a port beyond the last" 2 '--port 65536' "$slotjig" watch --port 65536
refused "seconds that are none" 2 '--seconds 0' "$slotjig" watch --seconds 0
refused "an unknown bench" 2 'nowhere' "$slotjig" watch --bench nowhere
refused "an unknown plan" 2 'noplan' "$slotjig" watch --plan noplan
SLOTJIG_PAGE_MODULE=/nowhere/page.so refused "a module that is not there" 3 'page module' "$slotjig" watch --seconds 1
refused "an empty file" 2 'the file is empty' "$slotjig" watch empty.mkv

ends "--help" 0 "$slotjig" watch --help
says "--help tells its exits" '^exit: 0'
exit $failed
