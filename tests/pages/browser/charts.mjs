/* Contrast that axe-core does not look at: strokes and marks of charts, and texts of one letter. [WCAG 2.2, 1.4.3, 1.4.11;
   relative luminance as it defines it] */

/* In the page: colours as the browser computed them, blended over what lies below. */
function helpers() {
    const rgba = (text) => {
        const numbers = text.match(/[\d.]+%?/g)?.map((part) => parseFloat(part)) ?? [0, 0, 0, 0];
        if (text.startsWith("color(srgb")) return [numbers[0] * 255, numbers[1] * 255, numbers[2] * 255, numbers[3] ?? 1];
        return [numbers[0], numbers[1], numbers[2], numbers[3] ?? 1];
    };
    const over = (top, below, alpha) => [0, 1, 2].map((i) => top[i] * alpha + below[i] * (1 - alpha));
    const luminance = (colour) =>
        colour
            .map((value) => value / 255)
            .map((value) => (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4))
            .reduce((sum, value, i) => sum + value * [0.2126, 0.7152, 0.0722][i], 0);
    const ratio = (a, b) => {
        const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y);
        return (high + 0.05) / (low + 0.05);
    };
    const behind = (element) => {
        const chain = [];
        for (let up = element; up; up = up.parentElement) chain.unshift(rgba(getComputedStyle(up).backgroundColor));
        const canvas = document.body.appendChild(document.createElement("i"));
        canvas.style.cssText = "background:Canvas;display:none";
        const start = rgba(getComputedStyle(canvas).backgroundColor);
        canvas.remove();
        return chain.reduce((below, colour) => over(colour, below, colour[3]), start.slice(0, 3));
    };
    const faded = (element) => {
        let alpha = 1;
        for (let up = element; up; up = up.parentElement) alpha *= parseFloat(getComputedStyle(up).opacity);
        return alpha;
    };
    return { rgba, over, ratio, behind, faded };
}

/* Grid lines and frames only help the eye: their numbers stand beside them. */
export const contrast = (page) => page.evaluate(`(${scan})((${helpers})())`);
function scan({ rgba, over, ratio, behind, faded }) {
    const found = new Map();
    for (const chart of document.querySelectorAll("svg")) {
        if (!chart.checkVisibility() || chart.getBoundingClientRect().width < 2) continue;
        const paper = chart.querySelector("rect.paper"),
            ground = paper ? rgba(getComputedStyle(paper).fill) : null;
        const below = ground ? ground.slice(0, 3) : behind(chart);
        const kinds = new Map();
        for (const shape of chart.querySelectorAll("path, line, rect, circle, polyline, polygon, use"))
            kinds.set(shape.localName + " " + shape.getAttribute("class"), shape);
        for (const [kind, shape] of kinds) {
            if (
                /\b(grid|frame|cells|paper|leader)\b/.test(kind) ||
                (kind === "use null" && shape.getAttribute("href") === "#g") ||
                shape.closest("defs, pattern, marker")
            )
                continue;
            const style = getComputedStyle(shape),
                alpha = faded(shape);
            const ratios = [
                ["fill", style.fill, style.fillOpacity],
                ["stroke", style.stroke, style.strokeOpacity],
            ]
                .filter(([, colour]) => colour !== "none" && !colour.startsWith("url"))
                .map(([, colour, opacity]) =>
                    ratio(over(rgba(colour), below, rgba(colour)[3] * alpha * parseFloat(opacity)), below),
                );
            if (Math.max(0, ...ratios) < 3) found.set(kind, `${kind} ${Math.max(0, ...ratios).toFixed(2)}`);
        }
    }
    return [...found.values()];
}

/* Every text, also those of one letter, and those in charts: 4.5:1, 3:1 where large. */
export const letters = (page) => page.evaluate(`(${read})((${helpers})())`);
function read({ rgba, over, ratio, behind, faded }) {
    const found = new Map(),
        done = new Set();
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const element = walk.currentNode.parentElement;
        if (!walk.currentNode.data.trim() || /^(title|desc|style)$/.test(element.localName)) continue;
        const kind = [];
        for (let up = element; up; up = up.parentElement)
            kind.push(up.localName + "." + (up.getAttribute("class") ?? "") + (up.getAttribute("style") ?? ""));
        if (done.has(kind.join(">"))) continue;
        if (!element.checkVisibility()) continue;
        done.add(kind.join(">"));
        const style = getComputedStyle(element),
            chart = element.closest("svg"),
            paper = chart?.querySelector("rect.paper");
        const below = paper ? rgba(getComputedStyle(paper).fill).slice(0, 3) : behind(element);
        const colour = rgba(chart ? style.fill : style.color),
            size = parseFloat(style.fontSize);
        const least = size >= 24 || (size >= 18.66 && parseInt(style.fontWeight) >= 700) ? 3 : 4.5;
        const is = ratio(over(colour, below, colour[3] * faded(element)), below);
        if (is < least)
            found.set(
                kind.slice(0, 2).join(" in "),
                `${kind.slice(0, 2).join(" in ")} ${is.toFixed(2)} of ${least}: ${element.textContent.trim().slice(0, 20)}`,
            );
    }
    return [...found.values()];
}

/* Cells that differ have a shape of their own for each way of differing, and a word. */
export const shapes = (page) =>
    page.evaluate(() => {
        const found = [],
            kinds = { x: "missing", y: "surplus", z: "unclear" },
            drawn = new Map();
        for (const [name, word] of Object.entries(kinds))
            for (const shape of document.querySelectorAll(`svg.k path.${name}`)) {
                const outline = shape
                    .getAttribute("d")
                    .replace(/M-?[\d.]+ -?[\d.]+/g, "M")
                    .slice(0, 12);
                drawn.set(outline, new Set([...(drawn.get(outline) ?? []), word]));
            }
        for (const [outline, words] of drawn) if (words.size > 1) found.push(`${[...words]} are all drawn ${outline}`);
        for (const mark of document.querySelectorAll("td[data-step] b, b.p, b.f, b.u, b.i, b.t, b.o"))
            if (!mark.textContent.trim()) found.push("a mark without a letter");
        return found;
    });
