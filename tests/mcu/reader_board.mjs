// The reader proves the cartridge board: both firmwares, whole and unmodified, in two emulated chips on one bus.
// SLOTJIG_MCU_FULL=1: all schemes, with RAM and without, and a whole map.
import { hex, same, test, that } from './lib/check.mjs';
import { BoardCart } from './lib/pair.mjs';
import { ReaderChip } from './lib/readerchip.mjs';
import { BANKS, HOTSPOTS, image } from './lib/slotonly.mjs';
import { get32 } from './lib/wire.mjs';

const full = process.env.SLOTJIG_MCU_FULL === '1';
const BYTES = { '2K': 2048, '4K': 4096, F8: 8192, F6: 16384, F4: 32768 };
const A12 = 0x1000, BANK_AT = 0x1fef, DONE = 2;
const NEIGHBOURS = 15;
// boards/pico/timing.md, as emulated: an address to its byte, A12 up to pins that drive, A12 down to pins that let go.
const TO_BYTE = 23, TO_DRIVE = 11, TO_RELEASE = 10;
const SLACK = 2; // the reader's own cycle, and one for the phase between the chips' loops

// Each bank has its number at BANK_AT, and at hotspots all have the same byte.
function banked(scheme) {
  const bytes = image(BYTES[scheme], 33);
  const size = Math.min(4096, bytes.length);
  for (let bank = 0; bank < BANKS[scheme]; bank++) {
    bytes[bank * size + (BANK_AT & (size - 1))] = bank;
    for (const address of HOTSPOTS[scheme]) bytes[bank * 4096 + (address & 4095)] = 0xea;
  }
  return bytes;
}

function hidden(scheme, ram, bytes) {
  const size = Math.min(4096, bytes.length);
  const shown = bytes.slice();
  if (ram && size === 4096) for (let at = 0; at < bytes.length; at += size) shown.fill(0, at, at + 256);
  return shown;
}

function readsAll(client, scheme, ram, bytes) {
  const { bytes: got, state } = client.task('read', { scheme, ram, option: 2 });
  same('state', [state.state, state.trouble], [DONE, 0]);
  const size = bytes.length;
  that('the bytes', hex(got.slice(0, size)) === hex(hidden(scheme, ram, bytes)));
  that('steady', got.slice(size, 2 * size).every((byte) => byte === 0));
  same('differing', get32(got, 2 * size + 4), 0);
  return `read in ${(state.us / 1000).toFixed(1)} ms`;
}

function switches(client, scheme, ram) {
  const banks = BANKS[scheme];
  if (banks === 1) return;
  const { bytes, state } = client.task('hotspots', { scheme, ram, option: BANK_AT });
  same('state', state.state, DONE);
  let at = 0;
  for (const manner of ['read', 'write'])
    for (let from = 0; from < banks; from++)
      for (let to = 0; to < banks; to++) same(`${manner} ${from} to ${to}`, bytes[at++], to);
  for (let place = 0; place < NEIGHBOURS; place++)
    for (let hotspot = 0; hotspot < banks; hotspot++)
      for (let from = 0; from < banks; from++) same(`neighbour ${place} of ${hotspot} in ${from}`, bytes[at++], from);
  same('all of it', at, bytes.length);
}

function keeps(client, scheme) {
  const { bytes, state } = client.task('ram', { scheme, ram: true });
  same('state', state.state, DONE);
  same('wrong reads', get32(bytes, 0), 0);
}

function inTime(client, scheme, ram) {
  const bank = BANKS[scheme] - 1;
  const whole = full && scheme === '4K' && !ram;
  const first = whole ? A12 : 0x1c00;
  const count = whole ? 4096 : full ? 128 : 24;
  const { bytes, state } = client.task('map', { scheme, ram, bank, first, count, us: 60e6 });
  same('state', state.state, DONE);
  const worst = [0, 0, 0];
  bytes.forEach((cycles, i) => (worst[i % 3] = Math.max(worst[i % 3], cycles)));
  that(`worst ${worst}`, Math.max(...worst) <= Math.max(TO_BYTE, TO_DRIVE) + SLACK);
  return `${count} addresses in ${(state.us / 1000).toFixed(0)} ms, worst ${worst.join(', ')} cycles`;
}

function letsGo(client, scheme, ram) {
  const { bytes, state } = client.task('release', { scheme, ram, bank: 0, first: 0x1c00, count: full ? 256 : 16 });
  same('state', state.state, DONE);
  const worst = Math.max(...bytes);
  that(`release ${worst}`, worst <= TO_RELEASE + SLACK);
  return `release ${worst}`;
}

function isQuiet(client, scheme, ram) {
  const { bytes, state } = client.task('quiet', { scheme, ram });
  same('state', state.state, DONE);
  same('quiet', bytes, [0, 0, 0, 0, 0, 0]);
}

for (const [scheme, ram] of full ? Object.keys(BYTES).flatMap((name) => [[name, false], [name, true]]) : [['F8', true]]) {
  if (scheme === '2K' && ram) continue; // no such image
  test(`${scheme}${ram ? ' with RAM' : ''}: the reader proves the board`, () => {
    const bytes = banked(scheme);
    const reader = new ReaderChip(new BoardCart(bytes, scheme, { ram })).start();
    const { client } = reader;
    const notes = [readsAll(client, scheme, ram, bytes)];
    switches(client, scheme, ram);
    if (ram) keeps(client, scheme);
    notes.push(inTime(client, scheme, ram), letsGo(client, scheme, ram));
    if (full) isQuiet(client, scheme, ram);
    return `${notes.join('; ')}, of the chips' time as emulated`;
  });
}
