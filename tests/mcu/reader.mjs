// The reader's firmware, whole and unmodified, against cartridges whose times and faults are known. What it proves is
// function and cycles as emulated; no silicon's timing.
import { test, same, that, hex } from './lib/check.mjs';
import { CHIP_NS } from './lib/bus.mjs';
import { Cartridge, haveModel } from './lib/cartridge.mjs';
import { ReaderChip } from './lib/readerchip.mjs';
import { HOTSPOTS, image, random } from './lib/slotonly.mjs';
import { DelayCart } from './lib/socket.mjs';
import { TYPE } from './lib/wire.mjs';

const full = process.env.SLOTJIG_MCU_FULL === '1';
const A12 = 0x1000, CAN_READ = 1 << 7;
const DONE = 2, FAILED = 3;
const OVERLOAD = 1, MISSING = 2, GONE = 3;
const BYTES = { '2K': 2048, '4K': 4096, F8: 8192, F6: 16384, F4: 32768 };

const delays = (make) => Uint16Array.from({ length: 4096 }, (_, at) => make(at));
const delayed = (make, options) => new DelayCart(image(4096, 7), delays(make), options);
const steps = (ns) => Math.ceil(ns / CHIP_NS); // [A]

test('starts with the supply off, and says that it is a reader', () => {
  const reader = new ReaderChip(delayed(() => 150)).start();
  const { chip, socket, client } = reader;
  const hello = client.hello();
  same('status', hello.status, 0);
  that('reads', hello.capabilities & CAN_READ);
  same('serial', hello.serial, chip.flash.unique);
  const text = (index) => Buffer.from(chip.usb.control(0x80, 6, 0x300 | index, 0x409, 255).subarray(2)).toString('utf16le');
  same('product', text(2), 'slotjig reader');
  const configuration = chip.usb.control(0x80, 6, 0x200, 0, 255);
  same('bMaxPower: 450 mA', configuration[8], 225);
  same('supply', [socket.on, socket.powered], [false, false]);
  same('warnings', chip.warnings, []);
});

test('messages about images are refused', () => {
  const { client } = new ReaderChip(delayed(() => 150)).start();
  same('read', client.ask(TYPE.READ, [0, 0, 0, 0, 1, 0]).type, TYPE.ERROR);
});

test('the supply: on when asked, off when asked, off after a minute of silence', () => {
  const reader = new ReaderChip(delayed(() => 150)).start();
  const { chip, socket, client } = reader;
  client.supply(true);
  chip.runFor(100);
  same('on', [client.supply(true).on, socket.powered], [1, true]);
  same('off', client.supply(false).on, 0);
  chip.runFor(100);
  same('it is', socket.powered, false);
  client.supply(true);
  // Seconds at once: the watchdog waits for eight.
  const seconds = (count) => {
    reader.quietly(() => chip.advance(count * chip.mcu.clkSys));
    chip.runFor(3000);
  };
  for (let i = 0; i < 9; i++) seconds(6.5);
  same('before', socket.on, true);
  seconds(2);
  same('after', socket.on, false);
});

test('an overload: off, and the task says so', () => {
  const { socket, client } = new ReaderChip(delayed(() => 150)).start();
  socket.limit = true;
  const { state } = client.task('read');
  same('state, trouble', [state.state, state.trouble], [FAILED, OVERLOAD]);
  same('off', socket.on, false);
});

test('no voltage', () => {
  const missing = new ReaderChip(delayed(() => 150), { riseNs: Infinity }).start();
  same('no voltage', missing.client.task('read').state.trouble, MISSING);
});

// It is waited for, two seconds long, at every access's cost.
(full ? test : () => {})('an empty socket: read, and every line floats', () => {
  const empty = new ReaderChip(delayed(() => 150)).start();
  empty.socket.present = false;
  const { bytes, state } = empty.client.task('read');
  same('state', [state.state, state.trouble], [DONE, 0]);
  same('floats', bytes.at(-1), 0xff);
});

test('a cartridge pulled out in the middle: the task fails, the supply goes', () => {
  const { chip, socket, client } = new ReaderChip(delayed(() => 150)).start();
  same('map', client.ask(TYPE.TASK, [2, 1, 0, 0, 0, 0x10, 0, 16, 0, 0, 0, 0]).payload, [0]);
  chip.runFor(5000);
  same('runs', client.taskState().state, 1);
  socket.present = false;
  chip.runFor(20000);
  const { state, trouble } = client.taskState();
  same('state', [state, trouble, socket.on], [FAILED, GONE, false]);
});

function mapOf(cart, first, count) {
  const { client } = new ReaderChip(cart).start();
  const { bytes, state } = client.task('map', { first, count, us: 20e6 });
  same('state', state.state, DONE);
  same('three bytes an address', bytes.length, 3 * count);
  return { bytes, state };
}

test(`a map of ${full ? '4 KiB' : 'some addresses'}: each delay is recovered to one step`, () => {
  const next = random(11);
  const cart = delayed((at) => (at % 5 ? 8 + next(500) : 8 + next(253 * CHIP_NS - 8)));
  const count = full ? 4096 : 256, first = A12 | (full ? 0 : 0x500);
  const { bytes, state } = mapOf(cart, first, count);
  for (let i = 0; i < count; i++) {
    const ns = cart.delays[(first + i) & 4095];
    same(`address ${(first + i).toString(16)}, ${ns} ns`, bytes.slice(3 * i, 3 * i + 3), Array(3).fill(steps(ns) + state.own));
  }
  return `${count} addresses in ${(state.us / 1000).toFixed(1)} ms of the chip's time, as emulated`;
});

// An access to a hotspot may show either bank's byte, so images have the same one in all.
function sameAtHotspots(bytes, scheme) {
  for (const address of HOTSPOTS[scheme])
    for (let bank = 0; bank < bytes.length / 4096; bank++) bytes[bank * 4096 + (address & 4095)] = 0xea;
  return bytes;
}

if (!haveModel) {
  console.log('skip the cartridge model: it was not built for wasm32');
} else {
  test(`READ: ${full ? 'every scheme, with RAM and without' : 'F4, and F8 with RAM'}`, () => {
    const times = [];
    for (const scheme of Object.keys(BYTES)) {
      for (const ram of [false, true]) {
        if (!full && !(scheme === 'F4' ? !ram : ram && scheme === 'F8')) continue;
        const bytes = sameAtHotspots(image(BYTES[scheme], 5), scheme);
        const { client } = new ReaderChip(new Cartridge(bytes, scheme, { ram })).start();
        const got = client.task('read', { scheme, ram });
        same(`${scheme} state`, [got.state.state, got.state.trouble], [DONE, 0]);
        const wanted = bytes.map((byte, at) => (ram && (A12 - Math.min(4096, bytes.length) + at % 4096) % 4096 < 256 ? 0 : byte));
        that(`${scheme} bytes`, hex(got.bytes.slice(0, bytes.length)) === hex(wanted));
        that(`${scheme} steady`, got.bytes.slice(bytes.length, 2 * bytes.length).every((byte) => byte === 0));
        if (scheme === 'F4' && !ram) times.push(`32 KiB twice in ${(got.state.us / 1000).toFixed(1)} ms`);
      }
    }
    return `${times.join()} of the chip's time, as emulated`;
  });
}
