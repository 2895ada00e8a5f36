// The reader's bus alone in the emulated chip, with a cartridge whose times are known. What is counted here and why:
// boards/reader/timing.md.
import { resolve } from 'node:path';
import { CHIP_NS } from './lib/bus.mjs';
import { BusOnly } from './lib/busonly.mjs';
import { buildDir } from './lib/emulator.mjs';
import { same, test, that } from './lib/check.mjs';
import { image, random } from './lib/slotonly.mjs';
import { DelayCart } from './lib/socket.mjs';

const elf = resolve(buildDir, 'firmware/busonly.elf');
const small = process.env.SLOTJIG_TEST_SMALL === '1';
const A12 = 0x1000, MOST_NS = 254 * CHIP_NS;
const seed = 7;

function powered(options = {}, delay = () => 150) {
  const cart = new DelayCart(image(4096, seed), Uint16Array.from({ length: 4096 }, (_, at) => delay(at)), options);
  const chip = new BusOnly(elf, cart);
  same('supply', chip.supply(true), [0, 1]);
  return { chip, cart };
}

const steps = (ns) => Math.ceil(ns / CHIP_NS); // [A]

test('off is how it starts: no supply, nothing driven, until it is asked for', () => {
  const cart = new DelayCart(image(4096, seed), new Uint16Array(4096));
  const chip = new BusOnly(elf, cart);
  chip.run(20000);
  same('supply', [chip.socket.on, chip.socket.powered, cart.on ?? false], [false, false, false]);
  same('data pins', chip.slot.driven, 0);
  chip.supply(true);
  same('on', [chip.socket.on, cart.on], [true, true]);
  chip.supply(false);
  same('off', [chip.socket.on, cart.on], [false, false]);
});

test('every delay from 0 to 253 cycles, and those between, are recovered to one step', () => {
  const next = random(seed);
  const { chip, cart } = powered({}, (at) => (at < 254 ? at * CHIP_NS : next(MOST_NS - CHIP_NS)));
  const list = Array.from({ length: small ? 254 : 400 }, (_, at) => A12 | at);
  const got = chip.find(list, A12);
  list.forEach((address, i) => {
    const ns = cart.delays[address & 4095];
    same(`address ${address.toString(16)}, ${ns} ns`, got[i], steps(ns) + chip.own);
  });
  return `${list.length} addresses; ${chip.own} cycle of the chip's own is in every figure`;
});

test('the figure holds whichever lines change', () => {
  const { chip } = powered({}, () => 163);
  for (const flip of [A12, 1, 0x800, 0xfff, 0x1fff]) {
    const list = [0x1234, 0x1fff, 0x1000];
    same(`flip ${flip.toString(16)}`, chip.find(list, flip), list.map(() => steps(163) + chip.own));
  }
});

test('before the sample the lines stand still for 600 ns', () => {
  const { chip } = powered();
  const log = [];
  chip.socket.onAccess = (ns, address) => log.push([ns, address]);
  for (let i = 0; i < 20; i++) chip.sample(0x1000 + i, 0x1f00 + i, i * 12);
  let least = Infinity;
  for (let i = 1; i < log.length; i++) if (log[i][1] >= 0x1f00) least = Math.min(least, log[i][0] - log[i - 1][0]);
  that(`${least} ns`, least >= 600);
  return `${least} ns at least`;
});

test('accesses follow one another at the console\'s pace, data taken at its time', () => {
  const taken = 410, late = 418; // READER_TAKES_NS, and a step later
  const { chip, cart } = powered({}, (at) => (at & 1 ? late : taken - CHIP_NS));
  const log = [];
  chip.socket.onAccess = (ns, address) => log.push(ns);
  const next = random(3);
  const list = Array.from({ length: 600 }, () => A12 | next(2048) * 2);
  const got = chip.read(list.map((address, i) => (i === 300 ? address | 1 : address)));
  list.forEach((address, i) => i !== 300 && same(`byte ${i}`, got[i], cart.image[address & 4095]));
  that('the late one is not there in time', got[300] !== cart.image[(list[300] | 1) & 4095]);
  const periods = new Set();
  for (let i = 2; i < log.length; i++) periods.add(log[i] - log[i - 1]);
  for (const ns of periods) that(`${ns} ns`, ns % 840 === 0);
  return `${[...periods].sort((a, b) => a - b)[0]} ns an access`;
});

test('a write drives the data in the cycle\'s second half, until A12 has fallen', () => {
  const { chip, cart } = powered({ ram: true });
  const log = [];
  chip.socket.onAccess = (ns, address, driven, data) => log.push({ ns, address, driven, data });
  const next = random(9);
  const kept = Array.from({ length: 128 }, () => next(256));
  kept.forEach((value, cell) => chip.write(A12 | cell, value));
  same('cells', cart.cells, kept);
  same('read back', chip.read(kept.map((_, cell) => 0x1080 | cell)), kept);
  const first = log.findIndex((entry) => entry.address === A12);
  const [address, drives, leaves, lets] = log.slice(first, first + 4);
  same('driven', [address.driven, drives.driven, leaves.driven, lets.driven], [0, 0xff, 0xff, 0]);
  same('leaves to', leaves.address, 0);
  const [half, period, hold] = [drives, leaves, lets].map((entry) => entry.ns - address.ns);
  that(`driven after ${half} ns`, half >= 320 && half <= 420);
  same('period', period, 840);
  that(`held for ${hold - period} ns`, hold - period >= 30);
  return `from ${half} ns, address for ${period} ns, data ${hold - period} ns longer`;
});

test('release: each line follows the pull, when it should', () => {
  for (const releaseNs of [0, 8, 40, 41, 320]) {
    const { chip, cart } = powered({ releaseNs });
    for (const address of [0x1000, 0x1abc]) {
      const byte = cart.image[address & 4095];
      for (const high of [true, false]) {
        const wanted = high ? 0xff : 0;
        const at = steps(releaseNs) + chip.own;
        same('just before', releaseNs > 0 ? chip.released(address, high, at - 1) : byte, byte);
        same('then', chip.released(address, high, at), wanted);
      }
    }
  }
  const { chip } = powered({ held: 0x08 });
  same('a line that is held', [chip.released(0x1234, true, 250), chip.released(0x1234, false, 250)], [0xf7, 0]);
});

test('an empty socket shows the pull', () => {
  const { chip } = powered();
  chip.socket.present = false;
  same('high', chip.sample(0x0234, 0x1234, 250), 0xff);
  same('low', chip.released(0x1234, false, 250), 0);
  same('high again', chip.sample(0x0234, 0x1234, 250), 0xff);
});

test('a byte that came too late is not the next one\'s', () => {
  const { chip, cart } = powered();
  const { rxFIFO } = chip.mcu.pio[0].machines[0];
  const list = [0x1111, 0x1222, 0x1333];
  rxFIFO.push(0x55);
  same('sample', chip.sample(0x0456, 0x1456, 100), cart.image[0x456]);
  rxFIFO.push(0x55);
  rxFIFO.push(0x66);
  same('read', chip.read(list), list.map((address) => cart.image[address & 4095]));
});

test('a machine that never answers keeps nobody waiting', () => {
  const { chip } = powered();
  chip.mcu.pio[0].writeUint32(0, 0);
  same('sample', chip.sample(0x0456, 0x1456, 100), 0xff);
  chip.read([0x1111]);
  chip.write(0x1111, 1);
  that(`${chip.took} cycles`, chip.took < 100000);
});

test('what the supply says: limited, missing, off', () => {
  const { chip } = powered();
  chip.socket.limit = true;
  chip.run(200);
  same('limited', chip.state()[0], 1);
  chip.socket.limit = false;
  chip.run(200);
  same('again', chip.state(), [0, 1]);
  chip.socket.riseTicks = Infinity;
  chip.run(200);
  same('missing', chip.state(), [2, 0]);
  same('off is no trouble', chip.supply(false), [0, 0]);
});

test('chip time of 32 KiB read twice', () => {
  const { chip } = powered();
  const list = Array.from({ length: 4096 }, (_, at) => A12 | at);
  chip.read(list);
  const ms = chip.took * 16 * CHIP_NS / 1e6;
  that(`${ms} ms`, ms < 100);
  return `${chip.took} cycles for 4096 bytes: ${ms.toFixed(1)} ms for 32 KiB twice, as emulated`;
});
