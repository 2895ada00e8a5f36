#!/bin/bash
# The include rules hold in this tree, and each of them is noticed when it is broken.
set -u
root=$(cd "$(dirname "$0")/../.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
status=0

result() { # ok|"not ok" NAME
    echo "$1 $2"
    [ "$1" = ok ] || status=1
}

if "$root/tests/lint/includes" "$root"; then
    result ok "the tree keeps the rules"
else
    result "not ok" "the tree keeps the rules (breaks above)"
fi

# A small tree of its own: a header and a source in every stage.
fresh() {
    rm -rf "$work/tree"
    for stage in host/{base,plan,slate,rom,expect,link,capture,picture,verdict,record,report,virtual,commands} \
        firmware/{core,rp2040}; do
        mkdir -p "$work/tree/$stage"
        echo '#include <stdint.h>' >"$work/tree/$stage/${stage#*/}.h"
        echo "#include \"${stage#*/}/${stage#*/}.h\"" >"$work/tree/$stage/${stage#*/}.c"
    done
    mkdir -p "$work/tree/include/slotjig" "$work/tree/tests/lint"
    echo '#include <stdint.h>' >"$work/tree/include/slotjig/slate.h"
    echo '#include <stdint.h>' >"$work/tree/host/virtual/console.h"
}

# NAME FILE LINE: the line added to the file must turn the script red, with the file named.
red() {
    fresh
    echo "$3" >>"$work/tree/$2"
    if said=$("$root/tests/lint/includes" "$work/tree"); then
        result "not ok" "$1: not noticed: $3 in $2"
    elif ! grep -q -F "$2:" <<<"$said"; then
        result "not ok" "$1: noticed, but the message does not name $2: $said"
    else
        result ok "$1"
    fi
}

# NAME FILE LINE: allowed.
green() {
    fresh
    echo "$3" >>"$work/tree/$2"
    if said=$("$root/tests/lint/includes" "$work/tree"); then
        result ok "$1"
    else
        result "not ok" "$1: refused: $said"
    fi
}

fresh
if said=$("$root/tests/lint/includes" "$work/tree"); then
    result ok "a good tree is accepted"
else
    result "not ok" "a good tree is accepted: $said"
fi

while read -r from to; do
    red "$from may not include $to" "host/$from/$from.c" "#include \"$to/$to.h\""
    red "$from may not include $to from its header" "host/$from/$from.h" "#include \"$to/$to.h\""
done <<END
expect virtual
virtual expect
picture expect
expect picture
verdict virtual
virtual verdict
picture virtual
record virtual
report virtual
expect rom
expect capture
expect commands
virtual commands
report commands
base commands
capture commands
END
for stage in base plan slate rom expect capture picture verdict record report commands; do
    red "$stage may not include core" "host/$stage/$stage.c" '#include "core/core.h"'
done
for stage in link virtual rp2040 commands; do
    red "core may not include $stage" firmware/core/core.c "#include \"$stage/$stage.h\""
done
red "rp2040 may not include the host" firmware/rp2040/rp2040.c '#include "link/link.h"'
red "link may not include rom" host/link/link.c '#include "rom/rom.h"'
red "core has no C library" firmware/core/core.h '#include <string.h>'
red "include may not know the host" include/slotjig/slate.h '#include "plan/plan.h"'
red "a quoted include must exist" host/plan/plan.c '#include "plan/absent.h"'
red "a path upwards is seen through" host/expect/expect.c '#include "../virtual/virtual.h"'
red "angle brackets are seen through" host/expect/expect.c '#include <virtual/virtual.h>'
red "spaces and comments are seen through" host/expect/expect.c '  # /* why */ include "virtual/virtual.h"'
red "a macro for a file is refused" host/expect/expect.c '#include VIRTUAL_HEADER'
red "the console model has no C library" host/virtual/console.h '#include <string.h>'
red "the console model has no other stage" host/virtual/console.h '#include "base/base.h"'
red "the host may not include tests" host/plan/plan.c '#include "../../tests/lint/x.h"'

green "commands may know all" host/commands/commands.c '#include "virtual/virtual.h"'
green "verdict may know expect" host/verdict/verdict.c '#include "expect/expect.h"'
green "link may know core" host/link/link.c '#include "core/core.h"'
green "virtual may know core" host/virtual/virtual.c '#include "core/core.h"'
green "rp2040 may know core" firmware/rp2040/rp2040.c '#include "core/core.h"'
green "tests may know all" tests/lint/test_x.c '#include "virtual/virtual.h"'
green "a comment is no include" host/expect/expect.c '/* #include "virtual/virtual.h" */'

# Through a header of its own stage.
fresh
echo '#include "virtual/helper.h"' >>"$work/tree/host/virtual/console.h"
echo '#include <string.h>' >"$work/tree/host/virtual/helper.h"
if "$root/tests/lint/includes" "$work/tree" | grep -q -F 'host/virtual/helper.h:1: string.h'; then
    result ok "the console model has no C library through a header"
else
    result "not ok" "the console model has no C library through a header"
fi

# Through a header of a stage that is allowed.
fresh
echo '#include "virtual/virtual.h"' >>"$work/tree/host/plan/plan.h"
echo '#include "plan/plan.h"' >>"$work/tree/host/expect/expect.c"
if "$root/tests/lint/includes" "$work/tree" | grep -q '^host/expect/expect.c:2 > host/plan/plan.h: expect/ must not know virtual/'; then
    result ok "a forbidden header is found through another"
else
    result "not ok" "a forbidden header is found through another"
fi
exit $status
