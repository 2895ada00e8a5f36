// The reader's bus alone in the emulated chip: tests/mcu/busonly/main.c, with a cartridge in its socket.
import { readElf } from './elf.mjs';
import { RP2040 } from './emulator.mjs';
import { Slot } from './slot.mjs';
import { Socket } from './socket.mjs';

const RAM = 0x20000000, CYCLES_MAX = 200e6;
const KIND = { supply: 1, state: 2, sample: 3, find: 4, read: 5, write: 6, released: 7 };
const AT = { from: 4, to: 8, after: 12, count: 16, answer: 20, own: 24, addresses: 28, bytes: 28 + 2 * 4096 };

function complain(part, text) {
  throw new Error(`${part}: ${text}`);
}

export class BusOnly {
  constructor(elfPath, cart, options) {
    const elf = readElf(elfPath);
    this.mcu = new RP2040();
    this.mcu.logger = { debug() {}, info() {}, warn: complain, error: complain };
    for (const { address, bytes } of elf.segments) this.mcu.sram.set(bytes, address - RAM);
    this.slot = new Slot(this.mcu, options);
    this.socket = new Socket(this.mcu, this.slot, cart, options);
    this.mcu.core.SP = elf.symbols.get('stack_top');
    this.mcu.core.PC = elf.symbols.get('begin') & ~1;
    this.orderAt = elf.symbols.get('order') - RAM;
    this.owed = 0;
    this.run(2000);
  }

  tick() {
    this.slot.tick();
    this.socket.tick();
    if (--this.owed <= 0) this.owed += this.mcu.core.executeInstruction();
  }

  run(cycles) {
    for (let i = 0; i < cycles; i++) this.tick();
  }

  #order(kind, values = {}) {
    const view = this.mcu.sramView, at = this.orderAt;
    for (const [name, value] of Object.entries(values)) view.setUint32(at + AT[name], value, true);
    view.setUint32(at, kind, true);
    const begun = this.slot.now;
    while (view.getUint32(at, true) !== 0) {
      this.tick();
      if (this.slot.now - begun > CYCLES_MAX) throw new Error('the processor does not come to an end');
    }
    this.took = this.slot.now - begun;
    this.own = view.getUint32(at + AT.own, true);
    return view.getUint32(at + AT.answer, true);
  }

  #addresses(list) {
    list.forEach((address, i) => this.mcu.sramView.setUint16(this.orderAt + AT.addresses + 2 * i, address, true));
  }

  #bytes(count) {
    return this.mcu.sram.slice(this.orderAt + AT.bytes, this.orderAt + AT.bytes + count);
  }

  supply(on) {
    this.#order(KIND.supply, { to: on ? 1 : 0 });
    this.run(500);
    return this.state();
  }

  // enum wire_supply, and whether it is on.
  state() {
    const trouble = this.#order(KIND.state);
    return [trouble, this.mcu.sramView.getUint32(this.orderAt + AT.count, true)];
  }

  sample(from, to, after) {
    return this.#order(KIND.sample, { from, to, after });
  }

  released(address, high, after) {
    return this.#order(KIND.released, { from: address, to: high ? 1 : 0, after });
  }

  // The fewest cycles to right data of each address, from the one that differs in `flip`.
  find(list, flip) {
    this.#addresses(list);
    this.#order(KIND.find, { from: flip, count: list.length });
    return this.#bytes(list.length);
  }

  read(list) {
    this.#addresses(list);
    this.#order(KIND.read, { count: list.length });
    return this.#bytes(list.length);
  }

  write(address, value) {
    this.#order(KIND.write, { from: address, to: value });
    this.run(120); // it is done before its cycle is over
  }
}
