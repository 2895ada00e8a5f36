// A boot ROM that has only what the firmware uses (RP2040 data sheet 2.8): it checks and enters the second
// stage, and offers its functions through the table. Each function is a breakpoint that is carried out here.
const TABLE = 0x14;
const LOOKUP = 0x18;
const FUNCTIONS_AT = 0x200;
const TABLE_AT = 0x100;
const BKPT = 0xbe00;
const BX_LR = 0x4770;
const BOOT2_AT = 0x20041f00;
const CODES = ['IF', 'EX', 'RE', 'RP', 'FC', 'CX', 'UB'];

export class BootRom {
  constructor(chip, { missing = [] } = {}) {
    this.chip = chip;
    this.called = [];
    const rom = new DataView(chip.mcu.bootrom.buffer);
    const entry = (number) => FUNCTIONS_AT + 4 * number;
    for (let number = 0; number <= CODES.length; number++) {
      rom.setUint16(entry(number), BKPT | number, true);
      rom.setUint16(entry(number) + 2, BX_LR, true);
    }
    rom.setUint16(LOOKUP, entry(0) | 1, true);
    rom.setUint16(TABLE, TABLE_AT, true);
    let at = TABLE_AT;
    CODES.forEach((code, i) => {
      if (missing.includes(code)) return;
      rom.setUint16(at, code.charCodeAt(0) | (code.charCodeAt(1) << 8), true);
      rom.setUint16(at + 2, entry(i + 1) | 1, true);
      at += 4;
    });
    rom.setUint16(at, 0, true);
    this.view = rom;
    chip.mcu.onBreak = (number) => this.call(number);
  }

  // As after power-up: 2.8.1.3. Throws where the real ROM would go to its USB loader.
  enter() {
    const { mcu } = this.chip;
    const boot2 = mcu.flash.slice(0, 256);
    const wanted = new DataView(boot2.buffer).getUint32(252, true);
    if (bootCrc(boot2.subarray(0, 252)) !== wanted) throw new Error('the second stage has a wrong check code');
    mcu.sram.set(boot2, BOOT2_AT - 0x20000000);
    const { core } = mcu;
    core.SP = BOOT2_AT;
    core.LR = 0;
    core.PC = BOOT2_AT;
    core.VTOR = 0;
  }

  call(number) {
    const { core } = this.chip.mcu;
    const [r0, r1, r2] = core.registers;
    if (number === 0) {
      core.registers[0] = this.find(r0, r1);
      return;
    }
    const code = CODES[number - 1];
    const done = this.carryOut(code, r0, r1, r2);
    this.chip.inRom = done ? null : (core.PC - 2) >>> 0;
    if (!done) {
      core.PC -= 2; // once more, with interrupts in between
      return;
    }
    this.called.push(code);
    // What a call may spoil, it does (AAPCS 6.1.1).
    core.registers[1] = core.registers[2] = core.registers[3] = core.registers[12] = 0xdeadbeef;
  }

  find(table, code) {
    if (table !== this.view.getUint16(TABLE, true)) throw new Error('the ROM was asked with another table');
    for (let at = table; this.view.getUint16(at, true) !== 0; at += 4) {
      if (this.view.getUint16(at, true) === code) return this.view.getUint16(at + 2, true);
    }
    return 0;
  }

  carryOut(code, r0, r1, r2) {
    const { chip } = this;
    const { flash, mcu } = chip;
    switch (code) {
      case 'IF':
        flash.xip = false;
        return true;
      case 'EX':
        if (flash.xip) throw new Error('flash_exit_xip before connect_internal_flash');
        flash.select(false);
        return true;
      case 'RE':
        return flash.operate('erase', r0, new Uint8Array(r1).fill(0xff));
      case 'RP':
        return flash.operate('program', r0, readBytes(mcu, r1, r2));
      case 'FC':
        flash.flushed = true;
        return true;
      case 'CX':
        if (!flash.flushed) throw new Error('flash_enter_cmd_xip before flash_flush_cache');
        flash.flushed = false;
        flash.xip = true;
        return true;
      default:
        chip.ended = 'loader';
        return true;
    }
  }
}

function readBytes(mcu, address, count) {
  const bytes = new Uint8Array(count);
  for (let i = 0; i < count; i++) bytes[i] = mcu.readUint8(address + i);
  return bytes;
}

// 2.8.1.3.1: polynomial 0x04C11DB7, most significant bit first, all ones at the start.
export function bootCrc(bytes) {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte << 24;
    for (let bit = 0; bit < 8; bit++) crc = crc < 0 ? (crc << 1) ^ 0x04c11db7 : crc << 1;
  }
  return crc >>> 0;
}
