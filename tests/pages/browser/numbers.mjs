/* Whether the numbers on a page, in tables, cells drawn and charts alike, are those of the JSON of the same records. */

/* Everything on the page that holds numbers, as plain data. */
export const collect = (page) =>
    page.evaluate(() => {
        const text = (element) => element.textContent.replace(/\s+/g, " ").trim();
        const tables = [...document.querySelectorAll("table")].map((table) => ({
            caption: table.caption ? text(table.caption) : "",
            section: text(table.closest("section")?.querySelector("h2") ?? table),
            heads: [...table.querySelectorAll("thead th")].map(text),
            headData: [...table.querySelectorAll("thead th")].map((head) => ({ ...head.dataset })),
            rows: [...table.querySelectorAll("tbody tr")].map((row) => ({
                data: { ...row.dataset },
                cells: [...row.children].map(text),
                each: [...row.children].map((cell) => ({ ...cell.dataset })),
                drawn: Object.fromEntries(
                    ["x", "y", "z"].map((kind) => [
                        kind,
                        row
                            .querySelector(`svg.k path.${kind}`)
                            ?.getAttribute("d")
                            .match(/M\d+ \d+/g) ?? [],
                    ]),
                ),
                label: row.querySelector("svg.k")?.getAttribute("aria-label") ?? null,
            })),
        }));
        /* Where a mark is drawn, by the numbers at the axes: what a person reads off the chart. */
        const charts = [...document.querySelectorAll("svg.chart")].map((chart) => {
            const box = (element) => element.getBBox(),
                ticks = { x: [], y: [] };
            for (const label of chart.querySelectorAll("text")) {
                const value = Number(label.textContent.replace("\u2212", "-"));
                if (label.textContent.trim() === "" || !Number.isFinite(value)) continue;
                const at = { value, x: box(label).x + box(label).width / 2, y: box(label).y + box(label).height / 2 };
                ticks[label.getAttribute("text-anchor") === "middle" ? "x" : "y"].push(at);
            }
            return {
                title: text(chart.querySelector("title")),
                section: text(chart.closest("section").querySelector("h2")),
                ticks,
                points: [...chart.querySelectorAll("g[data-n]")].map((group) => ({
                    n: Number(group.dataset.n),
                    x: Number(group.dataset.x),
                    y: Number(group.dataset.y),
                    cross: box(group).x + box(group).width / 2,
                    up: box(group).y + box(group).height / 2,
                    outer: group.firstElementChild.localName + " " + group.firstElementChild.getAttribute("class"),
                })),
            };
        });
        return { tables, charts, verdict: text(document.querySelector(".v") ?? document.body), body: text(document.body) };
    });

const near = (a, b, room) => Math.abs(a - b) <= room;
const rounded = (value, digits) => (Math.abs(value) < 0.5 * 10 ** -digits ? 0 : value).toFixed(digits);
const shown = (text, value, digits) =>
    text.replace("\u2212", "-") === value.toFixed(digits) ||
    Number(text.replace("\u2212", "-")) === Number(rounded(value, digits));
const words = {
    pass: "pass",
    fail: "fail",
    inconclusive: "inconclusive",
    trouble: "bench trouble",
    unsteady: "unsteady",
    open: "open",
};

/* Marks stand where the axes say: within half a percent of the axis. */
function axes(chart, found) {
    const { y } = chart.ticks;
    if (chart.points.length === 0 || y.length < 2) return;
    const low = y.reduce((a, b) => (a.value < b.value ? a : b)),
        high = y.reduce((a, b) => (a.value > b.value ? a : b));
    for (const point of chart.points) {
        const value = low.value + ((low.y - point.up) / (low.y - high.y)) * (high.value - low.value);
        if (!near(value, point.y, 0.01 * (high.value - low.value)))
            found.push(`${chart.title}: mark ${point.n} says ${point.y} and stands at ${value.toFixed(3)}`);
    }
}

const LEFT = (cell) => cell * 12 + (cell >= 20 ? 4 : 0);

/* A row of expected above seen: the words, the hidden data and the drawing. */
function cells(row, step, found) {
    const at = `step ${step.step}`;
    if (row.data.expected !== step.expected || row.data.seen !== step.seen)
        found.push(`${at}: cells ${row.data.expected} ${row.data.seen}, not ${step.expected} ${step.seen}`);
    const which = (test) => [...step.expected].map((e, i) => (test(e, step.seen[i]) ? i : -1)).filter((i) => i >= 0);
    const wanted = {
        x: which((e, s) => e === "1" && s === "0"),
        y: which((e, s) => e === "0" && s === "1"),
        z: which((e, s) => s === "?"),
    };
    if (step.fields === 0) wanted.z = [];
    for (const [kind, list] of Object.entries(wanted)) {
        const places = row.drawn[kind].map((place) => place.match(/\d+/g).map(Number)).filter(([, top]) => top >= 16);
        const is = places.map(([left]) => Array.from({ length: 40 }, (_, i) => i).findLast((i) => LEFT(i) <= left));
        if (is.join() !== list.join()) found.push(`${at}: ${kind} drawn at ${is}, not ${list}`);
    }
}

function run(found, { tables, charts, verdict, body }, { runs: [record] }) {
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
    for (const finding of record.findings)
        if (!body.includes(finding.text) || !body.includes(finding.next)) found.push(`finding ${finding.text}`);
}

const digits = (text) => (text.replaceAll("\u2212", "-").match(/(?<!\d)-?\d+(\.\d+)?/g) ?? []).map(Number);

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
}

const median = (list) => (
    list.sort((a, b) => a - b),
    list.length === 0 ? null : (list[(list.length - 1) >> 1] + list[list.length >> 1]) / 2
);
const medianOf = (record) => median((record.steps ?? []).filter((step) => step.fields > 0).map((step) => step.margin));
const hasMargin = (record) => record.fields.judged > 0 && !record.by_eye;

function history(found, { tables, charts, verdict }, { runs, drifts }) {
    const last = runs[runs.length - 1],
        byId = new Map(runs.map((record) => [record.id, record]));
    if (!verdict.split(":")[0].endsWith(words[last.end])) found.push(`the verdict says "${verdict}", not ${last.end}`);
    let told = 0;
    for (const table of tables.filter((other) => other.caption.startsWith("Runs of plan")))
        for (const row of table.rows) {
            const record = byId.get(Number(row.data.run)),
                column = (name) => row.cells[table.heads.indexOf(name)];
            told++;
            if (!record) {
                found.push(`a row of run ${row.data.run}`);
                continue;
            }
            if (!column("Verdict").includes(words[record.end]))
                found.push(`run ${record.id}: ${column("Verdict")}, not ${record.end}`);
            if (!column("Started").startsWith(record.started.slice(0, 10)))
                found.push(`run ${record.id}: ${column("Started")}, not ${record.started}`);
            if (hasMargin(record)) {
                if (!shown(column("Margin, worst"), record.margin, 2))
                    found.push(`run ${record.id}: ${column("Margin, worst")}, not ${record.margin}`);
                if (medianOf(record) !== null && !shown(column("Margin, median"), medianOf(record), 2))
                    found.push(`run ${record.id}: median ${column("Margin, median")}, not ${medianOf(record)}`);
            }
            const failed = (record.steps ?? []).filter((step) => step.verdict === "fail").length;
            if (record.steps?.length > 0 && Number(column("Steps failed")) !== failed)
                found.push(`run ${record.id}: ${column("Steps failed")} steps failed, not ${failed}`);
            if (record.minutes_on !== null && Number(column("Minutes on")) !== Math.round(record.minutes_on))
                found.push(`run ${record.id}: ${column("Minutes on")} minutes on, not ${record.minutes_on}`);
        }
    if (told !== runs.length) found.push(`${told} rows for ${runs.length} runs`);
    for (const chart of charts.filter((other) => other.title.startsWith("Margin over time")))
        for (const point of chart.points) {
            const record = byId.get(point.n),
                wanted = record && (/two/.test(point.outer) ? record.margin : medianOf(record));
            if (!record || !near(point.y, wanted, 1e-5)) found.push(`mark of run ${point.n}: ${point.y}, not ${wanted}`);
        }
    const marks = charts.filter((other) => other.title.startsWith("Margin over time")).flatMap((chart) => chart.points).length;
    if (marks !== 2 * runs.filter(hasMargin).length && runs.length > 1) found.push(`${marks} marks of ${runs.length} runs`);
    const rows = tables
        .filter((table) => table.caption.startsWith("What drifts"))
        .flatMap((table) => table.rows.map((row) => ({ heads: table.heads, ...row })));
    if (rows.length !== (drifts ?? []).length) found.push(`${rows.length} rows for ${drifts.length} drifts`);
    rows.forEach((row, i) => {
        const column = (name) => Number(row.cells[row.heads.indexOf(name)].replace("\u2212", "-")),
            drift = drifts[i];
        for (const [name, value] of [
            ["Baseline, mean", drift.before],
            ["Now, mean", drift.now],
            ["Difference", drift.now - drift.before],
        ])
            if (!near(column(name), value, Math.max(1e-9, Math.abs(value) * 1e-3)))
                found.push(`drift of ${drift.name}: ${name} ${column(name)}, not ${value}`);
        if (row.cells[row.heads.indexOf("Called")].includes("worse") !== drift.worse)
            found.push(`drift of ${drift.name}: ${row.cells.at(-1)}`);
    });
}

/* Wilson's interval in percent [NIST/SEMATECH e-Handbook, 7.2.4.1], z of 95 %. */
function wilson(hits, tries) {
    const z = 1.959964,
        share = hits / tries,
        middle = share + z ** 2 / (2 * tries),
        half = z * Math.sqrt((share * (1 - share)) / tries + z ** 2 / (4 * tries ** 2));
    return tries === 0 ? [0, 100] : [middle - half, middle + half].map((value) => (100 * value) / (1 + z ** 2 / tries));
}

/* How all runs of a console show a step. */
function ofStep(records, step) {
    const seen = records.map((record) => record.steps?.[step]).filter(Boolean),
        kinds = new Set(seen.map((one) => one.verdict));
    const kind =
        kinds.has("pass") && kinds.size > 1
            ? "unsteady"
            : kinds.has("fail")
              ? "fail"
              : kinds.has("pass")
                ? "pass"
                : kinds.has("inconclusive")
                  ? "inconclusive"
                  : "open";
    const margins = seen.filter((one) => one.fields > 0).map((one) => one.margin);
    return { kind, margin: margins.length > 0 ? Math.min(...margins) : null };
}
const glyphs = { pass: "\u2713", fail: "\u2717", unsteady: "\u2248", inconclusive: "?", open: "\u2013" };

/* Plans by consoles. */
function overview(found, tables, standings, of) {
    const table = tables.find((other) => other.rows.some((row) => row.each.some((cell) => cell.standing))) ?? {
        rows: [],
        heads: [],
    };
    const told = table.rows.flatMap((row) => row.each).filter((cell) => cell.standing).length;
    if (told !== standings.length) found.push(`${told} cells for ${standings.length} standings`);
    for (const standing of standings) {
        const text = table.rows.find((row) => row.cells[1] === standing.console)?.cells[table.heads.indexOf(standing.plan)] ?? "";
        const [low, high] = wilson(standing.passed, standing.done).map((value) => value.toFixed(0)),
            at = `${standing.plan} on ${standing.console}`;
        const margins = of(standing.plan, standing.console)
            .filter(hasMargin)
            .map((record) => record.margin);
        if (
            !text.includes(words[standing.kind]) ||
            !text.includes(`${standing.passed} of ${standing.done}, ${low}\u2013${high} %`)
        )
            found.push(`${at}: "${text}", not ${standing.kind} ${standing.passed} of ${standing.done}, ${low} to ${high} %`);
        if (margins.length > 0 && !text.includes(`margin ${Math.min(...margins).toFixed(2)}`))
            found.push(`${at}: "${text}", not margin ${Math.min(...margins)}`);
    }
}

/* Steps by consoles. */
function matrices(found, tables, { consoles, plans, of }) {
    let told = 0,
        wanted = 0;
    for (const plan of plans)
        for (const console of consoles) wanted += Math.max(0, ...of(plan, console).map((record) => record.steps?.length ?? 0));
    for (const table of tables.filter((other) => other.headData.some((head) => head.console)))
        for (const row of table.rows)
            row.cells.forEach((text, column) => {
                if (!table.headData[column].console) return;
                const console = consoles[table.headData[column].console - 1],
                    plan = plans.find((name) => table.section === "Plan " + name);
                const { kind, margin } = ofStep(of(plan, console), Number(row.data.step));
                told++;
                if (text !== glyphs[kind] + (margin === null ? "" : " " + margin.toFixed(2)))
                    found.push(`step ${row.data.step} of ${plan} on ${console}: "${text}", not ${kind} ${margin}`);
            });
    if (told !== wanted) found.push(`${told} cells for ${wanted} steps of consoles`);
}

function sweep(found, { tables, charts, verdict }, { runs, standings }) {
    const consoles = [...new Set(standings.map((one) => one.console))],
        plans = [...new Set(standings.map((one) => one.plan))];
    /* A sweep may call a plan otherwise than the plan itself: then it says which runs are whose. */
    const told = new Map(
        standings.map((one) => [one.plan + "\n" + one.console, one.runs && new Set(one.runs.map((run) => run.run))]),
    );
    const of = (plan, console) => {
        const ids = told.get(plan + "\n" + console);
        return runs.filter((record) => (ids ? ids.has(record.id) : record.console.name === console && record.plan === plan));
    };
    const counts = {};
    for (const standing of standings) counts[standing.kind] = (counts[standing.kind] ?? 0) + 1;
    for (const [kind, count] of Object.entries(counts))
        if (!verdict.includes(`${count} ${words[kind]}`)) found.push(`the verdict says "${verdict}", not ${count} ${kind}`);
    overview(found, tables, standings, of);
    matrices(found, tables, { consoles, plans, of });
    const byId = new Map(runs.map((record) => [record.id, record]));
    for (const row of tables.flatMap((table) => table.rows).filter((other) => other.data.expected)) {
        const step = byId.get(Number(row.data.run))?.steps[Number(row.data.step)];
        step ? cells(row, step, found) : found.push(`a row of run ${row.data.run}`);
    }
    const every = tables.find((table) => table.caption.startsWith("Every run"))?.rows ?? [];
    if (every.length !== runs.length) found.push(`${every.length} rows for ${runs.length} runs`);
    for (const row of every)
        if (!row.cells.some((text) => text.includes(words[byId.get(Number(row.data.run))?.end])))
            found.push(`run ${row.data.run}: ${row.cells}`);
    for (const chart of charts.filter((other) => other.title.startsWith("Worst margin")))
        for (const point of chart.points) {
            const plan = plans.find((name) => chart.section === "Plan " + name),
                wanted = Math.min(
                    ...of(plan, consoles[point.n - 1])
                        .filter(hasMargin)
                        .map((record) => record.margin),
                );
            if (!near(point.y, wanted, 1e-5)) found.push(`mark of console ${point.n}: ${point.y}, not ${wanted}`);
        }
}

/* seen: of collect(). */
export function numbers(seen, facts) {
    const found = [];
    for (const chart of seen.charts) axes(chart, found);
    if (facts.kind === "run") run(found, seen, facts);
    if (facts.kind === "console") history(found, seen, facts);
    if (facts.kind === "sweep") sweep(found, seen, facts);
    return found;
}

/* The same facts with one number another: each must be found. */
export function* falsified(facts) {
    const changed = (what, change) => {
        const copy = structuredClone(facts);
        return change(copy) === false ? [] : [[what, copy]];
    };
    const record = facts.runs.find((one) => one.steps?.some((step) => step.fields > 0)),
        at = facts.runs.indexOf(record);
    if (record) {
        const step = record.steps.findIndex((one) => one.fields > 0);
        yield* changed(
            "a step's margin",
            (copy) => void (copy.runs[at].steps.forEach((one) => (one.margin -= 0.02)), (copy.runs[at].margin -= 0.02)),
        );
        if (facts.kind === "run")
            yield* changed(
                "a cell that is seen",
                (copy) => void (copy.runs[at].steps[step].seen = copy.runs[at].steps[step].seen.replace(/1/, "0")),
            );
        if (facts.kind === "run") yield* changed("a register", (copy) => void (copy.runs[at].steps[step].registers.PF1 ^= 1));
    }
    yield* changed("how the last one ended", (copy) =>
        copy.runs.length === 0 ? false : void (copy.runs.at(-1).end = copy.runs.at(-1).end === "pass" ? "fail" : "pass"),
    );
    yield* changed("a run too few", (copy) => (facts.kind === "run" || copy.runs.length < 2 ? false : void copy.runs.pop()));
    if (facts.standings?.length) yield* changed("a standing", (copy) => void (copy.standings[0].passed += 1));
    if (facts.drifts?.length) yield* changed("a drift", (copy) => void (copy.drifts[0].now += 0.1));
    for (const [key, number] of [
        ["delays", "low"],
        ["colours", "level"],
    ])
        if (facts.runs[0]?.[key]) yield* changed(key, (copy) => void copy.runs[0][key].forEach((one) => (one[number] += 0.5)));
}
