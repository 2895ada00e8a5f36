/* Whether the numbers on a page, in tables, cells drawn and charts alike, are those of the JSON of the same records. */
import { near } from "./seen.mjs";
import { run } from "./numbers_run.mjs";
import { history } from "./numbers_console.mjs";
import { sweep } from "./numbers_sweep.mjs";
import { lot, otherShips, ship } from "./numbers_ship.mjs";

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

/* seen: of collect(). */
export function numbers(seen, facts) {
    const found = [];
    for (const chart of seen.charts) axes(chart, found);
    if (facts.kind === "run") run(found, seen, facts);
    if (facts.kind === "console") history(found, seen, facts);
    if (facts.kind === "sweep") sweep(found, seen, facts);
    if (facts.kind === "ship") ship(found, seen, facts);
    if (facts.kind === "lot") lot(found, seen, facts);
    return found;
}

/* The same facts with one number another: each must be found. */
export function* falsified(facts) {
    const changed = (what, change) => {
        const copy = structuredClone(facts);
        return change(copy) === false ? [] : [[what, copy]];
    };
    yield* otherShips(changed, facts);
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
        if (facts.runs[0]?.[key] && (facts.kind === "run" || key === "delays"))
            yield* changed(key, (copy) => void copy.runs[0][key].forEach((one) => (one[number] += 0.5)));
    for (const [key, number] of [
        ["delays", "clocks"],
        ["hues", "to_next"],
        ["hues", "degrees"],
    ]) {
        const last = facts.runs.findLastIndex((one) => one[key]);
        if (last >= 0)
            yield* changed(`${key}, ${number}`, (copy) =>
                copy.runs[last][key].forEach((one) => (one[number] = one[number] === null ? null : one[number] + 1)),
            );
    }
    const first = facts.runs[0]?.moments?.findIndex((one) => one.left.some((clock) => typeof clock === "number"));
    if (facts.kind === "run" && first >= 0)
        yield* changed(
            "a clock",
            (copy) =>
                void (copy.runs[0].moments[first].left = copy.runs[0].moments[first].left.map((clock) =>
                    typeof clock === "number" ? clock + 0.2 : clock,
                )),
        );
}
