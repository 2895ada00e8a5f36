#!/bin/bash
# The data bus of the Pico board in ngspice, with the net list's own values: levels, edges, currents when both sides
# drive, release. The chips are a voltage behind a resistance (boards/pico/spice/chips.inc): electrical results of
# that model, seen on no board. Limits and their sources are at each `most` and `least` below.
set -u
root=${SOURCE_DIR:-$(cd "$(dirname "$0")/../.." && pwd)}
pico=$root/boards/pico
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
status=0

command -v ngspice >/dev/null || {
    echo "skip data bus in ngspice: ngspice is not installed"
    exit 77
}

# NETLIST CIRCUIT: leaves `name value` lines in $work/results.
simulate() {
    cp "$pico"/spice/*.cir "$pico"/spice/*.inc "$work"
    awk -f "$pico/spice/values.awk" "$1" >"$work/values.inc" || return 1
    (cd "$work" && timeout 60 ngspice -b "$2.cir") >"$work/log" 2>&1 || return 1
    awk '$2 == "=" && $3 ~ /^[-+0-9.e]+$/ {print $1, $3}' "$work/log" >"$work/results"
}

value() { # NAME FACTOR
    awk -v name="$1" -v factor="$2" '$1 == name {printf "%.4g", $2 * factor; found = 1}
        END {if (!found) print "absent"}' "$work/results"
}

# NAME FACTOR UNIT OPERATOR LIMIT WHAT
bound() {
    local got
    got=$(value "$1" "$2")
    if [ "$got" != absent ] && awk -v a="$got" -v b="$5" "BEGIN {exit !(a $4 b)}"; then
        echo "ok $6: $got $3 ($4 $5)"
    else
        echo "not ok $6: $got $3, should be $4 $5"
        status=1
    fi
}
most() { bound "$1" "$2" "$3" "<=" "$4" "$5"; }
least() { bound "$1" "$2" "$3" ">=" "$4" "$5"; }

# NAME FACTOR FORMAT TEXT: the README's row that holds TEXT gives this figure.
stated() {
    local figure
    figure=$(awk -v name="$1" -v factor="$2" -v format="$3" '$1 == name {printf format, $2 * factor}' "$work/results")
    if [ -n "$figure" ] && grep -F "$4" "$pico/README.md" | grep -qF "$figure"; then
        echo "ok README says $figure: $4"
    else
        echo "not ok README should say $figure: $4"
        status=1
    fi
}

run() { # CIRCUIT
    simulate "$pico/netlist.txt" "$1" || {
        echo "not ok $1.cir runs:"
        sed 's/^/    | /' "$work/log"
        status=1
        : >"$work/results"
    }
}

# Inputs of TTL and of the console's NMOS family: 1 from 2.0 V, 0 up to 0.8 V (SN74LS00 data sheet SDLS025B; 6540
# preliminary data sheet, July 1977). 2.4 V and 0.4 V leave 0.4 V for noise.
run drive
least high 1 V 2.4 "the board's 1"
most low 1 V 0.4 "the board's 0"
# 410 ns are the cartridge's (hardware manual, [M]); these are the shares that the timing count grants the net.
most rise 1e9 ns 60 "to 2.0 V into 130 pF"
most fall 1e9 ns 110 "from 5.25 V to 0.8 V into 130 pF"
most rise_likely 1e9 ns 35 "to 2.0 V into 75 pF"
most fall_likely 1e9 ns 65 "from 5.25 V to 0.8 V into 75 pF"
stated rise 1e9 "| %.0f ns" "| 130 pF"
stated fall 1e9 "| %.0f ns |" "| 130 pF"
stated rise_likely 1e9 "| %.0f ns" "| 75 pF"
stated fall_likely 1e9 "| %.0f ns |" "| 75 pF"

# The translator's inputs at 3.0 to 3.6 V: 2.0 V and 0.8 V (SN74LVC8T245 data sheet, [M]).
run receive
least high 1 V 2.0 "the console's weakest 1 at the translator"
most low 1 V 0.8 "the console's weakest 0 at the translator"
most rise_added 1e9 ns 10 "the resistor's delay, rising"
most fall_added 1e9 ns 10 "the resistor's delay, falling"

# Recommended: SN7400 16 mA, SN74LS00 8 mA (SDLS025B); translator 24 mA at 3 V (SCES584A). The translator's absolute
# limits: 50 mA an output, 100 mA a supply or ground pin, output at most 0.5 V over its supply [M].
run contend
most sink_short 1e3 mA 16 "board 1 against a short, one line"
most sink_short 8e3 mA 100 "board 1 against a short, all lines through one supply pin"
most sink_ls 1e3 mA 8 "board 1 against a 74LS 0"
most sink_nmos 1e3 mA 8 "board 1 against an NMOS 0 (specified for 1.6 mA: over it)"
most sink_strong 1e3 mA 10 "board 1 against a strong NMOS 0"
most source_cmos 1e3 mA 24 "board 0 against +5 V, one line"
most source_cmos 8e3 mA 300 "board 0 against +5 V, all lines through three ground pins"
most source_ls 1e3 mA 24 "board 0 against a 74LS 1"
most source_strong 1e3 mA 24 "board 0 against a strong NMOS 1"
most lifted 1 V 3.7 "board's 1 lifted by +5 V (3.2 V supply + 0.5)"
stated sink_short 1e3 "| %.1f mA" "| board 1 against a dead short"
stated sink_short 8e3 "| %.0f mA" "| the same, eight lines"
stated sink_ls 1e3 "| %.1f mA" "| board 1 against a 74LS 0"
stated sink_nmos 1e3 "| %.1f mA" "| board 1 against an NMOS 0"
stated source_cmos 1e3 "| %.1f mA" "| board 0 against +5 V itself"
stated source_ls 1e3 "| %.1f mA" "| board 0 against a 74LS 1"
stated lifted 1 "%.2f V" "| both 1, console at 5.25 V"
most rail_peak 1 V 3.4 "slot side's 3.3 V after one write of eight 1s"

# The next driver comes with phase 2 of the next cycle, over 400 ns later.
run release
most release 1e9 ns 25 "A12 low to bus released"
stated release 1e9 "%.0f ns" "After A12 falls the bus is free within"
most low 1 V 0.8 "the next driver's 0 after release"
least high 1 V 2.0 "the next driver's 1 after release"
most left_low 1e6 uA 1 "current left, board at 0"
least left_high 1e6 uA -1 "current left, board at 1"

# The limits bite: a smaller resistor breaks the currents, a larger one the edges.
breaks() { # RESISTOR CIRCUIT NAME FACTOR LIMIT
    sed "/^part  R[1-8] /s/390/$1/" "$pico/netlist.txt" >"$work/other.txt"
    if simulate "$work/other.txt" "$2" && awk -v a="$(value "$3" "$4")" -v b="$5" 'BEGIN {exit !(a + 0 > b)}'; then
        echo "ok with $1 ohm $3 is over its limit"
    else
        echo "not ok with $1 ohm $3 should be over its limit"
        status=1
    fi
}
breaks 330 contend sink_ls 1e3 8
breaks 150 contend sink_short 8e3 100
breaks 470 drive fall 1e9 110
exit $status
