/* Pages of a cartridge and of a lot. */
import { near } from "./seen.mjs";

const plain = (text) => Number(text.replace("\u2212", "-"));
const first = (text) => plain(text.match(/-?[\d.]+(e[-+]?\d+)?/)?.[0] ?? "NaN");

/* Figure by figure: value, limit and whether it was kept, as JSON has them. */
export function ship(found, { tables, body, verdict }, facts) {
    const kept = facts.ship,
        table = tables.find((one) => one.section === "Figures and limits");
    if ((table?.rows.length ?? 0) !== kept.figures.length) found.push(`${table?.rows.length} figures, not ${kept.figures.length}`);
    kept.figures.forEach((figure, i) => {
        const row = table?.rows[i];
        if (!row) return;
        if (row.cells[0] !== figure.name) found.push(`figure ${row.cells[0]}, not ${figure.name}`);
        if (figure.value === null ? row.cells[1] !== "not measured" : !near(first(row.cells[1]), figure.value, 0.0051))
            found.push(`${figure.name}: "${row.cells[1]}", not ${figure.value}`);
        if (!row.cells[2].startsWith(figure.is === "least" ? "at least" : "at most") || !near(first(row.cells[2]), figure.limit, 1e-3))
            found.push(`${figure.name}: "${row.cells[2]}", not ${figure.limit}`);
        if ((row.cells[4] === "\u2713 kept") !== figure.within) found.push(`${figure.name}: ${row.cells[4]}`);
    });
    const word = { pass: "pass", fail: "fail", inconclusive: "inconclusive", trouble: "bench trouble" }[kept.verdict];
    if (!verdict.includes(word)) found.push(`verdict ${verdict}`);
    if (!body.includes(`number ${kept.attempt} of this serial`)) found.push(`test ${kept.attempt}`);
}

/* Yield with its interval, causes, bars, and every cartridge. */
export function lot(found, { tables, charts, body }, facts) {
    const kept = facts.lot;
    for (const { passed, of, share, share_95 } of [kept.yield, kept.first_yield]) {
        if (share === null) continue;
        const text = `${(100 * passed / of).toFixed(1)} % (95 %: ${(100 * share_95[0]).toFixed(1)} to ${(100 * share_95[1]).toFixed(1)} %)`;
        if (!body.includes(text)) found.push(`no "${text}"`);
    }
    if (kept.yield.of > 0 && !body.includes(`${kept.yield.passed} of ${kept.yield.of} cartridge`)) found.push("no yield in numbers");
    const causes = tables.find((one) => one.section === "Why cartridges failed")?.rows ?? [];
    if (causes.length !== kept.causes.length) found.push(`${causes.length} causes, not ${kept.causes.length}`);
    kept.causes.forEach((cause, i) => {
        if (causes[i]?.data.cause !== cause.cause || plain(causes[i].cells[1]) !== cause.first || plain(causes[i].cells[2]) !== cause.any)
            found.push(`cause ${causes[i]?.cells}, not ${cause.cause} ${cause.first} ${cause.any}`);
    });
    const sum = causes.reduce((total, row) => total + plain(row.cells[1]), 0);
    if (sum !== kept.verdicts.fail) found.push(`causes add up to ${sum}, not ${kept.verdicts.fail}`);
    const shown = kept.figures.filter((figure) => figure.values.length > 0);
    if (charts.length !== shown.length) found.push(`${charts.length} charts, not ${shown.length}`);
    shown.forEach((figure, i) => {
        const points = charts[i]?.points ?? [],
            total = points.reduce((all, point) => all + point.y, 0);
        if (total !== figure.values.length) found.push(`${figure.name}: ${total} in bars, not ${figure.values.length}`);
        const step = points.length > 1 ? Math.min(...points.slice(1).map((point, k) => point.x - points[k].x)) : Infinity;
        for (const point of points)
            if (Number.isFinite(step)) {
                const inside = figure.values.filter((value) => Math.abs(value - point.x) <= step / 2 + 1e-6).length;
                if (inside < point.y) found.push(`${figure.name}: bar at ${point.x} says ${point.y}, ${inside} lie there`);
            }
    });
    const rows = tables.find((one) => one.section === "Cartridges")?.rows ?? [];
    if (rows.length !== kept.each.length) found.push(`${rows.length} cartridges, not ${kept.each.length}`);
    kept.each.forEach((one, i) => {
        if (rows[i] && (rows[i].cells[0] !== one.serial || rows[i].data.verdict !== one.verdict || plain(rows[i].cells[2]) !== one.tests))
            found.push(`cartridge ${rows[i].cells.slice(0, 3)}, not ${one.serial} ${one.verdict} ${one.tests}`);
    });
}

/* The same facts with one number another. */
export function* otherShips(changed, facts) {
    if (facts.ship?.figures.length) {
        yield* changed("a figure", (copy) => void (copy.ship.figures[0].value += 1));
        yield* changed("a limit", (copy) => void (copy.ship.figures[0].limit += 1));
        yield* changed("whether it was kept", (copy) => void (copy.ship.figures[0].within = !copy.ship.figures[0].within));
    }
    if (facts.ship) yield* changed("which test it was", (copy) => void (copy.ship.attempt += 1));
    if (facts.lot?.yield.of > 1) {
        yield* changed("the yield", (copy) => void (copy.lot.yield.passed -= 1));
        yield* changed("its interval", (copy) => void (copy.lot.yield.share_95[0] -= 0.01));
        yield* changed("a cause", (copy) => void (copy.lot.causes[0].first += 1));
        yield* changed("a value", (copy) => void copy.lot.figures[0].values.pop());
        yield* changed("a cartridge", (copy) => void (copy.lot.each.at(-1).tests += 1));
    }
}
