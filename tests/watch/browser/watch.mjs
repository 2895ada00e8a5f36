/* slotjig watch as a child, and a source whose signal can be taken away: a pipe of bare frames that is fed at 30 frames
   a second with a recording, with flat frames, with one frame again and again, or with nothing. */
import { spawn, execFileSync } from "node:child_process";
import { openSync, readFileSync, writeFileSync, writeSync, closeSync, constants } from "node:fs";
import { createInterface } from "node:readline";

export const slotjig = process.env.BUILD_DIR + "/slotjig";
const FRAME = 720 * 480 * 2;

/* Resolves to the page's address, the child and the promise of its end. */
export async function startWatch(...options) {
    const child = spawn(slotjig, ["watch", ...options], { stdio: ["ignore", "pipe", "pipe"] });
    let complaint = "";
    child.stderr.on("data", (text) => (complaint += text));
    const ended = new Promise((resolve) => child.on("close", (status, signal) => resolve({ status, signal, complaint })));
    const lines = createInterface({ input: child.stdout });
    const address = await new Promise((resolve, reject) => {
        lines.on("line", (line) => resolve(/http:\/\/127\.0\.0\.1:\d+\//.exec(line)?.[0]));
        ended.then((end) => reject(new Error("watch ended: " + JSON.stringify(end))));
    });
    return { address, child, ended };
}

export class Source {
    constructor(path) {
        /* One step, and as many fields as the slate counts: it can be shown round and round without a break. */
        writeFileSync("one.ini", "[plan]\nname = one\n[step one]\nPF1 = $81\nPF2 = $0F\n");
        execFileSync(slotjig, ["grab", "--bench", "virtual", "--plan", "one.ini", "--fields", "96", "--quiet", "-o", "good.yuv"]);
        this.good = readFileSync("good.yuv").subarray(-32 * FRAME);
        this.flat = Buffer.alloc(FRAME);
        for (let i = 0; i < FRAME; i += 2) this.flat.writeUInt16LE(0x8010, i);
        execFileSync("mkfifo", [path]);
        this.path = path;
        this.mode = "good";
        this.sent = { good: 0, flat: 0, still: 0 };
        this.rest = Buffer.alloc(0);
    }
    frame() {
        if (this.mode === "flat") return this.flat;
        const count = this.good.length / FRAME;
        const at = this.mode === "still" ? 10 : this.sent.good % count;
        return this.good.subarray(at * FRAME, (at + 1) * FRAME);
    }
    /* Never waits for the reader: what does not fit goes with the next tick. */
    push() {
        while (this.rest.length > 0) {
            try {
                this.rest = this.rest.subarray(writeSync(this.file, this.rest));
            } catch (error) {
                if (error.code === "EAGAIN") return false;
                throw error;
            }
        }
        return true;
    }
    start() {
        this.file = openSync(this.path, constants.O_RDWR | constants.O_NONBLOCK);
        this.due = performance.now();
        this.timer = setInterval(() => {
            if (!this.push() || performance.now() < this.due || this.mode === "none") return;
            this.due = Math.max(this.due + 1000 / 30, performance.now() - 100);
            this.rest = this.frame();
            this.sent[this.mode]++;
            if (this.begun === null) this.begun = Date.now();
            this.push();
        }, 1);
    }
    /* When the first frame of the new kind has begun to go out; of none, when the last one was over. */
    async become(mode) {
        this.mode = mode;
        this.begun = mode === "none" ? Date.now() : null;
        while (this.begun === null) await new Promise((resolve) => setTimeout(resolve, 1));
        return this.begun;
    }
    stop() {
        clearInterval(this.timer);
        closeSync(this.file);
    }
}
