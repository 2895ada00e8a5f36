// The flash on its SSI: reads through XIP, direct commands, and operations that take their time. Whoever reads
// flash while it cannot be read is thrown out with an error that says from where.
//
// Times: W25Q16JV data sheet, 9.6: a sector's erase 45 ms, at most 400; a page's programming 0.4 ms, at most 3.
const SSI_ENABLE = 0x08;
const SSI_DIVIDER = 0x14;
const SSI_SR = 0x28;
const SSI_DR0 = 0x60;
const SR_ROOM = 2;
const SR_EMPTY = 4;
const SR_GOT = 8;
const IO_QSPI_SS_CTRL = 0x0c;
const OUTOVER = 0x300;
const OUTOVER_LOW = 0x200;
const UNIQUE_NUMBER = 0x4b;
const FLASH_START = 0x10000000;
const FLASH_END = 0x14000000;
const UNCACHED = 0x12000000;
const XIP_CLOCKS = 64; // of SCK: command 03h, 24 bits of address, 32 of data

export class FlashChip {
  constructor(chip, { bytes, eraseUs = 400000, programUs = 3000, unique, seed = 1 }) {
    this.chip = chip;
    this.size = bytes.length;
    this.eraseUs = eraseUs;
    this.programUs = programUs;
    this.unique = unique;
    this.seed = seed;
    this.xip = false;
    this.selected = false;
    this.command = []; // bytes since the chip select fell
    this.answers = [];
    this.busy = null; // { kind, at, bytes, until }
    this.operations = 0;
    this.xipMicros = 0; // what XIP reads would take on silicon by arithmetic: not part of the emulated time
    this.cached = new Set(); // words that the cache would hold, were it large enough
    this.divider = 6;
    this.onOperation = null; // called with each operation as it starts
    const { mcu } = chip;
    mcu.flash.fill(0xff);
    mcu.flash.set(bytes);
    this.ssi = registers(mcu, 0x18000, {
      read: (offset) => this.readSsi(offset),
      write: (offset, value) => this.writeSsi(offset, value),
    });
    this.io = registers(mcu, 0x40018, {
      write: (offset, value) => {
        if (offset === IO_QSPI_SS_CTRL) this.select((value & OUTOVER) === OUTOVER_LOW);
      },
    });
    this.watchReads();
  }

  watchReads() {
    const { mcu } = this.chip;
    for (const name of ['readUint8', 'readUint16', 'readUint32']) {
      const read = mcu[name].bind(mcu);
      mcu[name] = (address) => {
        if (address >= FLASH_START && address < FLASH_END) this.checkRead(address);
        return read(address);
      };
    }
  }

  checkRead(address) {
    if (!this.xip) {
      const pc = this.chip.mcu.core.PC.toString(16);
      throw new Error(`flash was read at ${address.toString(16)} while it could not be, near pc ${pc}`);
    }
    // Read data (03h): at most 50 MHz (W25Q16JV data sheet, 9.6 [M]); the divider is even (RP2040, 4.10.13 [M]).
    const hz = this.chip.mcu.clkSys / this.divider;
    if (hz > 50e6 || this.divider % 2) throw new Error(`flash is read at ${hz} Hz, a ${this.divider}th of clk_sys`);
    const word = address >>> 2;
    if (address < UNCACHED && this.cached.has(word)) return;
    if (address < UNCACHED) this.cached.add(word);
    this.xipMicros += XIP_CLOCKS * this.divider / (this.chip.mcu.clkSys / 1e6);
  }

  readSsi(offset) {
    if (offset === SSI_SR) return SR_ROOM | SR_EMPTY | (this.answers.length > 0 ? SR_GOT : 0);
    if (offset === SSI_DR0) return this.answers.shift() ?? 0;
    return undefined;
  }

  writeSsi(offset, value) {
    if (offset === SSI_DIVIDER) this.divider = value;
    if (offset === SSI_ENABLE && value & 1) this.xip = true; // the boot sets it up for reading
    if (offset === SSI_DR0) this.exchange(value & 0xff);
  }

  select(selected) {
    this.selected = selected;
    this.command = [];
  }

  exchange(byte) {
    if (this.xip) throw new Error('a direct command to the flash while it is read through XIP');
    if (!this.selected) throw new Error('a direct command to the flash that is not selected');
    this.command.push(byte);
    const at = this.command.length - 1 - 5;
    const known = this.command[0] === UNIQUE_NUMBER && at >= 0;
    this.answers.push(known ? this.unique[at % 8] : 0xff);
  }

  // An erase or a programming: begins, and returns true once its time is over.
  operate(kind, at, bytes) {
    const { clock } = this.chip;
    if (!this.busy) {
      if (this.xip) throw new Error(`flash ${kind} while it is read through XIP`);
      const unit = kind === 'erase' ? 4096 : 256;
      if (at % unit || bytes.length % unit || at + bytes.length > this.size) {
        throw new Error(`flash ${kind} of ${bytes.length} bytes at ${at.toString(16)}`);
      }
      const us = (bytes.length / unit) * (kind === 'erase' ? this.eraseUs : this.programUs);
      this.busy = { kind, at, bytes, until: clock.nanos + us * 1000 };
      this.operations++;
      this.onOperation?.(this.busy);
    }
    if (clock.nanos < this.busy.until) return false;
    this.apply(this.busy, () => true);
    this.busy = null;
    return true;
  }

  apply({ kind, at, bytes }, chosen) {
    const { flash } = this.chip.mcu;
    for (let i = 0; i < bytes.length; i++) {
      for (let bit = 1; bit < 256; bit <<= 1) {
        if (!chosen()) continue;
        if (kind === 'erase') flash[at + i] |= bit;
        else flash[at + i] &= bytes[i] | ~bit;
      }
    }
  }

  // What the flash holds when the power goes now: an operation under way has done a part of its bits.
  contents() {
    if (this.busy) {
      const random = generator(this.seed);
      this.apply(this.busy, () => random() < 0.5);
      this.busy = null;
    }
    return this.chip.mcu.flash.slice(0, this.size);
  }
}

// A linear congruential generator (Numerical Recipes' constants); 0 to 1.
export function generator(seed) {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}

// A block of registers that keeps what is written, but for what the handlers say.
export function registers(mcu, page, { read, write }) {
  const values = new Map();
  const block = {
    readUint32: (offset) => read?.(offset) ?? values.get(offset) ?? 0,
    writeUint32: (offset, value) => {
      values.set(offset, value >>> 0);
      write?.(offset, value >>> 0);
    },
    writeUint32Atomic: (offset, value, type) => {
      const old = values.get(offset) ?? 0;
      block.writeUint32(offset, [value, old ^ value, old | value, old & ~value][type] >>> 0);
    },
  };
  mcu.peripherals[page] = block;
  return block;
}
