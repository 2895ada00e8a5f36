/* The page as a person and a browser meet it. Prints `ok NAME` and `not ok NAME` lines. */
import { createRequire } from "node:module";
import { networkInterfaces } from "node:os";
import { connect } from "node:net";
import { readFileSync, writeFileSync } from "node:fs";
import { Source, startWatch } from "./watch.mjs";

const require = createRequire(process.env.BUILD_DIR + "/watch/");
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const launch = {
    executablePath: process.env.chromium,
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
        "--disable-component-update", "--disable-sync"],
};

let failed = 0;
function verify(name, good, told = "") {
    failed += good ? 0 : 1;
    console.log(good ? `ok ${name}` : `not ok ${name}: ${told}`);
}

/* A page that notes whatever it should not do, every picture, and when which headline came. */
async function openPage(browser, address, options = {}) {
    const page = await browser.newPage({ viewport: { width: 1280, height: 900 }, ...options });
    const seen = { complaints: [], outside: [], taken: [] };
    page.on("console", (message) => seen.complaints.push(message.text()));
    page.on("pageerror", (error) => seen.complaints.push(String(error)));
    page.on("dialog", (dialog) => (seen.complaints.push("dialog: " + dialog.message()), dialog.dismiss()));
    page.on("request", (request) => {
        const url = request.url();
        if (!url.startsWith(address) && !url.startsWith("blob:" + address.slice(0, -1))) seen.outside.push(url);
    });
    page.on("response", (response) => {
        const taken = response.headers()["slotjig-taken-ms"];
        if (taken) seen.taken.push(Number(taken));
    });
    await page.addInitScript(() => {
        window.told = [];
        document.addEventListener("DOMContentLoaded", () => {
            const headline = document.getElementById("headline");
            new MutationObserver(() => window.told.push([headline.textContent, Date.now()]))
                .observe(headline, { childList: true, characterData: true, subtree: true });
        });
    });
    await page.goto(address);
    return { page, seen };
}

const headlineIs = (page, text) =>
    page.waitForFunction((wanted) => document.getElementById("headline").textContent === wanted, text, { timeout: 15000 })
        .then(() => true, () => false);
const text = (page, id) => page.locator("#" + id).textContent();
const number = (page) => page.evaluate(() => Number(document.getElementById("picture").dataset.number ?? 0));

/* Milliseconds from the change of the source to the headline in the page: the best of some tries, since a machine with
   other work on it may stand still for a while. */
async function timeTo(page, source, mode, headline) {
    let best = Infinity;
    for (let i = 0; i < 4 && best >= 1000; i++) {
        await source.become("good");
        if (!(await headlineIs(page, "All well"))) return Infinity;
        const begun = await source.become(mode);
        if (!(await headlineIs(page, headline))) return Infinity;
        const shown = await page.evaluate((wanted) => window.told.findLast((row) => row[0] === wanted)[1], headline);
        best = Math.min(best, shown - begun);
    }
    return best;
}

async function lostSignals(page, source) {
    for (const [mode, headline] of [["flat", "No signal"], ["none", "No frames"]]) {
        const ms = await timeTo(page, source, mode, headline);
        verify(`"${headline}" within a second (${ms} ms)`, ms < 1000, `${ms} ms; told ${await text(page, "headline")}`);
        verify(`"${headline}": no margin is claimed`, (await text(page, "margin")) === "\u2013", await text(page, "margin"));
        verify(`"${headline}" is told to screen readers`, (await text(page, "announce")).startsWith(headline), await text(page, "announce"));
    }
    await source.become("still");
    verify("a picture that stands still is named", await headlineIs(page, "Picture stands still"), await text(page, "headline"));
    const slate = page.locator("#checks li", { hasText: "slate" });
    verify("and it is no slate of another plan", (await slate.textContent()).includes("stands still"), await slate.textContent());
    await source.become("good");
    verify("the signal's return shows", await headlineIs(page, "All well"), await text(page, "headline"));
}

async function pictures(page, seen) {
    await page.waitForFunction(() => Number(document.getElementById("picture").dataset.number ?? 0) > 0);
    const first = await number(page);
    const source = await page.evaluate(() => document.getElementById("picture").src);
    verify("the picture changes", await page.waitForFunction(([n, src]) => {
        const picture = document.getElementById("picture");
        return Number(picture.dataset.number) > n && picture.src !== src && picture.naturalWidth === 720;
    }, [first, source], { timeout: 10000 }).then(() => true, () => false));
    const alt = await page.getAttribute("#picture", "alt");
    verify("and says in words what it shows", /step \d+, .*margin \d\.\d\d, 0 cells wrong/.test(alt), alt);
    await page.waitForTimeout(2500);
    const gaps = seen.taken.slice(1).map((ms, i) => ms - seen.taken[i]);
    verify("stills are a second apart", gaps.length >= 2 && gaps.every((gap) => gap >= 1000), gaps.join(" "));
}

const focused = (page) => page.evaluate(() => {
    const element = document.activeElement;
    const style = getComputedStyle(element);
    return { id: element.id, name: element.tagName, ring: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2 };
});

async function keyboard(page) {
    const stops = [];
    for (let i = 0; i < 12; i++) {
        await page.keyboard.press("Tab");
        const now = await focused(page);
        if (now.name === "BODY" || stops.some((stop) => stop.id === now.id && stop.name === now.name)) break;
        stops.push(now);
    }
    const reachable = await page.evaluate(() =>
        [...document.querySelectorAll("button, summary, a[href], input, select, [tabindex]")]
            .filter((element) => element.checkVisibility()).length);
    verify("Tab reaches everything", stops.length === reachable && reachable >= 3, JSON.stringify(stops));
    verify("and the focus can be seen", stops.every((stop) => stop.ring), JSON.stringify(stops));
    await page.evaluate(() => document.activeElement.blur());
    for (const key of [" ", "Escape"]) {
        await page.keyboard.press(key);
        const held = await number(page);
        await page.waitForTimeout(2300);
        verify(`${key === " " ? "Space" : key} holds the picture`,
            (await page.getAttribute("#hold", "aria-pressed")) === "true" && (await number(page)) === held);
        await page.keyboard.press(key);
        verify(`and lets go`, (await page.getAttribute("#hold", "aria-pressed")) === "false" &&
            await page.waitForFunction((n) => Number(document.getElementById("picture").dataset.number) > n, held, { timeout: 5000 })
                .then(() => true, () => false));
    }
    await page.focus("#faster");
    await page.keyboard.press("Enter");
    verify("the question opens with the keyboard", await page.locator("#flashing").evaluate((box) => box.open));
    verify("its focus is on the safe answer", (await focused(page)).id === "stills");
    verify("it names its reasons", /WCAG 2\.3\.1/.test(await text(page, "flashing")) && /BT\.1702/.test(await text(page, "flashing")));
}

async function withoutAgreement(page) {
    verify("no agreement where the command line gave none", !(await page.isVisible("#agree")) && (await page.isVisible("#may-not")));
    await page.keyboard.press("Escape");
    verify("Escape closes the question and nothing else", !(await page.locator("#flashing").evaluate((box) => box.open)) &&
        (await page.getAttribute("#hold", "aria-pressed")) === "false");
}

async function rules(page, name) {
    await page.evaluate(axe);
    const result = await page.evaluate(() => window.axe.run({ resultTypes: ["violations"] }));
    const told = result.violations.map((rule) => rule.id + " " + rule.nodes.map((node) => node.target).join(","));
    verify(`accessibility rules, ${name} (${result.passes.length} held)`, told.length === 0, told.join("; "));
}

/* Headline and margin for each level too, whatever is so just now. */
async function themes(browser, address) {
    for (const options of [{ colorScheme: "light" }, { colorScheme: "dark" }, { colorScheme: "light", contrast: "more" },
        { colorScheme: "dark", forcedColors: "active", reducedMotion: "reduce" }]) {
        const { page, seen } = await openPage(browser, address, options);
        await headlineIs(page, "All well");
        await page.evaluate(() => document.querySelectorAll("details").forEach((element) => (element.open = true)));
        await rules(page, Object.values(options).join(" "));
        for (const level of ["look", "wrong", "blind"]) {
            await page.route("**/state.json", async (route) => {
                const reply = await (await route.fetch()).json();
                reply.state.now.level = level;
                reply.state.checks.forEach((row) => (row.state = level === "blind" ? "unknown" : "bad"));
                await route.fulfill({ json: reply });
            });
            await page.waitForFunction((wanted) => document.getElementById("now").dataset.level === wanted, level);
            await rules(page, Object.values(options).join(" ") + ", " + level);
            await page.unrouteAll({ behavior: "ignoreErrors" });
        }
        verify("nothing moves by itself", (await page.evaluate(() => document.getAnimations().length)) === 0);
        verify("no complaint", seen.complaints.length === 0, seen.complaints.join("; "));
        await page.close();
    }
}

/* Connecting to the port at every other address of this machine. */
async function outside(address) {
    const port = Number(new URL(address).port);
    const others = Object.values(networkInterfaces()).flat().filter((row) => !row.address.startsWith("fe80") && row.address !== "127.0.0.1");
    for (const { address: host } of others) {
        const error = await new Promise((resolve) => {
            const socket = connect({ host, port, timeout: 3000 });
            socket.on("connect", () => (socket.destroy(), resolve("connected")));
            socket.on("timeout", () => (socket.destroy(), resolve("timeout")));
            socket.on("error", (why) => resolve(why.code));
        });
        verify(`${host.includes(":") ? "an IPv6" : "another"} address is not answered`, error === "ECONNREFUSED", `${host} ${error}`);
    }
    if (others.length === 0) console.log("skip another address: this machine has none");
}

async function fedByPipe(browser) {
    const source = new Source("source.yuv");
    source.start();
    const watch = await startWatch("--plan", "one.ini", "source.yuv");
    const { page, seen } = await openPage(browser, watch.address);
    verify("the page loads and all is well", await headlineIs(page, "All well"), await text(page, "headline"));
    await outside(watch.address);
    await pictures(page, seen);
    await lostSignals(page, source);
    await keyboard(page);
    await withoutAgreement(page);
    await themes(browser, watch.address);
    verify("no complaint in the console", seen.complaints.length === 0, seen.complaints.join("; "));
    verify("nothing asked of anyone else", seen.outside.length === 0, seen.outside.join(" "));
    watch.child.kill("SIGINT");
    const end = await watch.ended;
    verify("Ctrl-C ends it well", end.status === 0 && end.complaint === "", JSON.stringify(end));
    verify("and the page says so", await headlineIs(page, "Watch has ended"), await text(page, "headline"));
    await page.close();
    source.stop();
}

const HOSTILE = "<img src=x onerror=alert(1)>";

async function onABench(browser) {
    writeFileSync("hostile.ini", `[plan]\nname = mine\n[step ${HOSTILE}]\nPF1 = $81\n[step two]\nPF2 = $81\n`);
    const watch = await startWatch("--agreed-to-flashing", "--plan", "hostile.ini", "--fault", "bit-low=PF1.7");
    const calm = await openPage(browser, watch.address);
    const { page, seen } = await openPage(browser, watch.address);
    verify("wrong cells are named", await headlineIs(page, "Wrong cells"), await text(page, "headline"));
    verify("with a name from outside as text", (await text(page, "seen")).includes(HOSTILE) && (await page.locator("#now img").count()) === 0,
        await text(page, "seen"));
    verify("and the cell", /cells 4, 24\./.test(await text(page, "seen")), await text(page, "seen"));
    await page.click("#faster");
    await page.click("#agree");
    seen.taken.length = calm.seen.taken.length = 0;
    await page.waitForFunction((n) => Number(document.getElementById("picture").dataset.number) > n + 8, await number(page), { timeout: 20000 });
    await page.waitForTimeout(1500);
    const gaps = (taken) => taken.slice(1).map((ms, i) => ms - taken[i]);
    verify("who agreed gets more than one a second, and at most ten", gaps(seen.taken).some((gap) => gap < 1000) &&
        gaps(seen.taken).every((gap) => gap >= 100), gaps(seen.taken).join(" "));
    verify("who did not still gets stills", gaps(calm.seen.taken).every((gap) => gap >= 1000), gaps(calm.seen.taken).join(" "));
    await page.click("#faster");
    verify("and back", (await text(page, "caption")).startsWith("One still"), await text(page, "caption"));
    verify("no complaint on a bench", seen.complaints.length + calm.seen.complaints.length === 0, seen.complaints.join("; "));
    watch.child.kill("SIGTERM");
    await watch.ended;
}

const browser = await chromium.launch(launch);
try {
    await fedByPipe(browser);
    await onABench(browser);
} catch (error) {
    verify("to the end", false, error.stack);
} finally {
    await browser.close();
}
process.exit(failed > 0 ? 1 : 0);
