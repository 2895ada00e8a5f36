// The slot's side of the chip, stepped once for each cycle of clk_sys: input synchronisers, DMA with its latency,
// PIO with delays. It takes the place of the emulator's own pacing, where PIO runs on a wall-clock timer and DMA
// takes no time. What it is not: silicon. DMA_HOP is assumed, and nothing here knows of contention for memory.
export const PIN = { address: 2, a12: 14, data: 15, direction: 26, enable: 27, supply: 28 };
export const DMA_HOP = 5; // cycles from a channel's request to its write, assumed
const NEVER = Infinity;
const FUNCTION_PIO0 = 6;

export class Slot {
  constructor(mcu, { hop = DMA_HOP } = {}) {
    this.mcu = mcu;
    this.hop = hop;
    this.now = 0;
    this.nextDue = NEVER;
    this.raw = 0; // levels outside, by GPIO number
    this.once = 0; // behind the first flip-flop of the synchronisers (data sheet 3.5.6.3)
    this.twice = 0;
    this.seen = 0; // what PIO sees
    this.machines = [];
    this.running = [];
    this.#takePins();
    this.#takeDma();
    this.#takePio();
  }

  #takePins() {
    const { mcu } = this;
    const slot = this;
    const pads = mcu.peripherals[0x4001c], io = mcu.peripherals[0x40014];
    for (const block of [pads, io]) {
      const write = block.writeUint32.bind(block);
      block.writeUint32 = (offset, value) => {
        write(offset, value);
        slot.#readPads();
      };
    }
    // Who goes first on the bus: the emulator has no such register, and no contention.
    mcu.peripherals[0x40030].writeUint32 = (offset, value) => {
      if (offset === 0) this.busPriority = value;
    };
    this.#readPads();
    Object.defineProperty(mcu, 'gpioValues', { get: () => slot.seen });
    mcu.gpio.forEach((pin, index) => {
      Object.defineProperty(pin, 'inputValue', { get: () => (slot.seen >>> index & 1) === 1 });
      const set = pin.setInputValue.bind(pin);
      pin.setInputValue = (value) => {
        // The emulator says the old level again whenever a pad is set up.
        if (value !== pin.rawInputValue) slot.raw = value ? slot.raw | 1 << index : slot.raw & ~(1 << index);
        set(value);
      };
      if (pin.rawInputValue) slot.raw |= 1 << index;
    });
  }

  #readPads() {
    this.inputs = this.pio0 = 0;
    this.mcu.gpio.forEach((pin, index) => {
      if (pin.inputEnable) this.inputs |= 1 << index;
      if (pin.functionSelect === FUNCTION_PIO0 && !pin.outputDisable) this.pio0 |= 1 << index;
    });
  }

  #takeDma() {
    const { mcu } = this;
    for (const channel of mcu.dma.channels) {
      channel.due = NEVER;
      channel.transferAlarm = { schedule: () => {}, cancel: () => { channel.due = NEVER; } };
      channel.scheduleTransfer = () => {
        if (channel.due !== NEVER) return;
        const always = channel.treqValue === 0x3f;
        if (!always && !mcu.dma.dreq[channel.treqValue]) return;
        channel.due = this.now + this.hop;
        if (channel.due < this.nextDue) this.nextDue = channel.due;
      };
    }
  }

  #takePio() {
    for (const pio of this.mcu.pio) {
      pio.run = () => {};
      const write = pio.writeUint32.bind(pio);
      pio.writeUint32 = (offset, value) => {
        write(offset, value);
        if (offset === 0) this.#listRunning();
      };
      // Nothing uses the blocks' interrupts.
      pio.checkInterrupts = () => {};
      for (const machine of pio.machines) {
        machine.at = machine.hold = 0;
        machine.restart = () => {
          machine.cycles = machine.at = machine.hold = 0;
          machine.inputShiftCount = 0;
          machine.inputShiftReg = 0;
          machine.outputShiftCount = 32;
          machine.waiting = false;
        };
        machine.clkDivRestart = () => {};
        this.machines.push(machine);
      }
    }
  }

  #listRunning() {
    this.running = this.machines.filter((machine) => machine.enabled);
    for (const machine of this.running)
      if (machine.clockDivInt !== 1 || machine.clockDivFrac !== 0)
        throw new Error('a clock divider: the stepping here knows only 1');
  }

  // One cycle of clk_sys.
  tick() {
    this.now++;
    this.seen = this.twice & this.inputs;
    this.twice = this.once;
    this.once = this.raw;
    if (this.nextDue <= this.now) this.#transfer();
    const { running } = this;
    for (let i = 0; i < running.length; i++) {
      const machine = running[i];
      if (machine.hold > 0 && machine.cycles === machine.at) machine.hold--;
      else step(machine);
    }
  }

  // The DMA has one read and one write master: of the channels that are due, one each cycle.
  #transfer() {
    const { channels } = this.mcu.dma;
    let chosen = null;
    for (const channel of channels)
      if (channel.due <= this.now && (!chosen || (channel.ctrl & 2) > (chosen.ctrl & 2))) chosen = channel;
    if (chosen) {
      chosen.due = NEVER;
      chosen.transfer();
    }
    this.nextDue = NEVER;
    for (const channel of channels) if (channel.due < this.nextDue) this.nextDue = channel.due;
  }

  // Which data lines the chip drives (mask), and with what.
  get driven() {
    return (this.mcu.pio[0].pinDirections & this.pio0) >>> PIN.data & 0xff;
  }

  get data() {
    return this.mcu.pio[0].pinValues >>> PIN.data & 0xff;
  }

  // PIN_DIRECTION: 1 board to console. Low when the chip does not drive it: a resistor.
  get direction() {
    const { pinValues, pinDirections } = this.mcu.pio[0];
    return (pinValues & pinDirections & this.pio0) >>> PIN.direction & 1;
  }

  get enable() {
    const { gpioValue, gpioOutputEnable } = this.mcu.sio;
    const pin = this.mcu.gpio[PIN.enable];
    return pin.functionSelect === 5 ? (gpioValue & gpioOutputEnable) >>> PIN.enable & 1 : 0;
  }

  // What the translator, gated by A12 and the supply, lets out to the console: its mask is all or nothing.
  get reaches() {
    const a12 = this.raw >>> PIN.a12 & 1, supply = this.raw >>> PIN.supply & 1;
    return this.enable && this.direction && a12 && supply ? this.driven : 0;
  }

  setAddress(address) {
    this.raw = this.raw & ~(0x1fff << PIN.address) | address << PIN.address;
  }

  setBus(value) {
    this.raw = this.raw & ~(0xff << PIN.data) | value << PIN.data;
  }

  setSupply(on) {
    this.mcu.gpio[PIN.supply].setInputValue(on);
  }
}

// One cycle of a state machine. `cycles` counts what its instructions take, delays included, and moves too when
// an instruction was written to it or a wait ended; what is ahead of us is held.
function step(machine) {
  machine.hold += machine.cycles - machine.at;
  machine.at = machine.cycles;
  if (machine.hold > 0) {
    machine.hold--;
    return;
  }
  if (machine.waiting) {
    machine.checkWait();
  } else {
    machine.updatePC = true;
    machine.executeInstruction(machine.pio.instructions[machine.pc]);
    if (machine.updatePC) machine.nextPC();
    machine.hold = -1; // of which this cycle is one
  }
}
