// The firmware's ELF, unmodified, in an emulated RP2040. It proves function, never silicon timing: XIP wait
// states, bus contention and input synchronisers are not modelled. What is worked around in the emulator, and
// how an upgrade is noticed: ../defects.mjs.
//
//   const chip = new Chip({ elf: readElf(path) });        // power on, with erased store
//   chip.serial.send(bytes); chip.run(() => ..., 100000); // at most so many microseconds of its time
//   new Chip({ elf, flash: chip.powerOff() })             // power cycle
//
// Hooks for the slot (lib/slot.mjs): `chip.onCycles(n)` is called after every n processor cycles and before
// time moves on by them; without it PIO stands still, which makes the rest several times faster.
import { RP2040, SimulationClock } from './emulator.mjs';
import { BootRom } from './bootrom.mjs';
import { FlashChip, registers } from './flash.mjs';
import { flashOf } from './elf.mjs';
import { SerialLine } from './serial.mjs';
import { UsbSocket } from './usb.mjs';

const ROSC_HZ = 6.5e6; // 2.17: 1.8 to 12 MHz out of the box, typically 6.5
const UNIQUE = [0xe6, 0x61, 0x10, 0x83, 0x23, 0x5a, 0x7c, 0x2f];
const GPIO_USB_POWER = 24;
const GPIO_SUPPLY = 28;
const RESETS = 0x4000c000;
// Bits of RESETS_RESET (2.14.3) by the blocks' addresses (2.2).
const RESET_BITS = new Map([
  [0x40030000, 1], [0x50000000, 2], [0x40014000, 5], [0x4001c000, 8], [0x50200000, 10], [0x50300000, 11],
  [0x40028000, 12], [0x4002c000, 13], [0x40054000, 21], [0x40034000, 22], [0x50100000, 24],
]);

export class Chip {
  constructor({ elf, flash, unique = UNIQUE, rom, onCycles = null, ...flashOptions }) {
    this.elf = elf;
    this.clock = new SimulationClock();
    this.mcu = new RP2040(this.clock);
    this.mcu.logger = new Log(this);
    this.warnings = [];
    this.ended = null; // 'loader' or 'restart'
    this.inRom = null; // pc of a ROM function that waits for the flash
    this.cycles = 0; // of the processor, asleep or not
    this.onCycles = onCycles;
    for (const pio of this.mcu.pio) pio.run = () => {};
    registers(this.mcu, 0x40030, {}); // the bus's priorities, which the emulator does not have
    this.mcu.clkSys = this.mcu.clkPeri = this.mcu.roscFreq = ROSC_HZ;
    this.flash = new FlashChip(this, { bytes: flash ?? flashOf(elf), unique, ...flashOptions });
    this.serial = new SerialLine(this);
    this.usb = new UsbSocket(this);
    this.watchdog = this.mcu.peripherals[0x40058];
    this.watchdog.onWatchdogTrigger = () => {
      this.ended ??= 'restart';
      this.watchdog.alarm.enable = false; // or it rings without end, at the same moment
    };
    this.watchResets();
    this.rom = new BootRom(this, rom);
    this.rom.enter();
  }

  // A register of a block that is held in reset: silicon forgets what is written there. The emulator does not know.
  watchResets() {
    const { mcu } = this;
    const resets = mcu.peripherals[RESETS >>> 12];
    const write = mcu.writeUint32.bind(mcu);
    mcu.writeUint32 = (address, value) => {
      const bit = RESET_BITS.get((address & 0xffffc000) >>> 0) ?? RESET_BITS.get((address & 0xfff00000) >>> 0);
      if (bit !== undefined && resets.reset >>> bit & 1) {
        this.warnings.push(`${address.toString(16)} was written while its block was held in reset`);
      }
      write(address, value);
    };
  }

  setPin(pin, value) {
    this.mcu.gpio[pin].setInputValue(value);
  }

  set usbPower(on) {
    this.setPin(GPIO_USB_POWER, on);
  }

  set supply(on) {
    this.setPin(GPIO_SUPPLY, on);
  }

  get us() {
    return this.clock.nanos / 1000;
  }

  get cycleNanos() {
    return 1e9 / this.mcu.clkSys;
  }

  symbol(name) {
    const value = this.elf.symbols.get(name);
    if (value === undefined) throw new Error(`no symbol ${name} in ${this.elf.path}`);
    return (value & ~1) >>> 0;
  }

  advance(cycles) {
    this.cycles += cycles;
    this.onCycles?.(cycles);
    this.clock.tick(cycles * this.cycleNanos);
  }

  // One instruction, or sleep until the next thing that may wake it; not past `until` (nanoseconds).
  step(until) {
    const { core } = this.mcu;
    const waits = core.waiting || (this.inRom === core.PC && core.IPSR === 0);
    if (!waits || core.interruptsUpdated) {
      this.advance(core.executeInstruction());
      return;
    }
    let next = this.clock.nextAlarm ? Math.min(this.clock.nextAlarm.nanos, until) : until;
    if (this.flash.busy) next = Math.min(next, this.flash.busy.until);
    const cycles = Math.max(1, Math.ceil((next - this.clock.nanos) / this.cycleNanos));
    this.advance(this.onCycles ? Math.min(cycles, 16) : cycles);
    if (this.flash.busy && this.clock.nanos >= this.flash.busy.until) this.advance(core.executeInstruction());
  }

  // Until done() or the chip has ended; false when neither came within `us` microseconds of its time.
  run(done, us) {
    const until = this.clock.nanos + us * 1000;
    while (!done()) {
      if (this.ended) return done();
      if (this.clock.nanos >= until) return false;
      this.step(until);
    }
    return true;
  }

  runFor(us) {
    this.run(() => false, us);
  }

  runTo(name, us) {
    const { core } = this.mcu;
    const pc = this.symbol(name);
    return this.run(() => core.PC === pc, us);
  }

  // What the flash holds now, for the chip that is switched on next.
  powerOff() {
    this.ended ??= 'off';
    return this.flash.contents();
  }
}

// The emulator's remarks: those on what it does not have are kept for tests that want none.
class Log {
  constructor(chip) {
    this.chip = chip;
  }

  debug() {}

  info() {}

  warn(part, text) {
    this.chip.warnings.push(`${part}: ${text}`);
  }

  error(part, text) {
    this.chip.warnings.push(`${part}: ${text}`);
  }
}
