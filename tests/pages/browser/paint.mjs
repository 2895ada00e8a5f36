/* Milliseconds to a page's first paint, as the browser itself says: node paint.mjs NAME=FILE... The median of many
   loads by turns, each in a tab of its own, beside a page of one letter. Prints `name value unit` lines. */
import { writeFileSync } from "node:fs";
import { loadavg } from "node:os";
import { pathToFileURL } from "node:url";
import { chromium, launch } from "./page.mjs";

const LOADS = 9;
const median = (list) => list.sort((a, b) => a - b)[list.length >> 1];

async function paint(context, path) {
    const page = await context.newPage();
    await page.goto(pathToFileURL(path).href, { waitUntil: "load" });
    await page.waitForFunction(() => performance.getEntriesByType("paint").length > 0, undefined, { timeout: 20000 });
    const ms = await page.evaluate(
        () =>
            performance
                .getEntriesByType("paint")
                .map((entry) => entry.startTime)
                .sort((a, b) => a - b)[0],
    );
    await page.close();
    return ms;
}

const files = new Map([
    ["one_letter", process.env.TMPDIR + "/one_letter.html"],
    ...process.argv.slice(2).map((pair) => pair.split("=")),
]);
writeFileSync(files.get("one_letter"), "<!doctype html><html lang=en><title>x</title><p>x");
const browser = await chromium.launch(launch);
const context = await browser.newContext({ viewport: { width: 1280, height: 900 } });
const times = new Map([...files.keys()].map((name) => [name, []]));
await paint(context, files.get("one_letter")); /* the browser's own start */
for (let i = 0; i < LOADS; i++) for (const [name, path] of files) times.get(name).push(await paint(context, path));
for (const [name, list] of times) console.log(`pages_${name}_first_paint ${median(list).toFixed(0)} ms`);
console.log(`pages_load_of_the_machine ${loadavg()[0].toFixed(2)} processes`);
await browser.close();
