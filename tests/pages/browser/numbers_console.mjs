/* A console's page. */
import { digits, hasMargin, near, shown, words } from "./seen.mjs";

const median = (list) => (
    list.sort((a, b) => a - b),
    list.length === 0 ? null : (list[(list.length - 1) >> 1] + list[list.length >> 1]) / 2
);
const medianOf = (record) => median((record.steps ?? []).filter((step) => step.fields > 0).map((step) => step.margin));

const mean = (list) => (list.length > 0 ? list.reduce((sum, value) => sum + value, 0) / list.length : null);
const plain = (text) => Number(text.replace("\u2212", "-").replace("\u2013", "NaN"));

/* Delays and hues, run by run: the tables, and the charts over time, of which each register has its own mark. */
function measured(found, { tables, charts }, runs) {
    const hue = (record, register) => (record.hues ?? []).filter((one) => one.register === register && one.hue > 0);
    const exact = (record, register) =>
        mean((record.delays ?? []).filter((one) => one.register === register && one.exact).map((one) => one.clocks));
    const turn = (record, register) =>
        mean(
            hue(record, register)
                .filter((one) => one.hue < 15 && one.to_next !== null)
                .map((one) => one.to_next),
        );
    const tracks = [
        ["Delays over time", "delays", exact, { "circle one": "COLUBK", "path two": "COLUPF", "rect one": "CTRLPF.D1" }],
        ["Step from hue to hue", "hues", turn, { "circle one": "COLUBK", "path two": "COLUPF" }],
    ];
    for (const [title, key, value, registers] of tracks) {
        const points = charts.filter((chart) => chart.title.startsWith(title)).flatMap((chart) => chart.points);
        const told = runs.filter((record) => record[key]),
            wanted = told.flatMap((record) => Object.values(registers).map((register) => value(record, register)));
        if (points.length !== (told.length > 1 ? wanted.filter((one) => one !== null).length : 0))
            found.push(`${points.length} marks of ${key}, of ${told.length} runs`);
        for (const point of points) {
            const record = runs.find((one) => one.id === point.n),
                register = registers[point.outer];
            if (!record?.[key] || !register || !near(point.y, value(record, register), 1e-4))
                found.push(`mark of ${register}, run ${point.n}: ${point.y}, not ${record && value(record, register)}`);
        }
    }
    const rows = (start) => {
        const table = tables.find((one) => one.caption.startsWith(start));
        return (table?.rows ?? []).map((row) => [
            runs.find((one) => one.id === Number(row.data.measured)) ?? {},
            (name) => row.cells[table.heads.indexOf(name)],
        ]);
    };
    for (const [record, column] of rows("Delays, measured"))
        for (const one of (record.delays ?? []).filter((other) => other.clocks !== null)) {
            const texts = column(one.register).split("; "),
                is = digits(texts.length > 1 ? texts[one.phase] : texts[0]);
            const wanted = one.exact ? [one.clocks] : [one.low, one.high];
            if (!wanted.every((value) => is.some((other) => near(other, value, 0.0051))))
                found.push(`run ${record.id}: ${one.register} ${one.phase} "${column(one.register)}", not ${wanted}`);
        }
    for (const [record, column] of rows("Hues of COLUPF"))
        for (const one of hue(record, "COLUPF"))
            if (one.degrees === null ? column(`${one.hue}`) !== "\u2013" : !near(plain(column(`${one.hue}`)), one.degrees, 0.051))
                found.push(`run ${record.id}: hue ${one.hue} "${column(`${one.hue}`)}", not ${one.degrees}`);
    for (const [start, key] of [
        ["Delays, measured", "delays"],
        ["Hues of COLUPF", "hues"],
    ])
        if (rows(start).length !== runs.filter((record) => record[key]).length) found.push(`${rows(start).length} rows of ${key}`);
}

export function history(found, { tables, charts, verdict }, { runs, drifts }) {
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
    const measurable = runs.filter(hasMargin),
        wanted = measurable.length + measurable.filter((record) => medianOf(record) !== null).length;
    if (marks !== wanted && runs.length > 1) found.push(`${marks} marks of ${runs.length} runs`);
    measured(found, { tables, charts }, runs);
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
