#!/bin/bash
# Each board's drawing is what its net list gives, shows every pin, and can be rendered; the README's table of GPIOs
# says the same.
set -u
root=${SOURCE_DIR:-$(cd "$(dirname "$0")/../.." && pwd)}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
status=0

check() { # NAME COMMAND...
    local name=$1
    shift
    if "$@" >"$work/said" 2>&1; then
        echo "ok $name"
    else
        echo "not ok $name"
        head -5 "$work/said" | sed 's/^/    | /'
        status=1
    fi
}
draw() { # NETLIST
    awk -f "$root/boards/draw.awk" -f "$board/layout.awk" "$1" >"$work/wiring.svg"
}
refuses() { # TEXT NETLIST: fails with that text
    ! awk -f "$root/boards/draw.awk" -f "$board/layout.awk" "$2" >/dev/null 2>"$work/said" && grep -q "$1" "$work/said"
}
every_part_named() {
    local ref
    for ref in $(awk '$1 == "part" {print $2}' "$board/netlist.txt"); do
        grep -q ">$ref[< ]" "$board/wiring.svg" || {
            echo "$ref is not in the drawing"
            return 1
        }
    done
}

# The README's table of GPIOs, row by row.
table_is_the_net_list() {
    awk '$1 == "class" {class = $2}
        $1 == "pin" && class == "pico-module" && $3 ~ /^GP/ {name[$2] = $3}
        $1 == "net" {
            for (i = 3; i <= NF; i++) {
                if ($i ~ /^M1\./) net[substr($i, 4)] = $2
                else others[$2] = others[$2] (others[$2] == "" ? "" : ", ") $i
            }
        }
        END {for (pin in name) print "| " name[pin] " | " pin " | " net[pin] " | " others[net[pin]] " |"}' \
        "$1" | sort >"$work/want"
    grep '^| GP[0-9]' "$board/README.md" | sort >"$work/have"
    [ "$(wc -l <"$work/want")" = 26 ] && diff "$work/want" "$work/have"
}
differs() {
    ! table_is_the_net_list "$1"
}

# BOARD, then as sed scripts: a wrong GPIO; a part that the drawing does not know; a pin that is gone; a line astray;
# with what is said of the last three.
whole() {
    board=$root/boards/$1
    local list=$board/netlist.txt
    check "$1: every pin is drawn" draw "$list"
    check "$1: wiring.svg is up to date (else: make drawing)" cmp "$work/wiring.svg" "$board/wiring.svg"
    check "$1: every part is named" every_part_named
    check "$1: the README's GPIO table is the net list's" table_is_the_net_list "$list"
    sed "$2" "$list" >"$work/table.txt"
    check "$1: a wrong row of it is noticed" differs "$work/table.txt"
    sed "$3" "$list" >"$work/more.txt"
    check "$1: a part left out is noticed" refuses "$4" "$work/more.txt"
    sed "$5" "$list" >"$work/less.txt"
    check "$1: a pin without net is noticed" refuses "$6" "$work/less.txt"
    sed "$7" "$list" >"$work/other.txt"
    check "$1: a line astray is noticed" refuses "$8" "$work/other.txt"
    if command -v rsvg-convert >/dev/null; then
        check "$1: it can be rendered" rsvg-convert -w 1188 "$board/wiring.svg" -o "$work/wiring.png"
    else
        echo "skip $1: it can be rendered: rsvg-convert (librsvg2-bin) is not installed"
    fi
}

whole pico 's/ U6\.13 / U6.9 /' \
    's/^part  C11 .*/&\npart  U7   triple-nand3 74LVC10A SO-14/' "U7.1 is not drawn" \
    's/ U6\.13 / /' "U6.13 is not in the net list" \
    's/^net   B3 .*/net   B3         R4.2 U3.1/' "R4 does not lead to U3.18"
whole reader 's/ U6\.1 / U6.9 /' \
    's/^part  C14 .*/&\npart  U9   triple-nand3 74LVC10A SO-14/' "U9.1 is not drawn" \
    's/ U6\.1 / /' "U6.1 is not in the net list" \
    's/^net   DR3 .*/net   DR3        R12.1 D4.K U1.1/' "R12 does not lead to U1.18"
exit $status
