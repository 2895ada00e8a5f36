// The console model (wasm32) and the emulated chip in lockstep: a bus cycle of the console is 104.76 cycles of the
// chip at 125 MHz. Whatever waits for the chip (chip.run) makes the console go on meanwhile.
import { readFileSync } from 'node:fs';
import { buildDir } from './emulator.mjs';
import { CHIP_NS, CYCLE, CYCLE_NS } from './bus.mjs';
import { Slot } from './slot.mjs';

const ADDRESS = 200 / CHIP_NS; // all address lines have settled, into the cycle
const DRIVEN = (419 + 200) / CHIP_NS; // what the console drives is there
const LATCH = (CYCLE_NS - 100) / CHIP_NS;
const NEVER = Infinity;
const WRITE = 1; // and above: the console drives the data lines
const FIELD_LINES = 400;

export class Lockstep {
  constructor(chip, options) {
    this.chip = chip;
    this.slot = new Slot(chip.mcu, options);
    this.level = 0xff;
    this.outside = false;
    this.address = 0;
    this.nextAt = NEVER;
    this.on = false;
    this.changes = 0; // of the address
    this.onReset = null; // called with what the console read at its reset vector
    chip.onCycles = (count) => {
      for (let i = 0; i < count; i++) {
        this.slot.tick();
        while (this.slot.now >= this.nextAt) this.#phase();
      }
    };
    const run = chip.run.bind(chip);
    chip.run = (done, us) => (this.on ? this.#runWith(done, us) : run(done, us));
  }

  #runWith(done, us) {
    const { chip } = this;
    const until = chip.clock.nanos + us * 1000;
    while (!done()) {
      if (chip.ended) return done();
      if (chip.clock.nanos >= until) return false;
      this.console.run_field(1);
    }
    return true;
  }

  // What is on the data lines: it stays when nobody drives.
  #settle() {
    const { slot } = this;
    if (!this.outside && slot.reaches === 0xff) this.level = slot.data;
    slot.setBus(this.level);
  }

  // What happens within a bus cycle, in order.
  #phase() {
    const { until } = this;
    this.#settle();
    switch (this.phase++) {
      case 0:
        this.outside = false;
        this.slot.setAddress(this.address);
        this.nextAt = until - CYCLE + DRIVEN;
        break;
      case 1:
        if (this.kind >= WRITE) {
          this.outside = true;
          this.level = this.driven;
          this.#settle();
        }
        this.nextAt = until - CYCLE + LATCH;
        break;
      default:
        this.latched = this.level;
        this.nextAt = NEVER;
    }
  }

  #cycle(cycles, address, data, kind) {
    const { slot, chip } = this;
    this.from = this.until;
    if (address !== this.address) this.changes++;
    this.until = this.from + cycles * CYCLE;
    Object.assign(this, { address, driven: data, kind, phase: 0, nextAt: this.from + ADDRESS });
    while (slot.now < this.until) chip.step(NEVER);
    if (address === 0x1ffc || address === 0x1ffd) this.onReset?.(address, this.latched);
    return this.latched;
  }

  // Switches the console on. faults: { tiaLow, tiaHigh, slotLow, slotHigh }, masks of data lines.
  powerOn({ seed = 1, tiaLow = 0, tiaHigh = 0, slotLow = 0, slotHigh = 0 } = {}) {
    const module = new WebAssembly.Module(readFileSync(`${buildDir}/mcu/console.wasm`));
    const imports = { slot: { cycle: (...words) => this.#cycle(...words) } };
    this.console = new WebAssembly.Instance(module, imports).exports;
    this.until = this.slot.now;
    this.on = true;
    this.slot.setSupply(true);
    this.console.power_on(seed, tiaLow, tiaHigh, slotLow, slotHigh);
  }

  powerOff() {
    this.on = false;
    this.slot.setSupply(false);
  }

  // Bus cycles by hand instead of the console's; between them the chip may run without its slot (quietly()).
  byHand() {
    this.until = this.slot.now;
    this.slot.setSupply(true);
  }

  read(address) {
    this.until = Math.max(this.until, this.slot.now);
    return this.#cycle(1, address, 0xff, 0);
  }

  // The chip alone: many times faster. Console and slot stand still, so nothing may be served anew meanwhile, and
  // there is no DMA, which the UART needs.
  quietly(body) {
    const { chip, on } = this;
    const hook = chip.onCycles;
    this.on = false;
    chip.onCycles = null;
    try {
      return body();
    } finally {
      this.on = on;
      chip.onCycles = hook;
    }
  }

  // Draws so many fields; returns them as tests/mcu/slotend/grab.c wants them.
  draw(count) {
    const { console } = this;
    const pieces = [];
    for (let i = 0; i < count; i++) {
      console.run_field(FIELD_LINES);
      const lines = console.field_lines();
      const head = Uint8Array.of(lines & 0xff, lines >> 8, console.field_synced(), 3);
      pieces.push(head, new Uint8Array(console.memory.buffer, console.field_pixels(), lines * 160).slice());
    }
    return Buffer.concat(pieces);
  }
}
