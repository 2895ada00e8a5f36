# Draws the wiring of a net list as SVG: awk -f draw.awk -f pico/layout.awk pico/netlist.txt > pico/wiring.svg
# All pins, names, nets and values come from the net list; where things stand is in the board's layout.awk. A4,
# four units a mm.

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
    if (net == "+5V" || net == "SLOT5V" || net == "VSYS" || net == "USB5V") return "#b00000"
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
# A bundle's resistors R<first>..., from its trunk to pins number, number-1, ... of the chip at `to`.
function resistors(x, y, count, first, to, chip, number,    i, ref, line_net, far) {
    for (i = 0; i < count; i++) {
        ref = "R" (first + i)
        line_net = net_of[ref ".1"]
        far = net_of[ref ".2"]
        if (trunk_of(line_net) == "") {
            line_net = far
            far = net_of[ref ".1"]
        }
        drawn[ref ".1"] = drawn[ref ".2"] = 1
        reach(trunk_of(line_net), y + row * (i + 1))
        line(trunk[trunk_of(line_net)], y + row * (i + 1), x, y + row * (i + 1), "#000", 0.8)
        text(x - 4, y + row * (i + 1) - 1.5, 9, "end", "#000", line_net)
        box(x, y + row * (i + 1) - 4, 34, 8, "#fff")
        text(x + 17, y + row * (i + 1) + 2.5, 7, "middle", "#000", ref " " value[ref])
        line(x + 34, y + row * (i + 1), to - stub, y + row * (i + 1), "#000", 0.8)
        if (net_of[chip "." (number - i)] != far) {
            print "draw.awk: " ref " does not lead to " chip "." (number - i) > "/dev/stderr"
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
