/* Asks slotjig for the present several times a second and for a picture when one is due. Texts from outside are only
   ever set as text. */
"use strict";

const STATE_MS = 200; // between two questions
const SILENT_MS = 500; // a state older than this says that nothing comes any more
const GONE_MS = 1500; // without an answer: slotjig has ended
const PICTURE_MS = { still: 250, fast: 50 }; // between two questions; slotjig decides when there is a new one
const SYMBOLS = { well: "\u2713", look: "!", wrong: "\u2715", blind: "?" };
const MARKS = { good: "\u2713", bad: "\u2715", unknown: "\u2013" };
const CHECKS = {
    frames: { good: "come", bad: "do not come" },
    signal: { good: "there", bad: "flat" },
    slate: { good: "read", bad: "not this plan's, or not read" },
    raster: { good: "whole", bad: "cut off" },
    margin: { good: "enough", bad: "thin" },
    cells: { good: "right", bad: "wrong" },
    capture: { good: "even", bad: "uneven" },
};
const ENDED = {
    kind: "ended",
    level: "blind",
    headline: "Watch has ended",
    text: "slotjig does not answer any more.",
    next: "Start it again; it prints the page's address.",
};

const at = (id) => document.getElementById(id);
const calm = matchMedia("(prefers-reduced-motion: reduce)");
let heard = performance.now();
let said = "";
let held = false;
let pace = "still";
let mayFlash = false;
let number = 0;
let taken = 0;
let url = "";
let stripShown = 0;

function setText(element, text) {
    if (element.textContent !== text) element.textContent = text;
}

// ---- the state ----

function showWords(words) {
    at("now").dataset.level = words.level;
    document.title = words.headline + " \u2013 slotjig watch";
    setText(at("symbol"), SYMBOLS[words.level] ?? "?");
    setText(at("headline"), words.headline);
    setText(at("seen"), words.text);
    setText(at("next"), words.next);
    const spoken = words.kind + words.headline;
    if (said !== spoken) {
        said = spoken;
        setText(at("announce"), words.headline + ". " + words.next);
    }
}

function showMargin(state, silent) {
    const known = !silent && state.margin !== null;
    setText(at("margin"), known ? String(Math.round(state.margin * 100)) : "\u2013");
}

function stripBars() {
    const bars = at("bars");
    while (bars.children.length < 120) {
        const bar = document.createElementNS("http://www.w3.org/2000/svg", "rect");
        bar.setAttribute("width", "0.9");
        bars.append(bar);
    }
    return bars.children;
}

function showStrip(state) {
    if (calm.matches && performance.now() - stripShown < 2000) return;
    stripShown = performance.now();
    const bars = stripBars();
    let lowest = 101;
    state.strip.forEach((value, i) => {
        const read = value !== null && value >= 0;
        bars[i].setAttribute("x", String(i));
        bars[i].setAttribute("y", String(read ? 100 - value : 101));
        bars[i].setAttribute("height", String(read ? value : 5));
        bars[i].setAttribute("class", read ? "" : value === null ? "unused" : "none");
        if (read) lowest = Math.min(lowest, value);
    });
    const words = lowest > 100 ? "nothing read" : "lowest " + lowest;
    at("strip").setAttribute("aria-label", "Margin over the last minute: " + words);
}

function checkWord(row, state) {
    if (row.state === "bad" && row.check === "capture" && state.troubles.length > 0) {
        return state.troubles.join(", ").toLowerCase();
    }
    if (row.state === "bad" && row.check === "slate" && state.now.kind === "stands_still") return "stands still";
    return CHECKS[row.check]?.[row.state] ?? "not known";
}

function showChecks(state) {
    const list = at("checks");
    while (list.children.length < state.checks.length) {
        const item = document.createElement("li");
        const mark = document.createElement("span");
        const name = document.createElement("span");
        mark.setAttribute("aria-hidden", "true");
        name.className = "name";
        item.append(mark, name, document.createElement("span"));
        list.append(item);
    }
    state.checks.forEach((row, i) => {
        const [mark, name, word] = list.children[i].children;
        list.children[i].dataset.state = row.state;
        setText(mark, MARKS[row.state]);
        setText(name, row.check);
        setText(word, checkWord(row, state));
    });
}

function fillList(list, rows) {
    while (list.children.length > 2 * rows.length) list.lastChild.remove();
    rows.forEach(([name, value], i) => {
        if (list.children.length <= 2 * i) list.append(document.createElement("dt"), document.createElement("dd"));
        setText(list.children[2 * i], name);
        setText(list.children[2 * i + 1], String(value));
    });
}

function showFacts(state) {
    const source = state.source;
    const shown = state.step < 0 ? "none yet" : `${state.step}: ${state.step_name}`;
    const raster = state.raster;
    fillList(at("facts"), [
        ["step", shown],
        ["steps seen", `${state.steps_seen} of ${state.steps}, wrong ${state.steps_wrong}`],
        ["frames a second", state.frames_a_second.toFixed(1)],
        ["new fields a second", state.fields_a_second.toFixed(1)],
        ["noise", state.noise_db === null ? "not known" : state.noise_db + " dB below black to white"],
        ["layout", state.layout],
        ["raster", raster === null ? "none" : `left ${raster.left}, top ${raster.top}, cell ${raster.cell_width} samples`],
        ["levels", raster === null ? "none" : `black ${raster.black}, white ${raster.white}`],
        ["source", `${source.kind} ${source.name}, ${source.width} by ${source.height} ${source.format}` +
            (source.untried ? " (a kind of device never tried)" : "")],
    ]);
    fillList(at("counts"), state.counts);
    setText(at("where"), `bench ${state.bench}, plan ${state.plan}, ${state.standard}`);
}

function showWrong(state) {
    at("wrong-panel").hidden = state.wrong.length === 0;
    setText(at("wrong-title"), `Wrong steps: ${state.steps_wrong}`);
    const list = at("wrong");
    while (list.children.length > state.wrong.length) list.lastChild.remove();
    state.wrong.forEach((row, i) => {
        if (list.children.length <= i) list.append(document.createElement("li"));
        const cells = row.cells.length > 0 ? "cells " + row.cells.join(", ") : "cells do not lie where they should";
        setText(list.children[i], `step ${row.step} (${row.name}): ${cells}`);
    });
}

function show(answer) {
    mayFlash = answer.may_flash;
    const state = answer.state;
    if (state === null) return;
    const silent = answer.age_ms > SILENT_MS;
    showWords(silent ? state.silent : state.now);
    showMargin(state, silent);
    showStrip(state);
    showChecks(state);
    showFacts(state);
    showWrong(state);
}

async function askState() {
    try {
        const reply = await fetch("/state.json", { cache: "no-store", signal: AbortSignal.timeout(GONE_MS) });
        if (reply.ok) {
            show(await reply.json());
            heard = performance.now();
        }
    } catch {
        /* told below, when it lasts */
    }
    if (performance.now() - heard > GONE_MS) showWords(ENDED);
    setTimeout(askState, STATE_MS);
}

// ---- the picture ----

async function putPicture(reply) {
    const fresh = URL.createObjectURL(await reply.blob());
    const trial = new Image();
    trial.src = fresh;
    await trial.decode(); // so that the old one stays until the new one is there
    if (held) return URL.revokeObjectURL(fresh);
    at("picture").src = fresh;
    at("picture").alt = decodeURIComponent(reply.headers.get("Slotjig-Alt") ?? "");
    at("picture").hidden = false;
    at("no-picture").hidden = true;
    at("picture").dataset.number = reply.headers.get("Slotjig-Picture");
    number = Number(reply.headers.get("Slotjig-Picture"));
    taken = performance.now();
    if (url) URL.revokeObjectURL(url);
    url = fresh;
}

function showCaption() {
    const age = Math.round((performance.now() - taken) / 1000);
    const rate = pace === "fast" ? "Up to ten pictures a second." : "One still a second.";
    const old = number > 0 && age >= 3 ? ` This one is ${age} seconds old.` : "";
    setText(at("caption"), (held ? "Held; Space or Escape lets go." : rate) + old);
}

async function askPicture() {
    if (!held) {
        try {
            const reply = await fetch(`/picture.png?after=${number}&pace=${pace}`, {
                cache: "no-store",
                signal: AbortSignal.timeout(3000),
            });
            if (reply.status === 200) await putPicture(reply);
        } catch {
            /* the state's answer tells when slotjig has ended */
        }
    }
    showCaption();
    setTimeout(askPicture, PICTURE_MS[pace]);
}

// ---- what a person does ----

function hold(on) {
    held = on;
    at("hold").setAttribute("aria-pressed", String(on));
    showCaption();
}

function setPace(to) {
    pace = to;
    at("faster").setAttribute("aria-pressed", String(to === "fast"));
    setText(at("faster"), to === "fast" ? "Back to one still a second" : "More pictures\u2026");
    showCaption();
}

function askAgreement() {
    at("may").hidden = !mayFlash;
    at("may-not").hidden = mayFlash;
    at("agree").hidden = !mayFlash;
    at("flashing").showModal();
    at("stills").focus();
}

at("hold").addEventListener("click", () => hold(!held));
at("faster").addEventListener("click", () => (pace === "fast" ? setPace("still") : askAgreement()));
at("stills").addEventListener("click", () => at("flashing").close());
at("agree").addEventListener("click", () => {
    setPace("fast");
    at("flashing").close();
});
document.addEventListener("keydown", (event) => {
    const busy = event.target.closest?.("button, summary, a, input") !== null;
    if (at("flashing").open || event.repeat || event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.key === "Escape" || (event.key === " " && !busy)) {
        event.preventDefault();
        hold(!held);
    }
});

stripBars();
askState();
askPicture();
