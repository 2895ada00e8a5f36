#!/bin/bash
# `make help` names every target that a makefile of this project explains.
set -u
root=$(cd "$(dirname "$0")/../.." && pwd)
cd "$root" || exit 1
unset MAKEFLAGS MAKELEVEL MFLAGS
status=0
said=$(make --no-print-directory help)
for target in $(sed -n 's/^## \([a-z-]*\):.*/\1/p' Makefile firmware/*.mk tests/*/*.mk boards/*/*.mk); do
    if grep -q "^$target: " <<<"$said"; then
        echo "ok $target"
    else
        echo "not ok $target is not in \`make help\`"
        status=1
    fi
done
exit $status
