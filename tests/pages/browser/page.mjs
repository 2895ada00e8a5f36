/* A page opened so that whatever it should not do is noted, and what can be asked of any page of ours. */
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const require = createRequire(process.env.BUILD_DIR + "/watch/");
export const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

export const launch = {
    executablePath: process.env.chromium,
    args: [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
    ],
};

let failed = 0,
    held = 0;
export function verify(name, good, told = "") {
    failed += good ? 0 : 1;
    held += good ? 1 : 0;
    console.log(good ? `ok ${name}` : `not ok ${name}: ${String(told).slice(0, 2000)}`);
}
export const failures = () => failed;

/* Things found, each a line: none is right. */
export const none = (name, found) => verify(name, found.length === 0, found.slice(0, 12).join("; "));

/* A tab; noted: what its pages said, and asked of anyone. */
export async function tab(context) {
    const page = await context.newPage();
    const noted = [];
    let address = "about:blank";
    page.on("console", (message) => noted.push(message.type() + ": " + message.text()));
    page.on("pageerror", (error) => noted.push(String(error)));
    page.on("dialog", (dialog) => (noted.push("dialog: " + dialog.message()), dialog.dismiss()));
    page.on("popup", () => noted.push("a window of its own"));
    page.on("request", (request) => {
        const url = request.url();
        if (url !== address && !url.startsWith("data:image/png;base64,")) noted.push("asked for " + url);
    });
    page.on("framenavigated", (frame) => {
        if (frame !== page.mainFrame() || (page.url().split("#")[0] !== address && page.url() !== "about:blank"))
            noted.push("went to " + frame.url());
    });
    const show = (path) => page.goto((address = pathToFileURL(path).href));
    return { page, noted, show };
}
export async function open(context, path) {
    const opened = await tab(context);
    await opened.show(path);
    return opened;
}

/* Nothing that runs, loads or leads elsewhere, whatever stands in the texts. */
export const inert = (page) =>
    page.evaluate(() => {
        const found = [];
        const allowed = new Set(
            (
                "html head meta title style body header main footer nav section article div span p a h1 h2 h3 h4 h5 h6 ul ol li dl dt dd " +
                "table caption colgroup col thead tbody tfoot tr th td details summary figure figcaption img pre code b strong em i small sub sup abbr bdi time br hr wbr " +
                "s mark u var data svg g path rect circle line polyline polygon text tspan desc defs use pattern clippath symbol marker lineargradient stop"
            ).split(" "),
        );
        const attributes = new RegExp(
            "^(class|id|lang|charset|name|content|http-equiv|href|src|alt|title|tabindex|role|aria-[a-z]+|data-[a-z]+|scope|colspan|rowspan|open|datetime|" +
                "focusable|xmlns|width|height|viewbox|d|x|y|x1|x2|y1|y2|cx|cy|r|points|transform|text-anchor)$",
            "i",
        );
        const ids = new Map();
        for (const element of document.querySelectorAll("*")) {
            const name = element.localName.toLowerCase();
            if (!allowed.has(name)) found.push("element " + name);
            if (element.id) ids.set(element.id, (ids.get(element.id) ?? 0) + 1);
            for (const { name: key, value } of element.attributes) {
                if (!attributes.test(key)) found.push(`${name} ${key}`);
                if (
                    /^(src|srcset|data|action|formaction|poster|background|ping)$/i.test(key) &&
                    !value.startsWith("data:image/png;base64,")
                )
                    found.push(`${name} ${key}=${value}`);
                if (/href$/i.test(key) && !value.startsWith("#")) found.push(`${name} ${key}=${value}`);
                if (/style/i.test(key) && /url\(|expression|import/i.test(value)) found.push(`${name} ${key}=${value}`);
            }
        }
        for (const [id, count] of ids) if (count > 1) found.push(`${count} of id ${id}`);
        for (const link of document.querySelectorAll("a[href], use")) {
            const to = (link.getAttribute("href") ?? "").slice(1);
            if (to && !document.getElementById(decodeURIComponent(to))) found.push("a link to nothing: " + to);
        }
        for (const element of document.querySelectorAll("[aria-labelledby], [aria-describedby]"))
            for (const key of ["aria-labelledby", "aria-describedby"])
                for (const id of (element.getAttribute(key) ?? "").split(/\s+/).filter(Boolean))
                    if (!document.getElementById(id)) found.push(`${key} of nothing: ${id}`);
        for (const sheet of document.querySelectorAll("style"))
            if (/url\(|@import|http:/i.test(sheet.textContent.replaceAll("http://www.w3.org/", "")))
                found.push("a style sheet that loads");
        if (window.ran !== undefined) found.push("a script ran: " + window.ran);
        return found;
    });

/* Title, language, one headline, the policy that forbids what is not in the file. */
export const framed = (page) =>
    page.evaluate(() => {
        const found = [];
        if (!document.title.trim()) found.push("no title");
        if (document.documentElement.lang !== "en") found.push("lang " + document.documentElement.lang);
        if (document.compatMode !== "CSS1Compat") found.push("quirks");
        if (document.characterSet !== "UTF-8") found.push(document.characterSet);
        if (document.querySelectorAll("h1").length !== 1) found.push("h1: " + document.querySelectorAll("h1").length);
        if (!document.querySelector("main")) found.push("no main");
        const policy = document.querySelector("meta[http-equiv='Content-Security-Policy']")?.content ?? "";
        if (!/default-src 'none'/.test(policy) || /script-src|https?:|\*/.test(policy)) found.push("policy " + policy);
        for (const table of document.querySelectorAll("table"))
            if (!table.caption && !table.getAttribute("aria-label") && !table.getAttribute("aria-labelledby"))
                found.push("a table without a name");
        for (const picture of document.querySelectorAll("img"))
            if (!picture.alt || !(picture.naturalWidth > 0)) found.push("a picture without words or pixels: " + picture.alt);
        for (const chart of document.querySelectorAll("svg:not([aria-hidden=true])"))
            if (!chart.querySelector("title") && !chart.getAttribute("aria-label")) found.push("a chart without a title");
        return found;
    });

/* What moves: animations, transitions, elements that play. */
export const moving = (page) =>
    page.evaluate(() => {
        const found = document.getAnimations().map((animation) => animation.animationName ?? "an animation");
        for (const element of document.querySelectorAll("*")) {
            const style = getComputedStyle(element);
            if (style.animationName !== "none" || style.transitionDuration !== "0s" || style.scrollBehavior === "smooth")
                found.push(element.localName + "." + element.className);
        }
        if (document.querySelector("animate, animateTransform, animateMotion, set, marquee, video, audio, blink"))
            found.push("an element that moves");
        return found;
    });

/* Leaves of each long table its first rows and its last: the others are built alike, and the rules take as long for each.
   Where links lead stays. */
const ROWS_FIRST = 10;
const thin = (page) =>
    page.evaluate(
        (first) =>
            document.querySelectorAll("tbody").forEach((body) => {
                while (body.rows.length > first + 1) {
                    const row = body.rows[first],
                        place = document.createElement("i");
                    if (row.id) {
                        place.id = row.id;
                        body.rows[first - 1].cells[0].append(place);
                    }
                    row.remove();
                }
            }),
        ROWS_FIRST,
    );

/* All rules but the experimental ones. The page is no longer whole then. */
export async function rules(page) {
    await thin(page);
    await page.evaluate(axe);
    return page.evaluate(async () => {
        const result = await window.axe.run({ resultTypes: ["violations"], rules: { "target-size": { enabled: true } } });
        return result.violations.map(
            (rule) =>
                `${rule.id} (${rule.nodes.length}) ${rule.nodes
                    .slice(0, 3)
                    .map((node) => node.target + " " + node.any.map((why) => why.message))
                    .join(", ")}`,
        );
    });
}

/* What stands out of the page at the right, other than inside a region that scrolls by itself and says so. */
export const tooWide = (page) =>
    page.evaluate(() => {
        const width = document.documentElement.clientWidth,
            found = [];
        if (document.documentElement.scrollWidth > width) found.push(`page ${document.documentElement.scrollWidth} of ${width}`);
        const scrolls = (element) => {
            for (let up = element.parentElement; up; up = up.parentElement)
                if (/auto|scroll/.test(getComputedStyle(up).overflowX)) return true;
            return false;
        };
        for (const element of document.querySelectorAll("body *")) {
            if (element.closest("svg") && element.localName !== "svg") continue;
            const box = element.getBoundingClientRect();
            if (box.width > 1 && box.right > width + 1 && !scrolls(element) && element.checkVisibility())
                found.push(
                    `${element.localName}.${element.className} to ${Math.round(box.right)} of ${width}: ${element.textContent.trim().slice(0, 30)}`,
                );
        }
        return found;
    });

/* Texts that are cut off: in a box that hides what does not fit. */
export const cutOff = (page) =>
    page.evaluate(() =>
        [...document.querySelectorAll("body *:not(svg *)")]
            .filter((element) => {
                const style = getComputedStyle(element);
                return (
                    element.clientWidth > 1 &&
                    element.checkVisibility() &&
                    /hidden|clip/.test(style.overflowX + style.overflowY) &&
                    (element.scrollWidth > element.clientWidth + 1 || element.scrollHeight > element.clientHeight + 1)
                );
            })
            .map((element) => `${element.localName}.${element.className}: ${element.textContent.trim().slice(0, 40)}`),
    );

/* Where Tab begins again. */
export const fromTop = (page) =>
    page.evaluate(() => {
        window.scrollTo(0, 0);
        document.body.tabIndex = -1;
        document.body.focus();
        document.body.removeAttribute("tabindex");
    });

/* Tab from the top: every stop, with whether its focus shows and whether it is in sight. */
export async function stops(page, most) {
    const list = [];
    await fromTop(page);
    while (list.length < most) {
        await page.keyboard.press("Tab");
        const stop = await page.evaluate(() => {
            const element = document.activeElement;
            if (element === document.body || element === null || element.dataset.stop) return null;
            element.dataset.stop = "1";
            const style = getComputedStyle(element),
                box = element.getBoundingClientRect();
            return {
                name: element.localName,
                text: (element.getAttribute("aria-label") ?? element.textContent).trim().slice(0, 40),
                ring: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
                sight: box.bottom > 0 && box.top < innerHeight && box.width > 0,
            };
        });
        if (stop === null) break;
        list.push(stop);
    }
    return list;
}
export const missed = (page) =>
    page.evaluate(() =>
        [...document.querySelectorAll("a[href], button, summary, input, select, [tabindex]:not([tabindex='-1'])")]
            .filter((element) => element.checkVisibility() && !element.dataset.stop)
            .map((element) => element.localName + " " + element.textContent.trim().slice(0, 30)),
    );
/* Regions that scroll must be reached by Tab and have a name. */
export const deafRegions = (page) =>
    page.evaluate(() =>
        [...document.querySelectorAll("body *")]
            .filter(
                (element) =>
                    element.scrollWidth > element.clientWidth + 1 &&
                    element.clientWidth > 1 &&
                    /auto|scroll/.test(getComputedStyle(element).overflowX) &&
                    (element.tabIndex < 0 || !(element.getAttribute("aria-label") || element.getAttribute("aria-labelledby"))),
            )
            .map((element) => element.localName + "." + element.className),
    );
