// What is worked around in the emulated chip's package, each seen as it is without the workaround. One that fails
// here has been mended by an upgrade: then its workaround goes (lib/chip.mjs, lib/serial.mjs, lib/flash.mjs,
// lib/usb.mjs, lib/bootrom.mjs).
import { RP2040, SimulationClock, version } from './lib/emulator.mjs';
import { same, test, that } from './lib/check.mjs';

const RAM = 0x20000000;
const NOP = 0xbf00;
const BRANCH_TO_ITSELF = 0xe7fe;
const WFI = 0xbf30;
const UART0 = 0x40034000;
const DMA = 0x50000000;
const DREQ_UART0_RX = 21;
const DREQ_UART0_TX = 20;
const USB_MEMORY = 0x50100000;
const USB = 0x50110000;
const SSI = 0x18000000;

function plain() {
  const clock = new SimulationClock();
  const mcu = new RP2040(clock);
  const warnings = [];
  mcu.logger = { debug() {}, info() {}, warn: (part, text) => warnings.push(text), error: (part, text) => warnings.push(text) };
  return { clock, mcu, warnings };
}

// Instructions in RAM, with a handler of interrupt 0 (TIMER_0) behind them.
function program(mcu, instructions) {
  const { core } = mcu;
  instructions.forEach((word, i) => mcu.writeUint16(RAM + 0x100 + 2 * i, word));
  for (let i = 0; i < 48; i++) mcu.writeUint32(RAM + 4 * i, (RAM + 0x201) >>> 0);
  mcu.writeUint16(RAM + 0x200, BRANCH_TO_ITSELF);
  core.VTOR = RAM;
  core.SP = RAM + 0x1000;
  core.PC = RAM + 0x100;
  core.enabledInterrupts = 1;
  core.interruptPriorities = [0xffffffff, 0, 0, 0];
}

const inHandler = (mcu) => (mcu.core.PC & ~1) === RAM + 0x200;

test('the version that was looked at', () => same('rp2040js', version, '1.4.1'));

test('PIO runs by the host\'s clock, not the chip\'s', () => {
  const { mcu } = plain();
  const [pio] = mcu.pio;
  that('a run of its own', /setTimeout|runTimer/.test(pio.run.toString()));
});

test('DMA takes no time', () => {
  const { clock, mcu } = plain();
  mcu.writeUint32(RAM, 0x12345678);
  mcu.writeUint32(DMA, RAM);
  mcu.writeUint32(DMA + 4, RAM + 0x40);
  mcu.writeUint32(DMA + 8, 1);
  mcu.writeUint32(DMA + 12, (0x3f << 15) | (2 << 2) | 1);
  clock.tick(0);
  same('already there', mcu.readUint32(RAM + 0x40), 0x12345678);
});

test('WFI sleeps although an interrupt waits', () => {
  const { mcu } = plain();
  program(mcu, [WFI, NOP, BRANCH_TO_ITSELF]);
  const { core } = mcu;
  core.PM = true;
  core.setInterrupt(0, true);
  for (let i = 0; i < 3; i++) core.executeInstruction();
  that('asleep, or in the handler in spite of PRIMASK', core.waiting || inHandler(mcu));
});

test('with PRIMASK set, WFI enters the handler', () => {
  const { mcu } = plain();
  program(mcu, [WFI, NOP, BRANCH_TO_ITSELF]);
  const { core } = mcu;
  core.PM = true;
  core.executeInstruction();
  that('asleep', core.waiting);
  core.setInterrupt(0, true);
  same('in the handler', inHandler(mcu), true);
});

test('the flash: commands through the SSI are not answered', () => {
  const { mcu } = plain();
  for (const byte of [0x4b, 0, 0, 0, 0]) mcu.writeUint32(SSI + 0x60, byte);
  const got = [];
  for (let i = 0; i < 8; i++) {
    mcu.writeUint32(SSI + 0x60, 0);
    got.push(mcu.readUint32(SSI + 0x60));
  }
  same('zeros', got, [0, 0, 0, 0, 0, 0, 0, 0]);
});

test('the flash can be written like RAM, and be read at any time', () => {
  const { mcu } = plain();
  mcu.writeUint32(0x10000000, 0x11223344);
  same('written', mcu.readUint32(0x10000000), 0x11223344);
});

test('the UART: the receiver asks for no DMA', () => {
  const { mcu } = plain();
  mcu.writeUint32(UART0 + 0x30, 0x301);
  mcu.uart[0].feedByte(0x41);
  that('no request', !mcu.dma.dreq[DREQ_UART0_RX]);
});

test('the UART: has no register for DMA', () => {
  const { mcu, warnings } = plain();
  mcu.writeUint32(UART0 + 0x48, 3);
  that('a warning', warnings.some((text) => /0x48/.test(text)));
});

test('the UART: sends in no time, and its DMA request never ends', () => {
  const { mcu } = plain();
  const sent = [];
  mcu.uart[0].onByte = (byte) => sent.push(byte);
  mcu.writeUint32(UART0 + 0x30, 0x301);
  for (let i = 0; i < 100; i++) mcu.writeUint32(UART0, i);
  same('sent at once', sent.length, 100);
  that('asks for more', mcu.dma.dreq[DREQ_UART0_TX]);
});

test('the UART: receives with any divider, or none', () => {
  const { mcu } = plain();
  mcu.writeUint32(UART0 + 0x30, 0x301);
  mcu.uart[0].feedByte(0x41);
  same('received', mcu.readUint32(UART0), 0x41);
});

test('USB: a buffer that is handed over is sent at once, with no token', () => {
  const { clock, mcu } = plain();
  const sent = [];
  mcu.usbCtrl.onEndpointWrite = (endpoint, bytes) => sent.push([endpoint, bytes.length]);
  mcu.writeUint32(USB_MEMORY + 0x80, 0x8400 | 5);
  clock.tick(1e6);
  same('sent', sent, [[0, 5]]);
});

test('USB: toggles and STALL are not looked at', () => {
  const { clock, mcu } = plain();
  const sent = [];
  mcu.usbCtrl.onEndpointWrite = (endpoint, bytes) => sent.push(bytes.length);
  for (const control of [0x8400, 0x8400, 0x8c00]) {
    mcu.writeUint32(USB_MEMORY + 0x80, control | 3);
    clock.tick(1e6);
  }
  same('sent', sent, [3, 3, 3]);
});

test('USB: the suspended state cannot be cleared', () => {
  const { mcu } = plain();
  mcu.usbCtrl.sieStatus |= 1 << 4;
  mcu.writeUint32(USB + 0x3050, 1 << 4);
  same('still set', (mcu.usbCtrl.sieStatus >> 4) & 1, 1);
});

test('the watchdog rings for ever at the moment it ends', () => {
  const { clock, mcu } = plain();
  const watchdog = mcu.peripherals[0x40058];
  let rings = 0;
  watchdog.onWatchdogTrigger = () => {
    if (++rings === 5) watchdog.alarm.enable = false;
  };
  mcu.writeUint32(0x40058004, 2000);
  mcu.writeUint32(0x40058000, 1 << 30);
  clock.tick(1.5e6);
  same('rings', rings, 5);
});

test('no boot ROM: a reset starts where VTOR says', () => {
  const { mcu } = plain();
  same('empty', mcu.bootrom.every((word) => word === 0), true);
});

test('the bus\'s priorities are not there', () => {
  const { mcu, warnings } = plain();
  mcu.writeUint32(0x40030000, 0x1100);
  that('a warning', warnings.length > 0);
});

test('crystal and PLLs are there at once, and resets are done at once', () => {
  const { mcu } = plain();
  mcu.writeUint32(0x40024000, 0x00fabaa0);
  that('stable', mcu.readUint32(0x40024004) >>> 31 === 1);
  that('locked', mcu.readUint32(0x40028000) >>> 31 === 1);
  that('out of reset', mcu.readUint32(0x4000c008) === 0x1ffffff);
});
