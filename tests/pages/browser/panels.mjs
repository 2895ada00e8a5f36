/* Charts of several panels: what their marks say by the numbers at each panel's axes, as a person reads them. */
import { near } from "./seen.mjs";

const number = (text) => Number(text.replace("\u2212", "-"));

/* Where a number stands on an axis, from its first and last tick. */
function scale(ticks, along) {
    const [first, last] = [ticks[0], ticks.at(-1)];
    const each = (number(last.text) - number(first.text)) / (last[along] - first[along]);
    return (at) => number(first.text) + (at - first[along]) * each;
}

/* A panel's head stands at its upper left; the numbers of x in a row below it, those of y in a column left of it, each
   beside its line. */
function panel(chart, head) {
    const right = Math.min(
        ...chart.heads.filter((other) => near(other.y, head.y, 3) && other.x > head.x).map((other) => other.x),
        Infinity,
    );
    const numbers = chart.labels.filter((label) => label.text.trim() !== "" && Number.isFinite(number(label.text)));
    const below = numbers.filter(
        (label) => label.anchor === "middle" && label.y > head.y && label.x > head.x - 12 && label.x < right - 12,
    );
    const row = Math.min(...below.map((label) => label.y)),
        x = below.filter((label) => near(label.y, row, 1)).sort((a, b) => a.x - b.x);
    const beside = numbers.filter(
        (label) => label.anchor === "end" && label.x < head.x && label.y > head.y - 20 && label.y < row,
    );
    const column = Math.max(...beside.map((label) => label.x)),
        y = beside
            .filter((label) => near(label.x, column, 1))
            .map((label) => ({ text: label.text, y: chart.lines.find((line) => near(line, label.y, 6)) }))
            .sort((a, b) => a.y - b.y);
    const step = x[1].x - x[0].x,
        [across, up] = [scale(x, "x"), scale(y, "y")];
    return chart.marks
        .filter((mark) => mark.x > x[0].x - step && mark.x < x.at(-1).x + step && mark.y > head.y - 20 && mark.y < row)
        .map((mark) => ({ kind: mark.kind, x: Math.round(across(mark.x)), y: up(mark.y) }));
}

/* Both are maps of a mark's name to its number. */
function compare(found, what, is, wanted, room) {
    if (is.size !== wanted.size) found.push(`${what}: ${is.size} marks, not ${wanted.size}`);
    for (const [name, value] of wanted)
        if (!near(is.get(name) ?? NaN, value, room)) found.push(`${what}, ${name}: a mark at ${is.get(name)}, not ${value}`);
}

const EDGES = {
    "circle one": ["rising", "left"],
    "path one": ["rising", "right"],
    "rect two": ["falling", "left"],
    "path two": ["falling", "right"],
};

function moments(found, chart, record) {
    const heads = chart.heads.filter((head) => /^\S+, (copy|mirror)$/.test(head.text));
    if (heads.length === 0) found.push("a chart of delays without panels");
    for (const head of heads) {
        const [register, mode] = head.text.split(", "),
            is = new Map(panel(chart, head).map((mark) => [`${EDGES[mark.kind]} ${mark.x}`, mark.y])),
            wanted = new Map();
        for (const one of record.moments.filter((other) => other.register === register && other.mode === mode))
            for (const side of ["left", "right"])
                one[side].forEach((clock, cycle) => {
                    if (typeof clock === "number") wanted.set(`${[one.edge, side]} ${cycle}`, clock);
                });
        compare(found, `chart of ${head.text}`, is, wanted, 0.02);
    }
}

const REGISTERS = { "circle one": "COLUBK", "path two": "COLUPF" };

function colours(found, chart, record) {
    const heads = chart.heads.filter((head) => head.anchor === "start" && /^\d+( \(grey\))?$/.test(head.text));
    if (heads.length !== 16) found.push(`${heads.length} charts of levels`);
    for (const head of heads) {
        const hue = parseInt(head.text),
            is = new Map(panel(chart, head).map((mark) => [`${REGISTERS[mark.kind]} ${mark.x}`, mark.y])),
            wanted = new Map();
        for (const one of record.colours.filter((other) => other.fields > 0 && other.code >> 4 === hue))
            wanted.set(`${one.register} ${(one.code & 15) / 2}`, one.level);
        compare(found, `chart of levels of hue ${hue}`, is, wanted, 0.002);
    }
    const middle = chart.rings[0],
        means = chart.marks.filter((mark) => mark.size > 4.5 && Math.hypot(mark.x - middle.x, mark.y - middle.y) > 1);
    for (const register of Object.values(REGISTERS)) {
        const angles = means
            .filter((mark) => REGISTERS[mark.kind] === register)
            .map((mark) => (Math.atan2(mark.y - middle.y, middle.x - mark.x) * 180) / Math.PI);
        const known = record.hues.filter((one) => one.register === register && one.hue > 0 && one.degrees !== null);
        if (angles.length !== known.length) found.push(`${angles.length} hues of ${register} on the circle, not ${known.length}`);
        for (const one of known)
            if (!angles.some((angle) => Math.abs(((angle - one.degrees + 540) % 360) - 180) < 0.2))
                found.push(`hue ${one.hue} of ${register}: none at ${one.degrees} degrees of ${angles}`);
    }
}

export function panels(found, charts, record) {
    for (const [title, key, check] of [
        ["When writes take effect", "moments", moments],
        ["Colours of the console", "colours", colours],
    ]) {
        const chart = charts.find((other) => other.title.startsWith(title));
        if ((chart !== undefined) !== (record[key] !== undefined)) found.push(`chart: ${title}`);
        if (chart && record[key]) check(found, chart, record);
    }
}
