// The cartridge board's whole firmware in a second emulated chip, as the cartridge in the reader's socket: both chips in
// lockstep, cycle by cycle of one clock. On silicon the two have clocks of their own.
import { Chip } from './chip.mjs';
import { firmware } from './check.mjs';
import { Slot } from './slot.mjs';
import { bulkLine } from './usb.mjs';
import { Client } from './wire.mjs';

const QUICK = { eraseUs: 1000, programUs: 100 };
const BOOT_US = 300000, BYTE = 0xff;

// What the board's flash holds after a push.
function pushed(image, scheme, flags) {
  const chip = new Chip({ elf: firmware(), ...QUICK });
  chip.runFor(30000);
  chip.usb.enumerate();
  const status = new Client(bulkLine(chip, 1, 0x81)).push(image, scheme, flags);
  if (status !== 0) throw new Error(`the push was answered by ${status}`);
  return chip.powerOff();
}

export class BoardCart {
  constructor(image, scheme, { ram = false } = {}) {
    const flash = pushed(image, scheme, ram ? 1 : 0);
    this.chip = new Chip({ elf: firmware(), flash, ...QUICK });
    this.slot = new Slot(this.chip.mcu);
    this.owed = 0;
    this.driven = this.written = 0;
    this.chip.onCycles = (count) => {
      for (let i = 0; i < count; i++) this.slot.tick();
    };
    if (!this.chip.run(() => this.slot.enable === 1, BOOT_US)) throw new Error('the board does not serve');
    this.chip.onCycles = (count) => (this.owed += count);
  }

  // Before the reader looks at what is on the bus.
  tick() {
    this.slot.tick();
    if (--this.owed <= 0) this.chip.step(Infinity);
  }

  power(ns, on) {
    this.slot.setSupply(on);
  }

  drive(ns, address, driven, data) {
    this.slot.setAddress(address);
    this.driven = driven;
    this.written = data;
  }

  // Where both drive, low wins.
  data(ns, floating) {
    const { slot, driven, written } = this;
    const reaches = slot.reaches;
    let bus = floating & ~(reaches | driven);
    bus |= reaches & ~driven & slot.data;
    bus |= driven & ~reaches & written;
    bus |= driven & reaches & written & slot.data;
    slot.setBus(bus & BYTE);
    return bus & BYTE;
  }
}
