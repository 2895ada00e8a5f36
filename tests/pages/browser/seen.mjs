/* What a page shows, as plain data, and how numbers on it are compared. */

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
            const place = (label) => ({
                text: label.textContent,
                x: Number(label.getAttribute("x")),
                y: Number(label.getAttribute("y")),
                anchor: label.getAttribute("text-anchor"),
            });
            return {
                title: text(chart.querySelector("title")),
                heads: [...chart.querySelectorAll("text.head")].map(place),
                labels: [...chart.querySelectorAll("text.small")].map(place),
                lines: [...chart.querySelectorAll("line.grid")]
                    .filter((line) => line.getAttribute("y1") === line.getAttribute("y2"))
                    .map((line) => Number(line.getAttribute("y1"))),
                rings: [...chart.querySelectorAll("circle.grid")].map((ring) => ({
                    x: Number(ring.getAttribute("cx")),
                    y: Number(ring.getAttribute("cy")),
                })),
                marks: [...chart.querySelectorAll("circle, path, rect")]
                    .filter((mark) => /^(one|two)$/.test(mark.getAttribute("class")) && !mark.closest("g[data-n]"))
                    .map((mark) => ({
                        kind: mark.localName + " " + mark.getAttribute("class"),
                        x: box(mark).x + box(mark).width / 2,
                        y: box(mark).y + box(mark).height / 2,
                        size: box(mark).width / 2,
                    })),
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

export const digits = (text) => (text.replaceAll("\u2212", "-").match(/(?<!\d)-?\d+(\.\d+)?/g) ?? []).map(Number);
export const near = (a, b, room) => Math.abs(a - b) <= room;
const rounded = (value, digits) => (Math.abs(value) < 0.5 * 10 ** -digits ? 0 : value).toFixed(digits);
export const shown = (text, value, digits) =>
    text.replace("\u2212", "-") === value.toFixed(digits) ||
    Number(text.replace("\u2212", "-")) === Number(rounded(value, digits));
export const words = {
    pass: "pass",
    fail: "fail",
    inconclusive: "inconclusive",
    trouble: "bench trouble",
    unsteady: "unsteady",
    open: "open",
};

const LEFT = (cell) => cell * 12 + (cell >= 20 ? 4 : 0);

/* A row of expected above seen: the words, the hidden data and the drawing. */
export function cells(row, step, found) {
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

export const hasMargin = (record) => record.fields.judged > 0 && !record.by_eye;
