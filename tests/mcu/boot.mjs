// From reset to service: clocks, cold start, warnings, and what happens when the crystal, a PLL or the ROM is not
// what it should be.
import { Chip } from './lib/chip.mjs';
import { firmware, imageOf, same, test, that } from './lib/check.mjs';
import { bulkLine } from './lib/usb.mjs';
import { Client, serialLine } from './lib/wire.mjs';

const elf = firmware();
const QUICK = { eraseUs: 1000, programUs: 100 };
const BOOT_US = 300000;
const SCRATCH = { at: 0x20040000, size: 0x2000 };
const FLASH_FAILED = 7;
const UART_UP = 5000; // from service to an open serial line, with room to spare

function booted(options = {}) {
  const chip = new Chip({ elf, ...QUICK, ...options });
  that('service starts', chip.runTo('uart_start', BOOT_US));
  return chip;
}

const clientOf = (chip) => {
  chip.runFor(UART_UP);
  return new Client(serialLine(chip));
};

test('starts through boot2 and start, and says hello', () => {
  const chip = new Chip({ elf, ...QUICK });
  that('start', chip.runTo('start', BOOT_US));
  that('main', chip.runTo('main', BOOT_US));
  chip.runFor(20000);
  const hello = new Client(serialLine(chip)).hello();
  same('status', hello.status, 0);
  same('version', hello.version, 1);
  same('serial is the flash\'s number', hello.serial, chip.flash.unique);
  same('block', hello.block, 1024);
  that('window', hello.window >= 4);
});

test('clocks: 125 MHz, 48 MHz, microseconds', () => {
  const chip = booted();
  const { mcu } = chip;
  same('clk_sys', mcu.clkSys, 125e6);
  same('clk_peri', mcu.clkPeri, 125e6);
  same('PLL of USB', mcu.pllUsb.frequency, 48e6);
  same('clk_usb runs from it', mcu.clocks.usbCtrl & 0x8e0, 0x800);
  // 2.18.2: VCO 750 to 1600 MHz
  for (const pll of [mcu.pllSys, mcu.pllUsb]) {
    const vco = (mcu.xoscFreq / pll.refdiv) * pll.fbdiv;
    that(`VCO at ${vco}`, vco >= 750e6 && vco <= 1600e6);
    same('powered down', pll.pwr & 0x29, 0);
  }
  same('nothing held in reset that is used', mcu.peripherals[0x4000c].reset & 0x16c3d26, 0);
});

test('touches nothing that the emulator does not have, nor what is held in reset', () => {
  const chip = booted();
  chip.usb.enumerate();
  chip.runFor(20000);
  same('warnings', chip.warnings, []);
});

test('what the emulator does not act on is set up as the data sheet wants it', () => {
  const { mcu } = booted();
  same('BUS_PRIORITY: DMA_R and DMA_W (2.1.5)', mcu.readUint32(0x40030000), 0x1100);
  // 2.19.6.3: up and down at once keeps the last level
  const pulls = (pin) => mcu.readUint32(0x4001c004 + 4 * pin) & 0xc;
  same('pulls of GPIO15 to 22', [15, 16, 17, 18, 19, 20, 21, 22].map(pulls), Array(8).fill(0xc));
});

test('the UART\'s line in rests high while nobody drives it', () => {
  const chip = booted();
  chip.runFor(UART_UP);
  same('pulls of GPIO1', chip.mcu.readUint32(0x4001c008) & 0xc, 8);
});

test('a wrong check code of boot2 is not started', () => {
  const chip = new Chip({ elf });
  const flash = chip.flash.contents();
  flash[100] ^= 1;
  let refused = false;
  try {
    new Chip({ elf, flash });
  } catch {
    refused = true;
  }
  that('refused', refused);
});

for (const [what, spoil] of [
  ['a crystal that does not start', (mcu) => (mcu.peripherals[0x40024].readUint32 = () => 0)],
  ['a system PLL that does not lock', (mcu) => (mcu.pllSys.readUint32 = () => 0)],
  ['a USB PLL that does not lock', (mcu) => (mcu.pllUsb.readUint32 = () => 0)],
]) {
  test(`${what}: nothing is driven, the chip starts again within a second`, () => {
    const chip = new Chip({ elf });
    spoil(chip.mcu);
    chip.run(() => false, 1e6);
    same('ended', chip.ended, 'restart');
    same('PIO', chip.mcu.pio.map((pio) => pio.pinDirections), [0, 0]);
  });
}

test('a boot ROM without an erase: serves, and says that the flash fails', () => {
  const chip = booted({ rom: { missing: ['RE'] } });
  const client = clientOf(chip);
  same('state', client.status().state, 0);
  same('begin', client.begin(imageOf(4, 1), '4K').status, FLASH_FAILED);
});

test('cold start: from reset to the slot being served', () => {
  const lines = [];
  let flash;
  for (const [kib, scheme] of [[0], [4, '4K'], [32, 'F4']]) {
    const writer = booted({ flash });
    if (kib) {
      const client = clientOf(writer);
      same('push', client.push(imageOf(kib, 3), scheme), 0);
    }
    flash = writer.powerOff();
    const chip = booted({ flash });
    const [own, xip] = [chip.us / 1000, chip.flash.xipMicros / 1000];
    lines.push(`${kib || 'no'} KiB ${chip.cycles} cycles (${own.toFixed(1)} ms) and ${xip.toFixed(1)} ms of flash, together ${(own + xip).toFixed(1)} ms`);
  }
  return `${lines.join('; ')}. Cycles as emulated; the flash's part is arithmetic (64 SPI clocks a word); the boot ROM's own time is not in it, and none of it is silicon`;
});

test('a core that hangs is started again after eight seconds, not before', () => {
  const chip = booted();
  chip.runFor(UART_UP);
  const second = () => chip.advance(chip.mcu.clkSys);
  for (let i = 0; i < 7; i++) second();
  same('after seven seconds', chip.ended, null);
  for (let i = 0; i < 2; i++) second();
  same('after nine', chip.ended, 'restart');
});

test('a core that only waits is not started again', () => {
  const chip = booted();
  for (let second = 0; second < 20 && !chip.ended; second++) chip.runFor(1e6);
  same('after twenty seconds', chip.ended, null);
});

test('a fault starts the chip again', () => {
  const chip = booted();
  chip.runFor(UART_UP);
  const vectors = chip.symbol('vectors');
  chip.mcu.core.PC = chip.mcu.readUint32(vectors + 4 * 3) & ~1; // HardFault's handler
  chip.runFor(1000);
  same('ended', chip.ended, 'restart');
});

test('the stack stays far from its end', () => {
  const chip = new Chip({ elf, ...QUICK });
  chip.mcu.sram.fill(0xa5, SCRATCH.at - 0x20000000, SCRATCH.at - 0x20000000 + SCRATCH.size - 512);
  chip.runFor(30000);
  chip.usb.enumerate();
  const client = new Client(bulkLine(chip, 1, 0x81));
  same('push', client.push(imageOf(32, 1), 'F4'), 0);
  client.read(0, 4096);
  const scratch = chip.mcu.sram.subarray(SCRATCH.at - 0x20000000, SCRATCH.at - 0x20000000 + SCRATCH.size);
  const depth = SCRATCH.size - scratch.findIndex((byte) => byte !== 0xa5);
  that(`${depth} bytes deep`, depth <= SCRATCH.size / 4);
  return `${depth} of ${SCRATCH.size} bytes`;
});
