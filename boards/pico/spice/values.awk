# The figures that the circuits take from the net list, as .param lines: awk -f values.awk ../netlist.txt
function number(text,    scale) {
    sub(/^[0-9]+x/, "", text)
    scale = 1
    if (text ~ /p$/) scale = 1e-12
    if (text ~ /n$/) scale = 1e-9
    if (text ~ /u$/) scale = 1e-6
    if (text ~ /k$/) scale = 1e3
    return text * scale
}
$1 == "part" { value[$2] = number($4) }
$1 == "rail" && $2 == "3V3S" { low = $3; high = $4 }
$1 == "rail" && $2 == "+5V" { console = $4 }
$1 == "net" && $2 ~ /^B[0-7]$/ {
    split($3, leg, ".")
    if (least == 0 || value[leg[1]] < least) least = value[leg[1]]
    if (value[leg[1]] > most) most = value[leg[1]]
    lines++
}
$1 == "net" && $2 == "3V3S" {
    for (i = 3; i <= NF; i++) {
        split($i, leg, ".")
        if (leg[1] ~ /^C/) store += value[leg[1]]
    }
}
END {
    if (lines != 8 || low == 0 || console == 0 || value["R17"] == 0 || store == 0) {
        print "values.awk: the net list lacks a figure" > "/dev/stderr"
        exit 1
    }
    printf ".param lines=%d rs_min=%g rs_max=%g\n", lines, least * 0.95, most * 1.05
    printf ".param rail_low=%g rail_high=%g console_high=%g\n", low, high, console
    printf ".param bleed=%g store=%g\n", value["R17"], store
}
