/* A console's page. */
import { hasMargin, near, shown, words } from "./seen.mjs";

const median = (list) => (
    list.sort((a, b) => a - b),
    list.length === 0 ? null : (list[(list.length - 1) >> 1] + list[list.length >> 1]) / 2
);
const medianOf = (record) => median((record.steps ?? []).filter((step) => step.fields > 0).map((step) => step.margin));

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
