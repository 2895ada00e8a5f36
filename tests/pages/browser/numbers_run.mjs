/* A run's page. */
import { panels } from "./panels.mjs";
import { cells, digits, near, shown, words } from "./seen.mjs";

/* What the plans that measure have measured. */
function measured(found, { tables }, { runs: [record] }) {
    const table = (start) => tables.find((other) => other.caption.startsWith(start)) ?? { rows: [], heads: [] };
    const count = (name, is, wanted) => is === wanted || found.push(`${is} ${name}, not ${wanted}`);
    const delays = record.delays ?? [],
        windows = record.windows ?? [],
        colours = (record.colours ?? []).filter((one) => one.fields > 0);
    count("registers with delays", table("Delays").rows.length, new Set(delays.map((one) => one.register)).size);
    for (const row of table("Delays").rows)
        for (const delay of delays.filter((one) => one.register === row.data.register)) {
            const text = row.cells[1 + delay.phase],
                known = delay.clocks !== null;
            if (
                known &&
                !(delay.exact
                    ? digits(text).some((value) => near(value, delay.clocks, 0.0051))
                    : [delay.low, delay.high].every((bound) =>
                          digits(text).some((value) => near(Math.abs(value), Math.abs(bound), 1e-9)),
                      ))
            )
                found.push(`delay of ${delay.register}, phase ${delay.phase}: "${text}", not ${JSON.stringify(delay)}`);
        }
    const half = { left: "Left, measured", right: "Right, measured" },
        places = table("Windows");
    for (const one of windows.filter((other) => other.known && other.first_cycle !== null)) {
        const row = places.rows.find((other) => other.cells[0] === one.register && other.cells[1] === one.mode),
            text = row?.cells[places.heads.indexOf(half[one.half])] ?? "";
        if (!(text.includes(String(one.first_cycle).replace("-", "")) && text.includes(String(one.last_cycle).replace("-", ""))))
            found.push(
                `window of ${one.register} ${one.mode} ${one.half}: "${text}", not ${one.first_cycle} to ${one.last_cycle}`,
            );
    }
    const clocks = table("Clock at which");
    for (const one of record.moments ?? [])
        for (const side of ["left", "right"]) {
            const column = clocks.heads.findIndex((head) => head.toLowerCase() === `${one.edge}, ${side}`);
            const rows = clocks.rows.filter((row) => row.cells[0] === one.register && row.cells[1] === one.mode);
            for (const row of rows) {
                const wanted = one[side][Number(row.cells[2])],
                    text = row.cells[column];
                if (
                    typeof wanted === "number"
                        ? !near(Number(text), wanted, 0.051)
                        : typeof wanted === "string" && !text.startsWith(wanted)
                )
                    found.push(`${one.register} ${one.mode} ${one.edge} ${side}, cycle ${row.cells[2]}: ${text}, not ${wanted}`);
            }
        }
    const codes = table("Every code");
    count("colours", codes.rows.length, colours.length);
    codes.rows.forEach((row, i) => {
        const column = (name) => row.cells[codes.heads.indexOf(name)],
            colour = colours[i];
        if (
            column("Register") !== colour.register ||
            parseInt(column("Code").slice(1), 16) !== colour.code ||
            !shown(column("Level"), colour.level, 3) ||
            (colour.hue === null) !== (column("Angle") === "\u2013") ||
            (colour.hue !== null && !near(parseFloat(column("Angle")), colour.hue, 0.051))
        )
            found.push(`colour ${row.cells}, not ${JSON.stringify(colour)}`);
    });
    const turns = table("Hues, measured"),
        hues = record.hues ?? [];
    for (const row of turns.rows) {
        const column = (name) => row.cells[turns.heads.indexOf(name)],
            hue = hues.find((one) => one.register === row.data.register && one.hue === Number(row.data.hue));
        if (
            !hue ||
            !shown(column("Saturation"), hue.saturation, 1) ||
            (hue.degrees !== null && !near(parseFloat(column("Angle")), hue.degrees, 0.051)) ||
            (hue.to_next !== null && hue.degrees !== null && !near(parseFloat(column("To the next")), hue.to_next, 0.051))
        )
            found.push(`hue ${row.cells}, not ${JSON.stringify(hue)}`);
    }
    count("hues", turns.rows.length, hues.length);
}

export function run(found, { tables, charts, verdict, body }, { runs: [record] }) {
    const steps = record.steps ?? [];
    if (!verdict.split(":")[0].endsWith(words[record.end])) found.push(`the verdict says "${verdict}", not ${record.end}`);
    if (record.end === "pass" || record.end === "fail")
        if (!verdict.includes(record.margin.toFixed(2))) found.push(`the verdict says "${verdict}", not ${record.margin}`);
    const rows = tables
        .flatMap((table) => table.rows.map((row) => ({ ...row, heads: table.heads })))
        .filter((row) => row.data.expected);
    if (rows.length !== steps.length) found.push(`${rows.length} rows of cells for ${steps.length} steps`);
    for (const row of rows) {
        const step = steps[Number(row.data.step)];
        const column = (name) => row.cells[row.heads.indexOf(name)];
        cells(row, step, found);
        if (!column("Verdict").includes(words[step.verdict]) && step.fields > 0)
            found.push(`step ${step.step}: ${column("Verdict")}, not ${step.verdict}`);
        if (step.fields > 0 && !shown(column("Margin"), step.margin, 2))
            found.push(`step ${step.step}: margin ${column("Margin")}, not ${step.margin}`);
        for (const reg of ["PF0", "PF1", "PF2", "CTRLPF"]) {
            const value = step.registers[reg].toString(16).toUpperCase().padStart(2, "0");
            if (!column("Registers").includes(`${reg} $${value}`))
                found.push(`step ${step.step}: ${column("Registers")}, not ${reg} $${value}`);
        }
    }
    const figures = tables.find((table) => table.caption === "Every step's figures");
    if (steps.length > 0 && !figures) found.push("no table of figures");
    for (const row of figures?.rows ?? []) {
        const step = steps[Number(row.data.figures)];
        const column = (name) => row.cells[figures.heads.indexOf(name)];
        if (!near(Number(row.data.margin), step.margin, 1e-5) || (step.fields > 0 && !shown(column("Margin"), step.margin, 2)))
            found.push(`figures of step ${step.step}: margin ${column("Margin")}, not ${step.margin}`);
        if (Number(column("Fields")) !== step.fields || Number(column("Wrong")) !== step.failed_fields)
            found.push(`figures of step ${step.step}: fields`);
        if (step.fields > 0 && !shown(column("Offset, clocks"), step.offset_clocks, 2))
            found.push(`figures of step ${step.step}: offset ${column("Offset, clocks")}, not ${step.offset_clocks}`);
    }
    if (figures && figures.rows.length !== steps.length)
        found.push(`${figures.rows.length} rows of figures for ${steps.length} steps`);
    const chart = charts.find((other) => other.title.startsWith("Margin by step"));
    if (steps.some((step) => step.fields > 0)) {
        const points = new Map((chart?.points ?? []).map((point) => [point.n, point]));
        if (points.size !== steps.filter((step) => step.fields > 0).length)
            found.push(`${points.size} marks for ${steps.length} steps`);
        for (const [n, point] of points)
            if (!near(point.y, steps[n].margin, 1e-5)) found.push(`mark of step ${n}: ${point.y}, not ${steps[n].margin}`);
    }
    measured(found, { tables }, { runs: [record] });
    panels(found, charts, record);
    for (const finding of record.findings)
        if (!body.includes(finding.text) || !body.includes(finding.next)) found.push(`finding ${finding.text}`);
}
