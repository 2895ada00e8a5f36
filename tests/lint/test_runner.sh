#!/bin/bash
# The test runner itself: what passes, fails, hangs, crashes or tests nothing is counted as such.
set -u
root=$(cd "$(dirname "$0")/../.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
status=0

program() { # NAME SCRIPT
    printf '#!/bin/bash\n%s\n' "$2" >"$work/$1"
    chmod +x "$work/$1"
}

# NAME EXIT LAST-LINE TEST...: runs the tests, compares exit status and last line.
expect() {
    local name=$1 want=$2 last=$3 said got
    shift 3
    said=$(cd "$work" && SLOTJIG_TEST_TIMEOUT=2 "$root/tests/run" "$work/logs" "${@/#/$work/}" 2>&1)
    got=$?
    if [ $got = "$want" ] && [ "${said##*$'\n'}" = "$last" ]; then
        echo "ok $name"
    else
        echo "not ok $name: status $got instead of $want, last line not \"$last\":"
        # Marked, so that the outer runner does not count these lines.
        echo "$said" | sed 's/^/    | /'
        status=1
    fi
}

program plain.sh 'exit 0'
program lines.sh 'echo ok one; echo ok two; echo skip three'
program absent.sh 'exit 77'
program says.sh 'echo "skip one: no such tool"; exit 77'
program broken.sh 'exit 3'
program liar.sh 'echo not ok one; exit 0'
program hung.sh 'sleep 20'
program crash 'kill -SEGV $$'
program empty 'exit 0'
program cmocka 'echo "[  PASSED  ] 5 test(s)."; echo "[  SKIPPED ] 2 test(s), listed below:"'
program cmocka-bad 'echo "[  PASSED  ] 5 test(s)."; echo "[  FAILED  ] 2 test(s), listed below:"; exit 2'

expect "all pass" 0 "8 passed, 0 failed, 3 skipped" plain.sh lines.sh cmocka
expect "a script may skip" 0 "1 passed, 0 failed, 1 skipped" plain.sh absent.sh
expect "a script may say what it skips" 0 "1 passed, 0 failed, 1 skipped" plain.sh says.sh
expect "a bad exit status fails" 1 "1 passed, 1 failed" plain.sh broken.sh
expect "a reported failure fails in spite of exit status 0" 1 "0 passed, 1 failed" liar.sh
expect "a test that hangs is stopped" 1 "0 passed, 1 failed" hung.sh
expect "a crash fails" 1 "1 passed, 1 failed" plain.sh crash
expect "a program without tests fails" 1 "1 passed, 1 failed" plain.sh empty
expect "failures of a program are summed" 1 "10 passed, 2 failed, 2 skipped" cmocka cmocka-bad
exit $status
