// The reader's socket: what its chip drives, and what a cartridge in it answers, once each cycle of clk_sys. The
// cartridge is anything with power(ns, on), drive(ns, address, driven, data) and data(ns, floating), as
// host/virtual/cart_model.h has them; its tick(), if any, comes before each. Wires take no time here, and so do buffers, resistors and the bus's capacitance.
import { CHIP_NS } from './bus.mjs';

export const PIN = { supplyOn: 0, fault: 1, address: 2, data: 15, direction: 26, pull: 27, supply: 28 };
const DATA_AT = PIN.data, LINES = 0x1fff, BYTE = 0xff, A12 = 0x1000;
const FUNCTION_SIO = 5;

export class Socket {
  // riseNs: from the switch to a supply that is there.
  constructor(chipMcu, slot, cart, { riseNs = 1000 } = {}) {
    this.mcu = chipMcu;
    this.slot = slot;
    this.cart = cart;
    this.riseTicks = riseNs / CHIP_NS;
    this.on = false; // the switch
    this.present = true; // a cartridge is in it
    this.limit = false; // the switch limits the current
    this.switchedAt = 0;
    this.powered = false; // the supply is there
    this.address = -1;
    this.driven = 0;
    this.written = 0;
    this.onAccess = null; // (ns, address, driven, data)
    this.#pin(PIN.fault, true);
    this.set = true;
  }

  #pin(pin, level) {
    if ((this.slot.raw >>> pin & 1) === (level ? 1 : 0) && this.set) return;
    this.slot.raw = level ? this.slot.raw | 1 << pin : this.slot.raw & ~(1 << pin);
    this.mcu.gpio[pin].setInputValue(level);
  }

  // An output of the processor; 0 while it is none (a resistor on the board).
  #output(pin, otherwise = 0) {
    const { gpioValue, gpioOutputEnable } = this.mcu.sio;
    if (this.mcu.gpio[pin].functionSelect !== FUNCTION_SIO || !(gpioOutputEnable >>> pin & 1)) return otherwise;
    return gpioValue >>> pin & 1;
  }

  get ns() {
    return this.slot.now * CHIP_NS;
  }

  get pull() {
    return this.#output(PIN.pull, 1) ? BYTE : 0;
  }

  lookAtSupply() {
    const on = this.#output(PIN.supplyOn) === 1;
    if (on !== this.on) {
      this.on = on;
      this.switchedAt = this.slot.now;
    }
    const powered = on && !this.limit && this.slot.now - this.switchedAt >= this.riseTicks;
    if (powered !== this.powered) {
      this.powered = powered;
      this.address = -1;
      this.#pin(PIN.supply, powered);
      this.cart.power(this.ns, powered);
    }
    this.#pin(PIN.fault, !(on && this.limit));
  }

  // After each tick of the slot.
  tick() {
    const { slot } = this;
    this.cart.tick?.();
    if ((slot.now & 63) === 0) this.lookAtSupply();
    const pio = this.mcu.pio[0];
    const direction = pio.pinValues >>> PIN.direction & 1;
    const pins = pio.pinDirections >>> DATA_AT & BYTE;
    if (pins && !direction) throw new Error(`${slot.now}: data pins drive while the translator does`);
    let bus = 0;
    if (this.powered && this.present) {
      const address = pio.pinValues >>> PIN.address & LINES;
      const written = pio.pinValues >>> DATA_AT & BYTE;
      const driven = direction ? pins : 0;
      if (address !== this.address || driven !== this.driven || (driven && written !== this.written)) {
        this.address = address;
        this.driven = driven;
        this.written = written;
        this.cart.drive(this.ns, address, driven, written);
        this.onAccess?.(this.ns, address, driven, written);
      }
      bus = this.cart.data(this.ns, this.pull);
    } else if (this.powered) {
      bus = this.pull;
    }
    slot.setBus(direction ? pio.pinValues >>> DATA_AT & BYTE : bus);
  }
}

// A cartridge whose every address has an access time of its own, for what can be worked out by hand.
export class DelayCart {
  constructor(image, delays, { releaseNs = 40, held = 0, ram = false } = {}) {
    Object.assign(this, { image, delays, releaseNs, held, ram });
    this.cells = new Uint8Array(128);
    this.address = 0;
    this.changed = 0;
    this.before = 0xff;
    this.driven = 0;
    this.accesses = [];
  }

  power(ns, on) {
    this.on = on;
  }

  drive(ns, address, driven, data) {
    if (address !== this.address) {
      if (this.ram && (this.address & 0x1f80) === A12) this.cells[this.address & 127] = this.written;
      this.before = this.data(ns, this.floating ?? 0xff);
      this.address = address;
      this.changed = ns;
    }
    this.driven = driven;
    this.written = driven ? data : 0x5a;
  }

  data(ns, floating) {
    this.floating = floating;
    const since = ns - this.changed;
    if (!(this.address & A12)) return since < this.releaseNs ? this.before : floating & ~this.held;
    if (this.ram && (this.address & 0x0f80) === 0) return floating;
    if (since < this.delays[this.address & 4095]) return ~this.right(this.address) & 0xff;
    return this.right(this.address);
  }

  right(address) {
    const at = address & 4095;
    return this.ram && at >= 128 && at < 256 ? this.cells[at - 128] : this.image[at];
  }
}
