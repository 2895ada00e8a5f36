// Address lines that do not move at once: no false bank switch, no false event, no store, no wrong byte that stays.
//
// Every transition goes from a steady address through one or more false ones, each held HELD cycles, to another
// steady one. What is complete by construction: all subsets of the lines that move, for pairs whose 13 lines all move
// (so that every address of the machine is passed through) and for all pairs of the hotspots' neighbourhood; every
// single line from every address. The rest is random, with a printed seed.
import { resolve } from 'node:path';
import { CHIP_NS, shuffler } from './lib/bus.mjs';
import { test, that } from './lib/check.mjs';
import { buildDir } from './lib/emulator.mjs';
import { BANKS, HOTSPOTS, SlotOnly, image, random } from './lib/slotonly.mjs';

const HELD = 8; // cycles, 64 ns; `steady` takes three samples over 8 cycles
const SETTLED = 64; // cycles a steady address is given here
const RIGHT = 54; // cycles from the last line to the right byte: 438 ns, what the 6502 leaves (timing.md)
const small = process.env.SLOTJIG_TEST_SMALL === '1';
const seed = Number(process.env.SLOTJIG_TEST_SEED ?? 20251);
const elf = resolve(buildDir, 'firmware/slotonly.elf');
const RING_AT = 0x4000, RING = 8192, EVENT_CHANNEL = 4;
const hex = (value) => `$${value.toString(16)}`;

class Lines {
  constructor(scheme, ram) {
    this.scheme = scheme;
    this.bytes = image(BANKS[scheme] * 4096, 6);
    this.chip = new SlotOnly(elf);
    this.chip.load(this.bytes, scheme, ram);
    this.ram = ram;
    this.bank = BANKS[scheme] - 1;
    this.worst = 0;
    this.count = 0;
    this.at = 0;
    this.chip.slot.setAddress(0);
    this.chip.run(100);
  }

  get reported() {
    return (this.chip.mcu.dma.channels[EVENT_CHANNEL].writeAddr - 0x20000000 - RING_AT) >>> 1;
  }

  // Through those addresses to the last of them, which stays.
  go(path, held = HELD) {
    const { chip } = this;
    const before = this.reported;
    const to = path.at(-1);
    for (let i = 0; i + 1 < path.length; i++) {
      chip.slot.setAddress(path[i]);
      chip.run(held);
    }
    chip.slot.setAddress(to);
    this.#settle(to, path);
    this.#checkEvents(before, to, path);
    this.at = to;
    this.count++;
  }

  #settle(to, path) {
    const { chip, scheme } = this;
    const { slot } = chip;
    const hotspot = HOTSPOTS[scheme].indexOf(to);
    if (hotspot >= 0) this.bank = hotspot;
    const drives = to >= 0x1000 && !(this.ram && to < 0x1080);
    const wanted = drives && !(this.ram && to < 0x1100) ? this.bytes[this.bank * 4096 + (to & 4095)] : null;
    let wrong = 0;
    for (let cycle = 1; cycle <= SETTLED; cycle++) {
      chip.tick();
      const right = drives ? slot.driven === 0xff && (wanted === null || slot.data === wanted) : slot.driven === 0;
      if (!right) wrong = cycle;
    }
    this.worst = Math.max(this.worst, wrong + 1);
    if (wrong >= RIGHT) throw new Error(`wrong for ${wrong} cycles in bank ${this.bank}: ${this.#say(path)}`);
  }

  #checkEvents(before, to, path) {
    const { mcu } = this.chip;
    const wanted = to === this.at ? 0 : 1;
    const got = (this.reported - before + RING) % RING;
    const last = mcu.sramView.getUint16(RING_AT + 2 * before, true) >>> 1;
    if (got !== wanted || (wanted && last !== to)) throw new Error(`${got} events, the first ${hex(last)}: ${this.#say(path)}`);
  }

  #say(path) {
    return [this.at, ...path].map(hex).join(' ');
  }

  get summary() {
    return `${this.count} transitions, right after at most ${this.worst} cycles (${this.worst * CHIP_NS} ns; no silicon timing)`;
  }
}

// Every false address between two, each on its own, there and back.
function everySubset(lines, from, to) {
  const moving = from ^ to;
  if (lines.at !== from) lines.go([from]);
  for (let subset = (moving - 1) & moving; subset > 0; subset = (subset - 1) & moving) {
    const target = lines.at === from ? to : from;
    lines.go([lines.at ^ subset, target]);
  }
}

const opposite = (address) => [address, address ^ 0x1fff];

for (const ram of [false, true]) {
  test(`F4${ram ? ' with RAM' : ''}: all 13 lines move, through every address there is`, () => {
    const lines = new Lines('F4', ram);
    const starts = small ? [0x1fff] : [0x1fff, 0x1ff4, 0x1ffb, 0x1aa5, 0x0f0f, 0x1100];
    for (const start of starts) {
      everySubset(lines, ...opposite(start));
      everySubset(lines, ...opposite(start).reverse());
    }
    if (ram) {
      const lanes = lines.chip.mcu.sram.subarray(0x8000, 0x18000);
      const at = lines.chip.spareAt === 0x8000 ? 0x8000 : 0;
      that('the RAM was never written', lanes.subarray(at + 0x400, at + 0x800).every((byte) => byte === 0));
    }
    return lines.summary;
  });
}

for (const scheme of ['F8', 'F6', 'F4']) {
  test(`${scheme}: all pairs of the hotspots and their neighbours, through every address between`, () => {
    const lines = new Lines(scheme, false);
    const near = new Set(HOTSPOTS[scheme]);
    for (const hotspot of HOTSPOTS[scheme]) for (let line = 0; line < 13; line++) near.add(hotspot ^ (1 << line));
    const list = [...near].filter((_, i) => !small || i % 6 === 0);
    for (const from of list) {
      for (const to of list) {
        if (from === to) continue;
        lines.go([from]);
        lines.go([to]);
        everySubset(lines, lines.at, from);
      }
    }
    return lines.summary;
  });
}

test('F4: every single line from every address', () => {
  const lines = new Lines('F4', false);
  for (let address = 0; address < 8192; address += small ? 61 : 1) {
    lines.go([address]);
    for (let line = 0; line < 13; line++) {
      lines.go([address ^ (1 << line)]);
      lines.go([address]);
    }
  }
  return lines.summary;
});

test(`lines one after the other, in any order and held for any time, seed ${seed}`, () => {
  const next = random(seed);
  const shuffle = shuffler(next);
  const notes = [];
  for (const scheme of ['F8', 'F4']) {
    const lines = new Lines(scheme, false);
    for (let i = 0; i < (small ? 500 : 15000); i++) {
      const near = HOTSPOTS[scheme][next(HOTSPOTS[scheme].length)] ^ (1 << next(13));
      const to = next(2) ? next(8192) : near;
      const moving = [];
      for (let line = 0; line < 13; line++) if ((lines.at ^ to) >>> line & 1) moving.push(line);
      shuffle(moving);
      let at = lines.at;
      const path = moving.map((line) => (at ^= 1 << line));
      if (path.length > 0) lines.go(path, 1 + next(HELD));
    }
    notes.push(lines.summary);
  }
  return notes.join('; ');
});

// What the number of samples is for: a false address that stays longer than is claimed does switch.
test('a hotspot that stays long enough counts: the checks above can fail', () => {
  const lines = new Lines('F8', false);
  lines.go([0x1000]);
  let longest = 0;
  for (let held = 1; held < 40; held++) {
    try {
      lines.go([0x1ff8, lines.at ^ 1], held);
      longest = held;
    } catch {
      break;
    }
  }
  that(`held ${longest} cycles without a switch`, longest >= HELD && longest <= 20);
  return `${longest} cycles go unnoticed`;
});
