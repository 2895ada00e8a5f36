/* Whether the numbers on a page, in tables, cells drawn and charts alike, are those of the JSON of the same records. */

/* Everything on the page that holds numbers, as plain data. */
const collect = (page) => page.evaluate(() => {
    const text = (element) => element.textContent.replace(/\s+/g, " ").trim();
    const tables = [...document.querySelectorAll("table")].map((table) => ({
        caption: table.caption ? text(table.caption) : "",
        heads: [...table.querySelectorAll("thead th")].map(text),
        rows: [...table.querySelectorAll("tbody tr")].map((row) => ({
            data: { ...row.dataset }, cells: [...row.children].map(text), each: [...row.children].map((cell) => ({ ...cell.dataset })),
            drawn: Object.fromEntries(["x", "y", "z"].map((kind) => [kind, (row.querySelector(`svg.k path.${kind}`)?.getAttribute("d").match(/M\d+ \d+/g) ?? [])])),
            label: row.querySelector("svg.k")?.getAttribute("aria-label") ?? null,
        })),
    }));
    /* Where a mark is drawn, by the numbers at the axes: what a person reads off the chart. */
    const charts = [...document.querySelectorAll("svg.chart")].map((chart) => {
        const box = (element) => element.getBBox(), ticks = { x: [], y: [] };
        for (const label of chart.querySelectorAll("text")) {
            const value = Number(label.textContent.replace("\u2212", "-"));
            if (label.textContent.trim() === "" || !Number.isFinite(value)) continue;
            const at = { value, x: box(label).x + box(label).width / 2, y: box(label).y + box(label).height / 2 };
            ticks[label.getAttribute("text-anchor") === "middle" ? "x" : "y"].push(at);
        }
        return { title: text(chart.querySelector("title")), ticks, points: [...chart.querySelectorAll("g[data-n]")].map((group) => ({
            n: Number(group.dataset.n), x: Number(group.dataset.x), y: Number(group.dataset.y), cross: box(group).x + box(group).width / 2, up: box(group).y + box(group).height / 2,
            outer: group.firstElementChild.localName + " " + group.firstElementChild.getAttribute("class") })) };
    });
    return { tables, charts, verdict: text(document.querySelector(".v") ?? document.body), body: text(document.body) };
});

const near = (a, b, room) => Math.abs(a - b) <= room;
const rounded = (value, digits) => (Math.abs(value) < 0.5 * 10 ** -digits ? 0 : value).toFixed(digits);
const shown = (text, value, digits) => text.replace("\u2212", "-") === value.toFixed(digits) || Number(text.replace("\u2212", "-")) === Number(rounded(value, digits));
const words = { pass: "pass", fail: "fail", inconclusive: "inconclusive", trouble: "bench trouble", unsteady: "unsteady", open: "open" };

/* Marks stand where the axes say: within half a percent of the axis. */
function axes(chart, found) {
    const { y } = chart.ticks;
    if (chart.points.length === 0 || y.length < 2) return;
    const low = y.reduce((a, b) => (a.value < b.value ? a : b)), high = y.reduce((a, b) => (a.value > b.value ? a : b));
    for (const point of chart.points) {
        const value = low.value + ((low.y - point.up) / (low.y - high.y)) * (high.value - low.value);
        if (!near(value, point.y, 0.01 * (high.value - low.value))) found.push(`${chart.title}: mark ${point.n} says ${point.y} and stands at ${value.toFixed(3)}`);
    }
}

const LEFT = (cell) => cell * 12 + (cell >= 20 ? 4 : 0);

function sweep() {}

/* A row of expected above seen: the words, the hidden data and the drawing. */
function cells(row, step, found) {
    const at = `step ${step.step}`;
    if (row.data.expected !== step.expected || row.data.seen !== step.seen) found.push(`${at}: cells ${row.data.expected} ${row.data.seen}, not ${step.expected} ${step.seen}`);
    const which = (test) => [...step.expected].map((e, i) => (test(e, step.seen[i]) ? i : -1)).filter((i) => i >= 0);
    const wanted = { x: which((e, s) => e === "1" && s === "0"), y: which((e, s) => e === "0" && s === "1"), z: which((e, s) => s === "?") };
    if (step.fields === 0) wanted.z = [];
    for (const [kind, list] of Object.entries(wanted)) {
        const places = row.drawn[kind].map((place) => place.match(/\d+/g).map(Number)).filter(([, top]) => top >= 16);
        const is = places.map(([left]) => Array.from({ length: 40 }, (_, i) => i).findLast((i) => LEFT(i) <= left));
        if (is.join() !== list.join()) found.push(`${at}: ${kind} drawn at ${is}, not ${list}`);
    }
}

function run(found, { tables, charts, verdict, body }, { runs: [record] }) {
    const steps = record.steps ?? [];
    if (!verdict.toLowerCase().includes(words[record.end])) found.push(`the verdict says "${verdict}", not ${record.end}`);
    if (record.end === "pass" || record.end === "fail") if (!verdict.includes(record.margin.toFixed(2))) found.push(`the verdict says "${verdict}", not ${record.margin}`);
    const rows = tables.flatMap((table) => table.rows.map((row) => ({ ...row, heads: table.heads }))).filter((row) => row.data.expected);
    if (rows.length !== steps.length) found.push(`${rows.length} rows of cells for ${steps.length} steps`);
    for (const row of rows) {
        const step = steps[Number(row.data.step)];
        const column = (name) => row.cells[row.heads.indexOf(name)];
        cells(row, step, found);
        if (!column("Verdict").includes(words[step.verdict]) && step.fields > 0) found.push(`step ${step.step}: ${column("Verdict")}, not ${step.verdict}`);
        if (step.fields > 0 && !shown(column("Margin"), step.margin, 2)) found.push(`step ${step.step}: margin ${column("Margin")}, not ${step.margin}`);
        for (const reg of ["PF0", "PF1", "PF2", "CTRLPF"]) {
            const value = step.registers[reg].toString(16).toUpperCase().padStart(2, "0");
            if (!column("Registers").includes(`${reg} $${value}`)) found.push(`step ${step.step}: ${column("Registers")}, not ${reg} $${value}`);
        }
    }
    const figures = tables.find((table) => table.caption === "Every step's figures");
    if (steps.length > 0 && !figures) found.push("no table of figures");
    for (const row of figures?.rows ?? []) {
        const step = steps[Number(row.data.figures)];
        const column = (name) => row.cells[figures.heads.indexOf(name)];
        if (!near(Number(row.data.margin), step.margin, 1e-5) || (step.fields > 0 && !shown(column("Margin"), step.margin, 2))) found.push(`figures of step ${step.step}: margin ${column("Margin")}, not ${step.margin}`);
        if (Number(column("Fields")) !== step.fields || Number(column("Wrong")) !== step.failed_fields) found.push(`figures of step ${step.step}: fields`);
        if (!shown(column("Offset, clocks"), step.offset_clocks, 2)) found.push(`figures of step ${step.step}: offset ${column("Offset, clocks")}, not ${step.offset_clocks}`);
    }
    if (figures && figures.rows.length !== steps.length) found.push(`${figures.rows.length} rows of figures for ${steps.length} steps`);
    const chart = charts.find((other) => other.title.startsWith("Margin by step"));
    if (steps.some((step) => step.fields > 0)) {
        const points = new Map((chart?.points ?? []).map((point) => [point.n, point]));
        if (points.size !== steps.filter((step) => step.fields > 0).length) found.push(`${points.size} marks for ${steps.length} steps`);
        for (const [n, point] of points) if (!near(point.y, steps[n].margin, 1e-5)) found.push(`mark of step ${n}: ${point.y}, not ${steps[n].margin}`);
    }
    for (const finding of record.findings) if (!body.includes(finding.text) || !body.includes(finding.next)) found.push(`finding ${finding.text}`);
}

const median = (list) => (list.sort((a, b) => a - b), list.length === 0 ? null : (list[(list.length - 1) >> 1] + list[list.length >> 1]) / 2);
const medianOf = (record) => median((record.steps ?? []).filter((step) => step.fields > 0).map((step) => step.margin));
const hasMargin = (record) => record.fields.judged > 0 && !record.by_eye;

function history(found, { tables, charts, verdict }, { runs, drifts }) {
    const last = runs[runs.length - 1], byId = new Map(runs.map((record) => [record.id, record]));
    if (!verdict.toLowerCase().includes(words[last.end])) found.push(`the verdict says "${verdict}", not ${last.end}`);
    let told = 0;
    for (const table of tables.filter((other) => other.caption.startsWith("Runs of plan"))) for (const row of table.rows) {
        const record = byId.get(Number(row.data.run)), column = (name) => row.cells[table.heads.indexOf(name)];
        told++;
        if (!column("Verdict").includes(words[record.end])) found.push(`run ${record.id}: ${column("Verdict")}, not ${record.end}`);
        if (!column("Started").startsWith(record.started.slice(0, 10))) found.push(`run ${record.id}: ${column("Started")}, not ${record.started}`);
        if (hasMargin(record)) {
            if (!shown(column("Margin, worst"), record.margin, 2)) found.push(`run ${record.id}: ${column("Margin, worst")}, not ${record.margin}`);
            if (medianOf(record) !== null && !shown(column("Margin, median"), medianOf(record), 2)) found.push(`run ${record.id}: median ${column("Margin, median")}, not ${medianOf(record)}`);
        }
        const failed = (record.steps ?? []).filter((step) => step.verdict === "fail").length;
        if (record.steps?.length > 0 && Number(column("Steps failed")) !== failed) found.push(`run ${record.id}: ${column("Steps failed")} steps failed, not ${failed}`);
        if (record.minutes_on !== null && Number(column("Minutes on")) !== Math.round(record.minutes_on)) found.push(`run ${record.id}: ${column("Minutes on")} minutes on, not ${record.minutes_on}`);
    }
    if (told !== runs.length) found.push(`${told} rows for ${runs.length} runs`);
    for (const chart of charts.filter((other) => other.title.startsWith("Margin over time"))) for (const point of chart.points) {
        const record = byId.get(point.n), wanted = /two/.test(point.outer) ? record.margin : medianOf(record);
        if (!near(point.y, wanted, 1e-5)) found.push(`mark of run ${point.n}: ${point.y}, not ${wanted}`);
    }
    const marks = charts.filter((other) => other.title.startsWith("Margin over time")).flatMap((chart) => chart.points).length;
    if (marks !== 2 * runs.filter(hasMargin).length) found.push(`${marks} marks of ${runs.length} runs`);
    const rows = tables.filter((table) => table.caption.startsWith("What drifts")).flatMap((table) => table.rows.map((row) => ({ heads: table.heads, ...row })));
    if (rows.length !== (drifts ?? []).length) found.push(`${rows.length} rows for ${drifts.length} drifts`);
    rows.forEach((row, i) => {
        const column = (name) => Number(row.cells[row.heads.indexOf(name)].replace("\u2212", "-")), drift = drifts[i];
        for (const [name, value] of [["Baseline, mean", drift.before], ["Now, mean", drift.now], ["Difference", drift.now - drift.before]])
            if (!near(column(name), value, Math.max(1e-9, Math.abs(value) * 1e-3))) found.push(`drift of ${drift.name}: ${name} ${column(name)}, not ${value}`);
        if (row.cells[row.heads.indexOf("Called")].includes("worse") !== drift.worse) found.push(`drift of ${drift.name}: ${row.cells.at(-1)}`);
    });
}

export async function numbers(page, facts) {
    const found = [], seen = await collect(page);
    for (const chart of seen.charts) axes(chart, found);
    if (facts.kind === "run") run(found, seen, facts);
    if (facts.kind === "console") history(found, seen, facts);
    if (facts.kind === "sweep") sweep(found, seen, facts);
    return found;
}
