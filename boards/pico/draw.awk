# Draws the wiring of a net list as SVG: awk -f draw.awk netlist.txt > wiring.svg
# All pins, names, nets and values come from the net list; here is only where things stand. A4, four units a mm.

# What the net list says

$1 == "class" { class = $2 }
$1 == "pin" {
    pin_name[class, $2] = $3
    pin_type[class, $2] = $4
    pin_order[class, ++pins[class]] = $2
}
$1 == "part" {
    class_of[$2] = $3
    value[$2] = $4
    parts[++part_count] = $2
}
$1 == "rail" { rail[$2] = $4 }
$1 == "net" {
    for (i = 3; i <= NF; i++) {
        net_of[$i] = $2
    }
}
$1 == "open" { net_of[$2] = "" }
$1 == "near" { near[$2] = near[$2] (near[$2] == "" ? "" : " ") $3 }

# Marks on the page

function escaped(s) {
    gsub(/&/, "\\&amp;", s)
    gsub(/</, "\\&lt;", s)
    return s
}
function text(x, y, size, anchor, colour, s, extra) {
    printf "<text x=\"%g\" y=\"%g\" font-size=\"%g\" text-anchor=\"%s\" fill=\"%s\"%s>%s</text>\n", x, y, size, anchor, colour,
        extra, escaped(s)
}
function line(x1, y1, x2, y2, colour, width) {
    printf "<line x1=\"%g\" y1=\"%g\" x2=\"%g\" y2=\"%g\" stroke=\"%s\" stroke-width=\"%g\"/>\n", x1, y1, x2, y2, colour, width
}
function box(x, y, w, h, fill) {
    printf "<rect x=\"%g\" y=\"%g\" width=\"%g\" height=\"%g\" fill=\"%s\" stroke=\"#000\" stroke-width=\"1.4\"/>\n", x, y, w, h,
        fill
}
function colour_of(net) {
    if (net == "+5V" || net == "SLOT5V" || net == "VSYS") return "#b00000"
    if (net == "3V3M") return "#0040a0"
    if (net == "3V3S") return "#007030"
    if (net == "GND") return "#606060"
    return "#000"
}
# Nets drawn as a bundle, where the part is one of those between slot and module.
function trunk_of(net,    name) {
    name = net
    sub(/[0-9]+$/, "", name)
    if (name == net || !(name in trunk)) return ""
    return name
}
function reach(name, y) {
    if (!(name in top) || y < top[name]) top[name] = y
    if (!(name in bottom) || y > bottom[name]) bottom[name] = y
}

# One pin: a line out of its box, number and net written on it. side -1 left, 1 right.
function pin(ref, number, x, y, side,    net, colour, end, name) {
    if (!((ref "." number) in net_of)) {
        print "draw.awk: " ref "." number " is not in the net list" > "/dev/stderr"
        failed = 1
        return
    }
    net = net_of[ref "." number]
    colour = colour_of(net)
    name = ref in bundled ? trunk_of(net) : ""
    end = x + side * stub
    if (name != "") {
        end = trunk[name]
        reach(name, y)
    }
    drawn[ref "." number] = 1
    text(x - side * 4, y + 3, 8.5, side < 0 ? "start" : "end", "#000", pin_name[class_of[ref], number])
    if (net == "") {
        line(x, y, x + side * 12, y, "#000", 0.8)
        text(x + side * 16, y + 3.5, 10, "middle", "#000", "×")
        if (number ~ /^[0-9]+$/) text(x + side * 22, y + 3, 7, side < 0 ? "end" : "start", "#606060", number)
        return
    }
    line(x, y, end, y, colour, 0.8)
    # The slot's contacts have names only; a number here would invite wiring from this drawing.
    if (number ~ /^[0-9]+$/) text(x + side * 3, y - 1.5, 7.5, side < 0 ? "end" : "start", "#606060", number)
    text(x + side * 17, y - 1.5, 9, side < 0 ? "end" : "start", colour, net)
}
function column(ref, list, x, y, side,    n, i, number) {
    n = split(list, number, " ")
    for (i = 1; i <= n; i++) {
        if (number[i] != "-") pin(ref, number[i], x, y + row * i, side)
    }
    return n
}
function block(ref, x, y, w, left, right,    a, b, rows, n) {
    a = split(left, n, " ")
    b = split(right, n, " ")
    rows = a > b ? a : b
    box(x, y, w, row * (rows + 1), "#f6f6f0")
    text(x + w / 2, y - 13, 10, "middle", "#000", ref, " font-weight=\"bold\"")
    text(x + w / 2, y - 3, 9, "middle", "#000", value[ref])
    column(ref, left, x, y, -1)
    column(ref, right, x + w, y, 1)
}
# The data lines' resistors, in the rows of the translator's slot side.
function resistors(x, y, count,    i, ref, from, to) {
    for (i = 0; i < count; i++) {
        ref = "R" (i + 1)
        from = net_of[ref ".1"]
        to = net_of[ref ".2"]
        drawn[ref ".1"] = drawn[ref ".2"] = 1
        reach(trunk_of(from), y + row * (i + 1))
        line(trunk[trunk_of(from)], y + row * (i + 1), x, y + row * (i + 1), "#000", 0.8)
        text(x - 4, y + row * (i + 1) - 1.5, 9, "end", "#000", from)
        box(x, y + row * (i + 1) - 4, 34, 8, "#fff")
        text(x + 17, y + row * (i + 1) + 2.5, 7, "middle", "#000", ref " " value[ref])
        line(x + 34, y + row * (i + 1), 370 - stub, y + row * (i + 1), "#000", 0.8)
        if (net_of["U3." (21 - i)] != to) {
            print "draw.awk: " ref " does not lead to U3." (21 - i) > "/dev/stderr"
            failed = 1
        }
    }
}
function trunks(    name, x) {
    for (i = 1; i <= split("A D ADDRESS DATA", order, " "); i++) {
        name = order[i]
        x = trunk[name]
        line(x, top[name] - 6, x, bottom[name] + 6, "#000", 3)
        printf "<text transform=\"translate(%g %g) rotate(-90)\" font-size=\"9\" text-anchor=\"middle\" font-weight=\"bold\" stroke=\"#fff\" stroke-width=\"3\" paint-order=\"stroke\">%s</text>\n",
            x - 5, mark[name], label[name]
    }
}
# Parts in a row with their nets between: "F1.1-2 D1.A-K" draws net, F1, net, D1, net.
function chain(list, x, y, title,    n, i, step, ref, leg, net, width) {
    n = split(list, step, " ")
    text(x, y - 16, 9, "start", "#000", title, " font-weight=\"bold\"")
    for (i = 1; i <= n; i++) {
        split(step[i], ref, ".")
        split(ref[2], leg, "-")
        net = net_of[ref[1] "." leg[1]]
        line(x, y, x + 52, y, colour_of(net), 1.2)
        text(x + 26, y - 2.5, 8, "middle", colour_of(net), net)
        box(x + 52, y - 10, 62, 20, "#f6f6f0")
        text(x + 83, y - 2, 8, "middle", "#000", ref[1], " font-weight=\"bold\"")
        text(x + 83, y + 7, 7.5, "middle", "#000", value[ref[1]])
        text(x + 50, y + 8, 7, "end", "#606060", leg[1])
        text(x + 116, y + 8, 7, "start", "#606060", leg[2])
        drawn[ref[1] "." leg[1]] = drawn[ref[1] "." leg[2]] = 1
        x += 114
        net = net_of[ref[1] "." leg[2]]
    }
    line(x, y, x + 52, y, colour_of(net), 1.2)
    text(x + 26, y - 2.5, 8, "middle", colour_of(net), net)
}
# Every two-legged part that is drawn nowhere else.
function small_parts(x, y,    i, j, ref, at, at_y, class) {
    text(x, y - 16, 9, "start", "#000", "Small parts: leg 1 (A) - leg 2 (K)", " font-weight=\"bold\"")
    at = 0
    for (i = 1; i <= part_count; i++) {
        ref = parts[i]
        class = class_of[ref]
        if (pins[class] != 2 || (ref "." pin_order[class, 1]) in drawn) continue
        j = int(at / small_rows)
        at_y = y + (at % small_rows) * 12
        text(x + j * 215, at_y, 9, "start", "#000", ref, " font-weight=\"bold\"")
        text(x + j * 215 + 26, at_y, 9, "start", "#000", value[ref])
        text(x + j * 215 + 80, at_y, 9, "start", "#000",
            net_of[ref "." pin_order[class, 1]] " - " net_of[ref "." pin_order[class, 2]] \
            (near[ref] == "" ? "" : ", at " near[ref]))
        drawn[ref "." pin_order[class, 1]] = drawn[ref "." pin_order[class, 2]] = 1
        at++
    }
}
function notes(x, y, list,    n, i, part) {
    n = split(list, part, "|")
    for (i = 1; i <= n; i++) text(x, y + 12 * (i - 1), 8.5, "start", "#000", part[i])
}
function all_drawn(    i, j, class, node) {
    for (i = 1; i <= part_count; i++) {
        class = class_of[parts[i]]
        for (j = 1; j <= pins[class]; j++) {
            node = parts[i] "." pin_order[class, j]
            if (!(node in drawn)) {
                print "draw.awk: " node " is not drawn" > "/dev/stderr"
                failed = 1
            }
        }
    }
}

END {
    row = 13.5
    stub = 62
    small_rows = 13
    bundled["J1"] = bundled["U1"] = bundled["U2"] = bundled["U3"] = bundled["M1"] = 1
    trunk["A"] = 190; label["A"] = "A0 - A12"; mark["A"] = 275
    trunk["D"] = 150; label["D"] = "D0 - D7"; mark["D"] = 455
    trunk["ADDRESS"] = 590; label["ADDRESS"] = "ADDRESS0 - ADDRESS12"; mark["ADDRESS"] = 216
    trunk["DATA"] = 540; label["DATA"] = "DATA0 - DATA7"; mark["DATA"] = 400

    print "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"297mm\" height=\"210mm\" viewBox=\"0 0 1188 840\" font-family=\"DejaVu Sans, sans-serif\">"
    print "<!-- Made by draw.awk from netlist.txt: change those, then `make drawing`. -->"
    print "<rect width=\"1188\" height=\"840\" fill=\"#fff\"/>"
    text(20, 28, 15, "start", "#000", "Pico board: wiring", " font-weight=\"bold\"")
    text(190, 28, 9, "start", "#b00000", "Never built: no physical board has been seen. Slot contacts have names, not numbers: take the numbers from the console's service manual.")

    block("J1", 20, 70, 50, "", "A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 A10 A11 A12 - D0 D1 D2 D3 D4 D5 D6 D7 - V5 GND X")
    block("U1", 370, 70, 70, "2 3 4 5 6 7 8 9 1 19", "18 17 16 15 14 13 12 11 20 10")
    block("U2", 370, 245, 70, "2 3 4 5 6 7 8 9 1 19", "18 17 16 15 14 13 12 11 20 10")
    block("U3", 370, 430, 70, "21 20 19 18 17 16 15 14 23 24", "3 4 5 6 7 8 9 10 2 22 1 11 12 13")
    resistors(225, 430, 8)
    block("M1", 770, 70, 80, "4 5 6 7 9 10 11 12 14 15 16 17 19 - - - - - 20 21 22 24 25 26 27 29 - 31 32 34", \
        "1 2 - 36 39 40 37 30 35 - 3 8 13 18 23 28 33 38")
    trunks()

    block("U6", 600, 660, 60, "1 2 13 - 3 4 5 9 10 11", "12 - 6 8 - 14 7")
    block("RN1", 40, 660, 40, "", "1 2 3 4 5 6 7 8 9")
    block("RN2", 175, 660, 40, "", "1 2 3 4 5 6 7 8 9")
    block("U5", 370, 660, 60, "2 3 4 5", "1")
    block("U4", 370, 765, 60, "3 1", "2")
    block("J2", 1095, 500, 50, "1 2 3", "")
    chain("F1.1-2 D1.A-K", 640, 540, "Power: console to module (USB cannot come back through D1)")
    chain("R18.1-2", 970, 590, "Serial line")
    chain("R19.1-2", 970, 615, "")
    small_parts(760, 665)

    notes(985, 350, "Red: 5 V. Green: 3.3 V made from the|console's 5 V (slot side). Blue: the module's|own 3.3 V. × open on purpose.||" \
        "U1, U2, U6: inputs stand 5 V.|U3: both ports stand 5 V; either supply|at 0 V releases both.||" \
        "Release (U3 pin 22) is low only when|A12 = 1, POWERED = 1 and ENABLE = 1.")
    print "</svg>"
    all_drawn()
    exit failed
}
