// The console's side of the slot, without a console: bus cycles with the 6502's own times. From the MCS6500 hardware
// manual [M: from memory, the manual was not at hand]: addresses are valid up to 300 ns into the cycle, data written
// are valid up to 200 ns after phi2 rises at 419 ns, data read must be there 100 ns before the cycle's end, and
// addresses and data written stay at least 30 ns after it.
export const CYCLE_NS = 838.1; // 3 colour clocks at 3.579545 MHz
export const CHIP_NS = 8; // 125 MHz
export const CYCLE = CYCLE_NS / CHIP_NS;
const HOLD = 30 / CHIP_NS;
const WRITTEN = (419 + 200) / CHIP_NS;
const LATCH = (CYCLE_NS - 100) / CHIP_NS;

export class Bus {
  // addressNs: when the last address line has settled, into the cycle; skew: how long before that the first moves,
  // in chip cycles (the others one by one in between, in an order that `shuffle` gives).
  constructor(chip, { addressNs = 200, skew = 0, shuffle = null } = {}) {
    this.chip = chip;
    this.slot = chip.slot;
    this.addressAt = addressNs / CHIP_NS;
    this.skew = skew;
    this.shuffle = shuffle;
    this.start = chip.slot.now;
    this.address = 0;
    this.level = 0xff; // on the data lines; stays when nobody drives
    this.outside = false; // the console drives
    this.onTick = null;
  }

  #until(at) {
    const { slot, chip } = this;
    while (slot.now < at) {
      chip.tick();
      if (!this.outside && slot.reaches === 0xff) this.level = slot.data;
      slot.setBus(this.level);
      this.onTick?.(slot);
    }
  }

  #move(address, from) {
    const lines = [];
    for (let line = 0; line < 13; line++) if ((address ^ this.address) >>> line & 1) lines.push(line);
    this.shuffle?.(lines);
    lines.forEach((line, i) => {
      const early = lines.length > 1 ? this.skew * (1 - i / (lines.length - 1)) : 0;
      this.#until(from + this.addressAt - early);
      this.address ^= 1 << line;
      this.slot.setAddress(this.address);
    });
    this.#until(from + this.addressAt);
  }

  // After the chip ran without the console.
  resume() {
    this.start = Math.max(this.start, this.slot.now);
  }

  // One bus cycle; write: the byte the console drives, or null. Returns what the console reads.
  cycle(address, write = null) {
    const from = this.start;
    this.start += CYCLE;
    this.#until(from + HOLD);
    this.outside = false;
    this.#move(address, from);
    if (write !== null) {
      this.#until(from + WRITTEN);
      this.outside = true;
      this.level = write;
      this.slot.setBus(write);
    }
    this.#until(from + LATCH);
    const latched = this.level;
    this.#until(this.start);
    return latched;
  }

  read(address) {
    return this.cycle(address);
  }

  write(address, value) {
    this.cycle(address, value);
  }
}

// A shuffle of its own seed.
export function shuffler(next) {
  return (list) => {
    for (let i = list.length - 1; i > 0; i--) {
      const j = next(i + 1);
      [list[i], list[j]] = [list[j], list[i]];
    }
  };
}
