// The reader's whole firmware in an emulated chip, with a cartridge in its socket, over USB.
import { Chip } from './chip.mjs';
import { buildDir } from './emulator.mjs';
import { readElf } from './elf.mjs';
import { Slot } from './slot.mjs';
import { Socket } from './socket.mjs';
import { bulkLine } from './usb.mjs';
import { Client } from './wire.mjs';

const SETTLED = 200; // cycles after which nothing changes that has not

export const readerElf = () => readElf(`${buildDir}/firmware/slotjig-reader.elf`);

export class ReaderChip {
  constructor(cart, options = {}) {
    this.chip = new Chip({ elf: readerElf(), unique: [1, 2, 3, 4, 5, 6, 7, 8], ...options });
    this.slot = new Slot(this.chip.mcu, options);
    this.socket = new Socket(this.chip.mcu, this.slot, cart, options);
    this.still = 0;
    this.chip.onCycles = (count) => this.#cycles(count);
  }

  // With the machine waiting for a word, and no DMA under way, cycles may be left out.
  #cycles(count) {
    const { slot } = this;
    const machine = slot.running[0];
    const idle = (!machine || machine.waiting) && slot.nextDue === Infinity && slot.raw === slot.twice;
    if (!idle) this.still = 0;
    else if ((this.still += count) > SETTLED) {
      slot.now += count;
      this.socket.lookAtSupply();
      return;
    }
    for (let i = 0; i < count; i++) {
      slot.tick();
      this.socket.tick();
    }
  }

  // The chip alone, while nothing is accessed: many times faster.
  quietly(body) {
    const hook = this.chip.onCycles;
    this.chip.onCycles = null;
    try {
      return body();
    } finally {
      this.chip.onCycles = hook;
    }
  }

  start() {
    this.chip.runFor(30000);
    this.chip.usb.enumerate();
    this.client = new Client(bulkLine(this.chip, 1, 0x81));
    return this;
  }
}
