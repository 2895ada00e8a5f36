// The slot's service alone in the emulated chip: tests/mcu/slotonly/main.c. The processor runs only while it has an
// order; reads need none.
import { readElf } from './elf.mjs';
import { RP2040 } from './emulator.mjs';
import { Slot } from './slot.mjs';

export const SCHEME = { '2K': 0, '4K': 1, F8: 2, F6: 3, F4: 4 };
export const BANKS = { '2K': 1, '4K': 1, F8: 2, F6: 4, F4: 8 };
// [P] trade practice, no source; written down here again, so that a wrong table in the firmware is seen.
export const HOTSPOTS = { '2K': [], '4K': [], F8: [0x1ff8, 0x1ff9], F6: [0x1ff6, 0x1ff7, 0x1ff8, 0x1ff9],
  F4: [0x1ff4, 0x1ff5, 0x1ff6, 0x1ff7, 0x1ff8, 0x1ff9, 0x1ffa, 0x1ffb] };
const RAM = 0x20000000, ORDER_SERVE = 1, ORDER_EVENTS = 2, CYCLES_MAX = 1000000, TABLE = 32768;

function complain(part, text) {
  throw new Error(`${part}: ${text}`);
}

export class SlotOnly {
  constructor(elfPath, options) {
    const elf = readElf(elfPath);
    this.mcu = new RP2040();
    this.mcu.logger = { debug() {}, info() {}, warn: complain, error: complain };
    for (const { address, bytes } of elf.segments) this.mcu.sram.set(bytes, address - RAM);
    this.symbols = elf.symbols;
    this.slot = new Slot(this.mcu, options);
    this.slot.setSupply(true);
    this.mcu.core.SP = elf.symbols.get('stack_top');
    this.mcu.core.PC = elf.symbols.get('begin') & ~1;
    this.orderAt = elf.symbols.get('order') - RAM;
    this.#order(ORDER_EVENTS);
  }

  word(symbol, offset = 0) {
    return this.mcu.sramView.getUint32(this.symbols.get(symbol) + offset - RAM, true);
  }

  // One cycle; the processor takes part while it has an order.
  tick() {
    this.slot.tick();
    if (!this.busy) return;
    if (--this.owed <= 0) this.owed += this.mcu.core.executeInstruction();
    if (this.mcu.sramView.getUint32(this.orderAt, true) === 0) this.busy = false;
    else if (this.slot.now > this.lateAt) throw new Error('the processor does not come to an end');
  }

  run(cycles) {
    for (let i = 0; i < cycles; i++) this.tick();
  }

  #begin(kind) {
    this.mcu.sramView.setUint32(this.orderAt, kind, true);
    this.busy = true;
    this.owed = 0;
    this.lateAt = this.slot.now + CYCLES_MAX;
  }

  #order(kind) {
    this.#begin(kind);
    while (this.busy) this.tick();
  }

  get spareAt() {
    return this.word('spare_lanes') - RAM;
  }

  // What core/cart.c does, from its contract: byte of bank b at address a lies at a * 8 + b.
  lay(image, scheme, ram) {
    const lanes = this.mcu.sram.subarray(this.spareAt, this.spareAt + TABLE);
    for (let a = 0; a < 4096; a++)
      for (let b = 0; b < 8; b++)
        lanes[a * 8 + b] = ram && a < 256 ? 0 : image[(b % BANKS[scheme]) * 4096 + a % Math.min(4096, image.length)];
  }

  // Asks for the change; it happens while time goes on.
  ask(scheme, ram, bank) {
    const words = [SCHEME[scheme], ram ? 1 : 0, bank];
    words.forEach((value, i) => this.mcu.sramView.setUint32(this.orderAt + 4 + 4 * i, value, true));
    this.#begin(ORDER_SERVE);
  }

  serve(scheme, ram, bank) {
    this.ask(scheme, ram, bank);
    while (this.busy) this.tick();
  }

  load(image, scheme, ram = false, bank = BANKS[scheme] - 1) {
    this.lay(image, scheme, ram);
    this.serve(scheme, ram, bank);
  }

  events() {
    this.#order(ORDER_EVENTS);
    const count = this.word('order', 16), at = this.orderAt + 24;
    const list = [];
    for (let i = 0; i < count; i++) list.push(this.mcu.sramView.getUint16(at + 2 * i, true));
    return { list, missed: this.word('order', 20) };
  }
}

// A test's randomness: printed seed, same bytes (xorshift32).
export function random(seed) {
  let x = seed >>> 0 || 1;
  return (limit) => {
    x ^= x << 13, x ^= x >>> 17, x ^= x << 5;
    return (x >>> 0) % limit;
  };
}

export function image(size, seed) {
  const next = random(seed);
  return Uint8Array.from({ length: size }, () => next(256));
}
