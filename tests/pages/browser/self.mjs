/* What finds nothing proves nothing: each question, asked of a page that is wrong in its way alone. */
import * as ask from "./page.mjs";
import { contrast, letters } from "./charts.mjs";

const head =
    `<!doctype html><html lang=en><meta charset=utf-8><meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:">` +
    "<title>x</title><style>body{background:#fff;color:#000}</style><body><main><h1>x</h1><p>text</p>";
const faults = [
    ["a script", ask.inert, "<script>1</script>"],
    ["a handler", ask.inert, "<p onclick=1>x</p>"],
    ["an attribute that is none", ask.inert, "<p aria-label=''><script>window.ran'>x</p>"],
    ["a link elsewhere", ask.inert, "<p><a href='javascript:1'>text</a></p>"],
    ["a link to nothing", ask.inert, "<p><a href='#none'>text</a></p>"],
    ["two of one id", ask.inert, "<p id=a>x</p><p id=a>x</p>"],
    ["a picture from outside", ask.inert, "<img alt=x src='https://example.invalid/x.png'>"],
    ["two headlines", ask.framed, "<h1>y</h1>"],
    ["a table without a name", ask.framed, "<table><tr><th>x</table>"],
    ["an animation", ask.moving, "<style>@keyframes f{50%{color:red}}b{animation:f 1s infinite}</style><b>x</b>"],
    ["a transition", ask.moving, "<p style='transition:color 1s'>x</p>"],
    ["grey on white", ask.rules, "<p style='color:#aaa'>some text</p>"],
    ["a heading left out", ask.rules, "<h3>text</h3>"],
    ["a grey letter", letters, "<p style='color:#aaa'>x</p>"],
    [
        "a pale stroke",
        contrast,
        "<svg role=img aria-label=x width=50 height=50><path class=one stroke='#ccc' fill=none d='M0 0h50'/></svg>",
    ],
    ["a wide box", ask.tooWide, "<div style='width:3000px'>x</div>"],
    ["a text cut off", ask.cutOff, "<div style='width:20px;height:1em;overflow:hidden'>longer than that</div>"],
    [
        "a region that Tab does not reach",
        ask.deafRegions,
        "<div style='overflow:auto;width:50px'><p style='width:300px'>x</p></div>",
    ],
];

export async function self(browser) {
    const context = await browser.newContext({ viewport: { width: 1280, height: 900 } });
    const page = await context.newPage();
    for (const [name, question, body] of [["nothing", null, ""], ...faults]) {
        await page.setContent(head + body);
        if (question) ask.verify(`self: ${name} is found`, (await question(page)).length > 0);
        else
            for (const other of new Set(faults.map((fault) => fault[1])))
                ask.none(`self: ${other.name} finds nothing where nothing is`, await other(page));
    }
    await context.close();
}
