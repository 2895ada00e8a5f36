/* A sweep's page. */
import { cells, hasMargin, near, words } from "./seen.mjs";

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

export function sweep(found, { tables, charts, verdict }, { runs, standings }) {
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
