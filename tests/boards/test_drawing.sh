#!/bin/bash
# The drawing of the Pico board is what its net list gives, shows every pin, and can be rendered; the README's table
# of GPIOs says the same.
set -u
root=${SOURCE_DIR:-$(cd "$(dirname "$0")/../.." && pwd)}
pico=$root/boards/pico
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
    awk -f "$pico/draw.awk" "$1" >"$work/wiring.svg"
}
refuses() { # TEXT NETLIST: fails with that text
    ! awk -f "$pico/draw.awk" "$2" >/dev/null 2>"$work/said" && grep -q "$1" "$work/said"
}
every_part_named() {
    local ref
    for ref in $(awk '$1 == "part" {print $2}' "$pico/netlist.txt"); do
        grep -q ">$ref[< ]" "$pico/wiring.svg" || {
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
    grep '^| GP[0-9]' "$pico/README.md" | sort >"$work/have"
    [ "$(wc -l <"$work/want")" = 26 ] && diff "$work/want" "$work/have"
}
differs() {
    ! table_is_the_net_list "$1"
}

check "every pin is drawn" draw "$pico/netlist.txt"
check "wiring.svg is up to date (else: make drawing)" cmp "$work/wiring.svg" "$pico/wiring.svg"
check "every part is named" every_part_named

check "the README's GPIO table is the net list's" table_is_the_net_list "$pico/netlist.txt"
sed 's/ U6\.13 / U6.9 /' "$pico/netlist.txt" >"$work/table.txt"
check "a wrong row of it is noticed" differs "$work/table.txt"

# A part that the drawing does not know, a pin that is gone, a resistor that leads elsewhere.
sed 's/^part  C11 .*/&\npart  U7   triple-nand3 74LVC10A SO-14/' "$pico/netlist.txt" >"$work/more.txt"
check "a part left out is noticed" refuses "U7.1 is not drawn" "$work/more.txt"
sed 's/ U6\.13 / /' "$pico/netlist.txt" >"$work/less.txt"
check "a pin without net is noticed" refuses "U6.13 is not in the net list" "$work/less.txt"
sed 's/^net   B3 .*/net   B3         R4.2 U3.1/' "$pico/netlist.txt" >"$work/other.txt"
check "a data line astray is noticed" refuses "R4 does not lead to U3.18" "$work/other.txt"

if command -v rsvg-convert >/dev/null; then
    check "it can be rendered" rsvg-convert -w 1188 "$pico/wiring.svg" -o "$work/wiring.png"
else
    echo "skip it can be rendered: rsvg-convert (librsvg2-bin) is not installed"
fi
exit $status
