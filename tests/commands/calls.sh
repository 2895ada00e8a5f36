# What the command line's tests share; for `.`, in a script that was started with SOURCE_DIR and BUILD_DIR set. Changes
# into a folder of the script's own, where small.ini is a plan of three steps. Scripts end with `exit $failed`.
slotjig=$BUILD_DIR/slotjig
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
failed=0

cat >small.ini <<'INI'
[plan]
name = small
[step one]
PF1 = $81
[step two]
mode = mirror
PF0 = %10100000
[step three]
cells = ####....####....####
INI

ok() { echo "ok $1"; }
not_ok() {
    echo "not ok $1"
    failed=1
}
verify() { # NAME CONDITION...
    name=$1
    shift
    if "$@"; then ok "$name"; else not_ok "$name"; fi
}
# Sets `got`; what was said is in out.txt and err.txt.
call() { # COMMAND...
    timeout 120 "$@" >out.txt 2>err.txt </dev/null
    got=$?
}
ends() { # NAME STATUS COMMAND...
    name=$1 status=$2
    shift 2
    call "$@"
    if [ "$got" = "$status" ]; then
        ok "$name"
    else
        not_ok "$name (exit $got, wanted $status: $(head -c 600 err.txt) $(head -c 600 out.txt))"
    fi
}
refused() { # NAME STATUS WORD COMMAND...: one line on standard error, with that in it
    name=$1 status=$2 word=$3
    shift 3
    call "$@"
    if [ "$got" = "$status" ] && [ "$(wc -l <err.txt)" = 1 ] && grep -q -- "$word" err.txt; then
        ok "$name"
    else
        not_ok "$name (exit $got, wanted $status; standard error: $(cat err.txt))"
    fi
}
says() { # NAME PATTERN: of the last call, on either output
    if cat out.txt err.txt | grep -q -- "$2"; then
        ok "$1"
    else
        not_ok "$1: $2 is not in: $(head -c 2000 out.txt) $(head -c 600 err.txt)"
    fi
}
