/* Every page that was made into a folder, as people, printers and screen readers meet it: node pages.mjs FOLDER.
   Prints `ok NAME` and `not ok NAME` lines. */
import { existsSync, readdirSync, readFileSync } from "node:fs";
import * as ask from "./page.mjs";
import { falsified, numbers } from "./numbers.mjs";
import { collect } from "./seen.mjs";
import { contrast, letters, shapes } from "./charts.mjs";
import { self } from "./self.mjs";

const { verify, none } = ask;
const folder = process.argv[2];
const all = readdirSync(folder)
    .filter((name) => name.endsWith(".html"))
    .map((name) => name.slice(0, -5));
const plain = all.filter((name) => !name.startsWith("hostile"));
const hostile = all.filter((name) => name.startsWith("hostile"));
const path = (name) => `${folder}/${name}.html`;
const json = (file) => JSON.parse(readFileSync(`${folder}/${file}`, "utf8"));

/* As made beside a page, or as the program's own rows and its own JSON of a sweep. */
function facts(name) {
    if (!existsSync(`${folder}/${name}.jsonl`)) return json(name + ".json");
    const standings = existsSync(`${folder}/${name}.sweep`)
        ? json(name + ".sweep").standings.map((row) => ({ ...row, kind: row.standing }))
        : [];
    const runs = readFileSync(`${folder}/${name}.jsonl`, "utf8")
        .trim()
        .split("\n")
        .map((line) => JSON.parse(line));
    return { kind: name.split("-")[1], drifts: [], runs, standings };
}
const SCREEN = { viewport: { width: 1280, height: 900 } };
const CALM_MS = 700,
    STOPS_MOST = 60;

/* One page with each kind of part answers every question, in both themes; the others are built of the same parts. */
const FULL = ["run-fail", "run-moments", "run-colours", "sweep-mixed", "console-aged", "measured-console", "whole-sweep", "ship-fail", "lot-invented"];
/* And these are held against the rules of accessibility as well. */
const RULED = ["run-inconclusive", "run-trouble", "console-once", "sweep-large", "ship-pass", "lot-open"];
const full = (tab) => FULL.includes(tab.name);

/* Fifty consoles by a hundred steps: the same as a smaller shelf, and long for every question. */
const LARGE = "sweep-large";

/* All pages, each in its tab; so that two pictures of each are far apart without waiting for each. */
async function tabs(browser, scheme, names) {
    const context = await browser.newContext({ ...SCREEN, colorScheme: scheme });
    const list = [];
    for (const name of names) {
        const tab = { name, ...(await ask.open(context, path(name))) };
        tab.first = full(tab) ? await tab.page.screenshot() : null;
        tab.taken = Date.now();
        list.push(tab);
    }
    return { context, list };
}

/* What a theme may change. */
async function look({ name, page, first, taken }, scheme) {
    const what = `${name}, ${scheme}: `;
    await page.waitForTimeout(Math.max(0, taken + CALM_MS - Date.now()));
    verify(what + "nothing changes by itself", first.equals(await page.screenshot()));
    none(what + "strokes and marks of charts stand out 3:1", await contrast(page));
    none(what + "letters stand out", await letters(page));
}

/* The last question, for it leaves rows out. */
async function rules({ name, page, noted }, scheme) {
    none(`${name}, ${scheme}: accessibility rules`, await ask.rules(page));
    none(`${name}, ${scheme}: no complaint, nothing asked of anyone`, noted);
}

/* And what it does not. */
async function build({ name, page }) {
    none(`${name}: nothing moves`, await ask.moving(page));
    none(`${name}: inert`, await ask.inert(page));
    none(`${name}: framed`, await ask.framed(page));
    none(`${name}: nothing beyond the window`, await ask.tooWide(page));
    none(`${name}: no text cut off`, await ask.cutOff(page));
    const seen = await collect(page),
        kept = facts(name),
        missed = [];
    none(`${name}: numbers are the records'`, numbers(seen, kept));
    for (const [what, other] of falsified(kept)) if (numbers(seen, other).length === 0) missed.push(what);
    none(`${name}: and others would be noticed`, missed);
}

/* With nothing but the keyboard. */
async function keyboard({ name, page }) {
    const stops = await ask.stops(page, STOPS_MOST);
    if (stops.length < STOPS_MOST) none(`${name}: Tab reaches everything`, await ask.missed(page));
    verify(
        `${name}: the focus can be seen at each of ${stops.length} stops`,
        stops.length > 0 && stops.every((stop) => stop.ring && stop.sight),
        JSON.stringify(stops.filter((stop) => !stop.ring || !stop.sight).slice(0, 4)),
    );
    none(`${name}: what scrolls is a region with a name`, await ask.deafRegions(page));
    const folded = page.locator("summary:visible").first();
    if ((await folded.count()) > 0) {
        const before = await folded.evaluate((element) => element.parentElement.open);
        await folded.focus();
        await page.keyboard.press("Enter");
        verify(`${name}: Enter unfolds`, (await folded.evaluate((element) => element.parentElement.open)) !== before);
        await page.keyboard.press("Enter");
    }
}

/* The first stop leads past the head; a cell that did not pass leads to what was expected and seen, though it is folded. */
async function links({ name, page }) {
    await ask.fromTop(page);
    await page.keyboard.press("Tab");
    await page.keyboard.press("Enter");
    verify(
        `${name}: the first stop leads to the content`,
        await page.evaluate(() => document.activeElement === document.querySelector("main")),
        await page.evaluate(() => document.activeElement.outerHTML.slice(0, 80)),
    );
    const link = page.locator("td[class] > a[href^='#d']").last();
    if ((await link.count()) === 0) return;
    await page.evaluate(() => document.querySelectorAll("details").forEach((element) => (element.open = false)));
    await link.evaluate((element) => (element.closest("details")?.setAttribute("open", ""), element.focus()));
    await page.keyboard.press("Enter");
    const target = page.locator(`[id="${(await link.getAttribute("href")).slice(1)}"]`);
    await page.waitForTimeout(50);
    verify(
        `${name}: a cell leads to what was expected and seen`,
        await target.evaluate((row) => {
            const box = row.getBoundingClientRect();
            return (
                row.checkVisibility() &&
                box.height > 0 &&
                box.top < innerHeight &&
                box.bottom > 0 &&
                row.querySelector("svg.k") !== null
            );
        }),
    );
}

/* Narrow as a page of 1280 px at 400 % [WCAG 2.2, 1.4.10], and with text of twice the size [1.4.4]. */
async function reflow({ name, page }) {
    await page.setViewportSize({ width: 320, height: 640 });
    none(`${name}: reads at 320 px`, await ask.tooWide(page));
    none(`${name}: what scrolls there is a region with a name`, await ask.deafRegions(page));
    await page.setViewportSize(SCREEN.viewport);
    await page.evaluate(() => (document.documentElement.style.fontSize = "200%"));
    none(`${name}: reads with text twice as large`, [...(await ask.tooWide(page)), ...(await ask.cutOff(page))]);
    const grown = await page.evaluate(() =>
        [...document.querySelectorAll("p, td, th, li, summary, dd, figcaption")]
            .filter((element) => element.checkVisibility() && element.textContent.trim())
            .filter((element) => parseFloat(getComputedStyle(element).fontSize) < 18)
            .map((element) => element.localName + "." + element.className),
    );
    none(`${name}: and all text grows`, grown);
    await page.evaluate(() => (document.documentElement.style.fontSize = ""));
}

/* The width that is left of an A4 sheet by the page's own margins. */
const sheet = (page) =>
    page.evaluate(() => {
        for (const sheet of document.styleSheets)
            for (const rule of sheet.cssRules)
                if (rule instanceof CSSPageRule) {
                    const probe = document.body.appendChild(document.createElement("div"));
                    probe.style.cssText =
                        "position:absolute;visibility:hidden;width:210mm;box-sizing:border-box;padding:" + rule.style.margin;
                    const style = getComputedStyle(probe),
                        width = probe.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
                    probe.remove();
                    return { size: rule.style.size, width: Math.floor(width) };
                }
        return null;
    });

const printed = (page) =>
    page.evaluate(() => {
        const found = [];
        const width = document.documentElement.clientWidth;
        for (const element of document.querySelectorAll("body *:not(svg *)")) {
            if (!element.checkVisibility()) continue;
            const box = element.getBoundingClientRect(),
                style = getComputedStyle(element);
            if (box.width > 1 && box.right > width + 1)
                found.push(
                    `${element.localName}.${element.className} to ${Math.round(box.right)} of ${width}: ${element.textContent.trim().slice(0, 30)}`,
                );
            if (
                element.clientWidth > 1 &&
                /auto|scroll|hidden|clip/.test(style.overflowX) &&
                element.scrollWidth > element.clientWidth + 1
            )
                found.push(`${element.localName}.${element.className} cut off`);
            if (style.position === "fixed" || style.position === "sticky") found.push(`${element.localName} ${style.position}`);
        }
        for (const details of document.querySelectorAll("details")) {
            const inside = [...details.children].find((child) => child.localName !== "summary");
            if (
                inside &&
                (!inside.checkVisibility({ contentVisibilityAuto: false }) || inside.getBoundingClientRect().height === 0)
            )
                found.push("folded: " + details.querySelector("summary").textContent);
        }
        const [r, g, b] = getComputedStyle(document.body)
            .backgroundColor.match(/[\d.]+/g)
            .map(Number);
        if (getComputedStyle(document.body).backgroundColor !== "rgba(0, 0, 0, 0)" && Math.min(r, g, b) < 250)
            found.push("a dark sheet");
        return found;
    });

/* On paper, from the dark theme too. */
async function paper({ name, page }) {
    await page.emulateMedia({ media: "print" });
    const room = await sheet(page);
    verify(`${name}: is made for A4`, room !== null && /a4/i.test(room.size), JSON.stringify(room));
    await page.setViewportSize({ width: room?.width ?? 700, height: 1000 });
    none(`${name}: prints whole`, await printed(page));
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString("latin1");
    const sizes = [...pdf.matchAll(/\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/g)].map((match) =>
        [Number(match[1]), Number(match[2])].sort((a, b) => a - b),
    );
    verify(
        `${name}: ${sizes.length} sheets of A4`,
        sizes.length > 0 && sizes.every(([a, b]) => Math.abs(a - 595.28) < 1.5 && Math.abs(b - 841.89) < 1.5),
        JSON.stringify(sizes.slice(0, 3)),
    );
    if (name.startsWith("ship")) verify(`${name}: fits one sheet`, sizes.length === 1, sizes.length);
    await page.emulateMedia({ media: "screen" });
    await page.setViewportSize(SCREEN.viewport);
}

/* In the colours that the system forces on every page. */
async function forced(browser) {
    const context = await browser.newContext({ ...SCREEN, colorScheme: "dark", forcedColors: "active" });
    for (const name of ["run-fail", "sweep-mixed"].filter((name) => plain.includes(name))) {
        const { page, noted } = await ask.open(context, path(name));
        none(`${name}, forced colours: charts stand out`, await contrast(page));
        none(`${name}, forced colours: letters stand out`, await letters(page));
        none(`${name}, forced colours: told by shape`, await shapes(page));
        none(`${name}, forced colours: accessibility rules`, await ask.rules(page));
        none(`${name}, forced colours: no complaint`, noted);
        await page.close();
    }
    await context.close();
}

/* Texts that would be more; without the page's own policy, so that only the escaping stands between. */
async function attacks(browser) {
    const context = await browser.newContext({ ...SCREEN, bypassCSP: true });
    const texts = facts("hostile"),
        { page, noted, show } = await ask.tab(context);
    for (const name of hostile) {
        await show(path(name));
        await page.evaluate(() => document.querySelectorAll("details").forEach((element) => (element.open = true)));
        const found = [...noted.splice(0), ...(await ask.inert(page)), ...(await ask.framed(page)), ...(await ask.tooWide(page))];
        const text = texts[Number(name.slice(8))];
        if (typeof text === "string" && /^[\x20-\x7e]+$/.test(text) && text.trim())
            for (const place of ["h1", "body"])
                if (
                    !(
                        await page
                            .locator(place)
                            .first()
                            .evaluate((element) => element.textContent)
                    ).includes(text)
                )
                    found.push(`not in ${place} as it is: ${text.slice(0, 40)}`);
        const strange = await page.evaluate(
            () =>
                document.documentElement.outerHTML.match(
                    /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g,
                )?.length ?? 0,
        );
        if (strange) found.push(`${strange} characters that turn or control`);
        none(`${name}: harmless`, found);
    }
    await context.close();
}

const browser = await ask.chromium.launch(ask.launch);
const clock = Date.now();
const since = (what) => process.env.PAGES_TIMES && console.log(`# ${what} ${Date.now() - clock} ms`);
try {
    await self(browser);
    since("self");
    const light = await tabs(browser, "light", plain);
    since("light tabs");
    for (const tab of light.list.filter(full)) await look(tab, "light");
    since("light");
    for (const tab of light.list) {
        await build(tab);
        if (!full(tab)) continue;
        await keyboard(tab);
        await links(tab);
        await reflow(tab);
    }
    since("build, keyboard, reflow");
    for (const tab of light.list.filter((tab) => full(tab) || RULED.includes(tab.name))) await rules(tab, "light");
    await light.context.close();
    since("rules");
    const dark = await tabs(
        browser,
        "dark",
        plain.filter((name) => FULL.includes(name) || name === LARGE),
    );
    for (const tab of dark.list.filter(full)) await look(tab, "dark");
    since("dark");
    for (const tab of dark.list) await paper(tab);
    since("paper");
    for (const tab of dark.list.filter(full)) await rules(tab, "dark");
    since("rules, dark");
    await dark.context.close();
    await forced(browser);
    since("forced colours");
    await attacks(browser);
    since("attacks");
} catch (error) {
    verify("to the end", false, error.stack);
} finally {
    await browser.close();
}
process.exit(ask.failures() > 0 ? 1 : 0);
