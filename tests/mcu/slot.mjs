// The slot's service, alone in the emulated chip. What is fixed here and why: boards/pico/timing.md.
import { resolve } from 'node:path';
import { buildDir } from './lib/emulator.mjs';
import { test } from './lib/check.mjs';
import { Bus, CHIP_NS } from './lib/bus.mjs';
import { DMA_HOP } from './lib/slot.mjs';
import { BANKS, HOTSPOTS, SlotOnly, image, random } from './lib/slotonly.mjs';

const elf = resolve(buildDir, 'firmware/slotonly.elf');
const small = process.env.SLOTJIG_TEST_SMALL === '1';

function equal(got, wanted, what) {
  if (got !== wanted) throw new Error(`${what}: ${hex(got)} instead of ${hex(wanted)}`);
}

const hex = (value) => `$${value.toString(16)}`;
const size = (scheme) => ({ '2K': 2048, '4K': 4096, F8: 8192, F6: 16384, F4: 32768 })[scheme];
const byteAt = (bytes, bank, address) => bytes[(bank * 4096 + (address & 4095)) % bytes.length];

function powered(scheme, { ram = false, seed = 1, bank, options } = {}) {
  const chip = new SlotOnly(elf, options);
  const bytes = image(size(scheme), seed);
  chip.load(bytes, scheme, ram, bank);
  chip.run(100);
  return { chip, bytes, bus: new Bus(chip) };
}

// Cycles from an address on the pins until its byte is there to stay, after an address with another byte.
function answer(chip, address, wanted) {
  let last = 0;
  chip.slot.setAddress(address);
  for (let cycle = 1; cycle <= 105; cycle++) {
    chip.tick();
    if (chip.slot.data !== wanted || chip.slot.reaches !== 0xff) last = cycle;
  }
  return last + 1;
}

function everyByte(scheme) {
  const { chip, bytes } = powered(scheme);
  const next = random(3);
  let worst = 0;
  for (let i = 0; i < 4096; i++) {
    const address = 0x1000 | (i * 1237) % 4096;
    chip.slot.setAddress(next(4096)); // A12 = 0 in between
    chip.run(90 + next(13));
    const cycles = answer(chip, address, byteAt(bytes, 0, address));
    if (cycles > 100) throw new Error(`${hex(address)} does not show its byte`);
    worst = Math.max(worst, cycles);
  }
  return worst;
}

for (const scheme of ['2K', '4K']) {
  test(`all 4096 bytes of ${scheme}`, () => {
    const worst = everyByte(scheme);
    const hops = `assuming ${DMA_HOP} cycles a DMA hop and 2 for the input synchronisers`;
    return `worst address to data ${worst} cycles = ${worst * CHIP_NS} ns at 125 MHz, ${hops}; this is no silicon timing`;
  });
}

test('data pins let go when A12 falls, and drive only while it is high', () => {
  const { chip } = powered('4K');
  const { slot } = chip;
  let off = 0, on = 0;
  const low = small ? 20 : 60;
  for (let phase = 0; phase < low; phase++) {
    slot.setAddress(0x1fff);
    chip.run(60 + phase);
    let cycles = 0;
    for (slot.setAddress(0x0fff); slot.driven !== 0; cycles++) chip.tick();
    off = Math.max(off, cycles);
    if (slot.reaches !== 0) throw new Error('reaches the console with A12 = 0');
    for (let i = 0; i < 100 + phase; i++) {
      chip.tick();
      if (slot.driven !== 0 || slot.direction !== 0) throw new Error('drives with A12 = 0');
    }
    cycles = 0;
    for (slot.setAddress(0x1fff); slot.driven !== 0xff; cycles++) chip.tick();
    on = Math.max(on, cycles);
  }
  if (off > 10 || on > 14) throw new Error(`${off} cycles to let go, ${on} to drive`);
  return `at most ${off} cycles to let go, ${on} to drive`;
});

// With PIN_DIRECTION 0 and A12 = 1 the translator drives the pins, with no resistor between.
test('the translator turns a cycle before the pins drive, and a cycle after they let go', () => {
  for (const ram of [false, true]) {
    const { chip } = powered('4K', { ram });
    const { slot } = chip;
    let drivenBefore = 0, directionBefore = 0, turns = 0;
    for (let i = 0; i < 4000; i++) {
      if (i % 37 === 0) slot.setAddress([0x1fff, 0x0fff, 0x1000, 0x1100, 0x0000][(i / 37) % 5]);
      chip.tick();
      if (slot.driven && !directionBefore) throw new Error('pins drive while the translator does');
      if (!slot.direction && drivenBefore) throw new Error('the translator turns while pins drive');
      if (slot.direction !== directionBefore) turns++;
      drivenBefore = slot.driven, directionBefore = slot.direction;
    }
    if (turns < 20) throw new Error(`turned ${turns} times only`);
  }
});

test('nothing is driven before the first image', () => {
  const chip = new SlotOnly(elf);
  for (let i = 0; i < 20000; i++) {
    chip.slot.setAddress(i & 0x1fff);
    chip.tick();
    if (chip.slot.driven || chip.slot.enable || chip.slot.direction) throw new Error('something is');
  }
});

function hotspots(scheme, ram) {
  const list = HOTSPOTS[scheme];
  const { chip, bytes, bus } = powered(scheme, { ram });
  let bank = BANKS[scheme] - 1;
  const shows = (address, why) =>
    equal(bus.read(address), byteAt(bytes, bank, address), `${why}, bank ${bank}, ${hex(address)}`);
  shows(0x1fff, 'first bank');
  const neighbours = [0x1ff2, 0x1ff3, 0x1ffc, 0x1ffd].concat([4, 5, 6, 7, 8, 9, 10, 11].map((low) => 0x1ff0 | low)
    .filter((address) => !list.includes(address)));
  const alike = [4, 5, 6, 7, 8, 9, 10, 11].flatMap((low) => [0x0ff0 | low, 0x1ef0 | low, 0x1fe0 | low, 0x17f0 | low]);
  for (let from = 0; from < BANKS[scheme]; from++) {
    for (let to = 0; to < list.length; to++) {
      if (list.length > 0) bus.read(list[from]), (bank = from);
      shows(0x1123, 'before');
      bank = to;
      shows(list[to], 'at the hotspot');
      shows(0x1124, 'after');
      for (const address of neighbours) shows(address, 'neighbour');
      for (const address of alike) bus.read(address);
      shows(0x1f80, 'after neighbours');
      bank = from;
      bus.write(list[from], 0x5a); // a write switches too
      shows(0x1125, 'after a write');
    }
  }
  if (list.length === 0) {
    bank = 0;
    for (const address of [...neighbours, ...alike.filter((a) => a & 0x1000)]) shows(address, 'no hotspots');
  }
}

for (const scheme of Object.keys(HOTSPOTS)) {
  for (const ram of [false, true]) {
    test(`${scheme}${ram ? ' with RAM' : ''}: every hotspot from every bank, no neighbour`, () => hotspots(scheme, ram));
  }
}

// Straight from one address to the next, so that an old byte would show; hotspots apart, which hotspots() looks at.
for (const scheme of ['F8', 'F6', 'F4']) {
  test(`all 4096 bytes of every bank of ${scheme}`, () => {
    const { chip, bytes } = powered(scheme);
    for (let bank = 0; bank < BANKS[scheme]; bank++) {
      chip.slot.setAddress(HOTSPOTS[scheme][bank]);
      chip.run(105);
      for (let i = 0; i < 4096; i += small ? 17 : 1) {
        const address = 0x1000 | (i * 1237) % 4096;
        if (HOTSPOTS[scheme].includes(address)) continue;
        chip.slot.setAddress(address);
        chip.run(54); // 432 ns, less than the 438 that a console leaves
        equal(chip.slot.data, byteAt(bytes, bank, address), `bank ${bank}, ${hex(address)}`);
      }
    }
  });
}

// The write window must be left alone: from when `drive` can know (the pins let go within this many cycles of the
// address) until the address leaves.
const LETS_GO = 12;

function watchWindow(bus) {
  let inside = 0, seen = 0;
  bus.onTick = (slot) => {
    inside = bus.address >= 0x1000 && bus.address < 0x1080 ? inside + 1 : 0;
    if (inside > LETS_GO) {
      seen++;
      if (slot.driven !== 0 || slot.direction !== 0) throw new Error(`drives in the write window at ${hex(bus.address)}`);
    }
  };
  return () => seen;
}

function ramWrites(scheme, addressNs) {
  const { chip, bytes } = powered(scheme, { ram: true });
  const bus = new Bus(chip, { addressNs });
  const seen = watchWindow(bus);
  const next = random(11);
  const kept = Array.from({ length: 128 }, () => next(256));
  bus.read(0x1800);
  kept.forEach((value, i) => {
    bus.write(0x1000 + i, value);
    if (i % 3 === 0) bus.read(0x1200 + next(256));
  });
  const banks = HOTSPOTS[scheme].length > 0 ? HOTSPOTS[scheme] : [0x1800];
  for (const hotspot of banks) {
    bus.read(hotspot);
    kept.forEach((value, i) => equal(bus.read(0x1080 + i), value, `RAM ${i}, addresses after ${addressNs} ns`));
  }
  equal(bus.read(0x1100), byteAt(bytes, BANKS[scheme] - 1, 0x1100), 'above the RAM');
  if (seen() === 0) throw new Error('the window was never watched');
}

for (const scheme of ['4K', 'F8', 'F4']) {
  for (const addressNs of [70, 100, 150, 200, 250, 270]) {
    test(`${scheme}: 128 bytes of RAM, addresses valid ${addressNs} ns into the cycle`, () => ramWrites(scheme, addressNs));
  }
}

// The data lines count the cycles since the address settled, so what is stored says when it was sampled.
test('RAM: when the data lines are sampled', () => {
  const { chip } = powered('4K', { ram: true });
  const { slot } = chip;
  let first = 255, last = 0;
  for (let i = 0; i < (small ? 60 : 400); i++) {
    slot.setAddress(0x0080);
    chip.run(105 + i % 23);
    slot.setAddress(0x1000 + i % 128);
    for (let cycle = 1; cycle <= 105; cycle++) {
      slot.setBus(cycle);
      chip.tick();
    }
    slot.setAddress(0x1200);
    chip.run(60);
    slot.setAddress(0x1080 + i % 128);
    chip.run(60);
    first = Math.min(first, slot.data), last = Math.max(last, slot.data);
  }
  // Data written are on the lines from 619 to 868 ns into the cycle (bus.mjs). So these address delays are served:
  const from = 619 - first * CHIP_NS, to = 868 - last * CHIP_NS;
  if (from > 60 || to < 270) throw new Error(`${first} to ${last} cycles after the address`);
  return `${first} to ${last} cycles after the address: right if that settles ${from} to ${to} ns into the cycle`;
});

test('RAM: a read of the write window stores what floats on the bus', () => {
  const { chip } = powered('4K', { ram: true });
  const bus = new Bus(chip);
  const seen = watchWindow(bus);
  bus.write(0x1010, 0x3c);
  equal(bus.read(0x1090), 0x3c, 'written');
  bus.level = 0x77;
  bus.cycle(0x0080, 0xa5); // the console writes its own RAM: that stays on the lines
  equal(bus.read(0x1011), 0xa5, 'what the console reads there');
  equal(bus.read(0x1091), 0xa5, 'what was stored');
  equal(bus.read(0x1090), 0x3c, 'its neighbour');
  if (seen() === 0) throw new Error('the window was never watched');
});

test('RAM: the dummy read that comes before an indexed store does not hide the store', () => {
  const { chip } = powered('F8', { ram: true });
  for (const addressNs of [60, 150, 250]) {
    const bus = new Bus(chip, { addressNs });
    for (const repeats of [1, 2, 3]) {
      bus.read(0x1200);
      for (let i = 0; i < repeats; i++) bus.read(0x1023);
      bus.write(0x1023, 0x40 + repeats);
      equal(bus.read(0x1201) && bus.read(0x10a3), 0x40 + repeats, `after ${repeats} reads of the same address`);
    }
  }
});

test('RAM: two stores to neighbours in turn, and to one address twice', () => {
  const { chip } = powered('4K', { ram: true });
  const bus = new Bus(chip);
  const next = random(5);
  const model = new Uint8Array(128);
  for (let i = 0; i < (small ? 200 : 1500); i++) {
    const at = next(4) * 31;
    const value = next(256);
    bus.write(0x1000 + at, value);
    model[at] = value;
    if (next(3) === 0) bus.read(0x1400 + next(1000));
    if (next(4) === 0) for (const k of [0, 31, 62, 93]) if (bus.address !== 0x1080 + k && model[k] !== 0) equal(bus.read(0x1080 + k), model[k], `at ${k}`);
  }
});

test('without RAM the write window is image like the rest', () => {
  const { chip, bytes, bus } = powered('4K');
  for (let a = 0; a < 256; a++) equal(bus.read(0x1000 + a), bytes[a], hex(a));
  chip.load(image(4096, 2), '4K', true);
  bus.resume();
  bus.write(0x1000, 0x99);
  equal(bus.read(0x1080), 0x99, 'with RAM');
  chip.load(bytes, '4K', false);
  bus.resume();
  bus.write(0x1000, 0x55);
  for (let a = 0; a < 256; a++) equal(bus.read(0x1000 + a), bytes[a], `without again, ${hex(a)}`);
});

test('an image that changes under a still address shows the new byte', () => {
  const { chip } = powered('4K', { seed: 1 });
  for (let i = 0; i < 40; i++) {
    const bytes = image(4096, i + 10);
    const address = 0x1000 | (i * 411) % 4096;
    chip.slot.setAddress(address);
    chip.run(200);
    chip.load(bytes, '4K');
    chip.run(30);
    equal(chip.slot.data, byteAt(bytes, 0, address), `after change ${i}, ${hex(address)}`);
  }
});

test('a changed byte in the served lanes shows under a still address', () => {
  const { chip } = powered('4K');
  const lanes = chip.spareAt === 0x8000 ? 0x10000 : 0x8000;
  for (let i = 0; i < 256; i++) {
    chip.slot.setAddress(0x1fe3);
    chip.run(1 + i % 11);
    chip.mcu.sram.fill(i, lanes + 0xfe3 * 8, lanes + 0xfe3 * 8 + 8);
    chip.run(30);
    equal(chip.slot.data, i, 'the mailbox');
  }
});

// Every bus cycle's byte is the old image's or the new one's, and new ones only after the first of them.
function changeWhileReading(phase, scheme, ram) {
  const { chip } = powered(scheme, { seed: 21 + phase, ram });
  const old = image(size(scheme), 21 + phase), fresh = image(8192, 500 + phase);
  const bus = new Bus(chip);
  const next = random(phase + 1);
  bus.read(0x1400);
  chip.run(phase);
  bus.resume();
  chip.lay(fresh, 'F8', ram);
  chip.ask('F8', ram, 0);
  let seenNew = false, count = 0;
  for (let i = 0; i < 400 && (chip.busy || count < 5); i++) {
    const address = 0x1200 + next(0x0d00);
    const got = bus.read(address);
    const was = byteAt(old, BANKS[scheme] - 1, address), is = byteAt(fresh, 0, address);
    if (got !== was && got !== is) throw new Error(`${hex(got)} is neither ${hex(was)} nor ${hex(is)}, phase ${phase}`);
    if (seenNew && got !== is) throw new Error(`the old image again, phase ${phase}`);
    if (got !== was) seenNew = true;
    if (!chip.busy) count++;
  }
  if (!seenNew) throw new Error('the new image never showed');
}

test('a change while reads run: each read is old or new', () => {
  const phases = small ? 12 : 105;
  for (let phase = 0; phase < phases; phase++)
    changeWhileReading(phase, ['4K', 'F4', 'F8'][phase % 3], phase % 2 === 1);
  return `${phases} phases against the bus cycle`;
});

test('no output from a mixture: cycle by cycle, only the old byte, then only the new one', () => {
  const phases = small ? 10 : 60;
  for (let phase = 0; phase < phases; phase++) {
    const { chip } = powered('F4', { seed: 1, bank: 3 });
    const bytes = image(32768, 1);
    const fresh = image(32768, 2);
    const address = 0x1345 + phase;
    chip.slot.setAddress(address);
    chip.run(100 + phase);
    chip.lay(fresh, 'F4', false);
    chip.ask('F4', false, 5);
    const was = byteAt(bytes, 3, address), is = byteAt(fresh, 5, address);
    let state = was;
    for (let i = 0; i < 100000 && chip.busy; i++) {
      chip.tick();
      if (chip.slot.reaches !== 0xff) throw new Error('not driven meanwhile');
      if (chip.slot.data === state) continue;
      if (state === was && chip.slot.data === is) state = is;
      else throw new Error(`${hex(chip.slot.data)} after ${hex(state)}`);
    }
    chip.run(40);
    equal(chip.slot.data, is, 'in the end');
  }
});

// Cycles from asking for a change until `read` has the new lanes.
function changeAfter() {
  const { chip } = powered('F4');
  const read = chip.mcu.pio[1].machines[0];
  const before = read.y;
  let cycles = 0;
  chip.lay(image(8192, 9), 'F8', false);
  for (chip.ask('F8', false, 1); read.y === before; cycles++) chip.tick();
  return cycles;
}

test('a hotspot of the old image, touched just before the change, does not reach the new one', () => {
  const at = changeAfter();
  const bytes = image(8192, 9);
  for (let ahead = -5; ahead < (small ? 60 : 100); ahead++) {
    const { chip } = powered('F4');
    chip.slot.setAddress(0x1234);
    chip.run(100);
    chip.lay(bytes, 'F8', false);
    chip.ask('F8', false, 1);
    chip.run(at - ahead);
    chip.slot.setAddress(0x1ff4); // bank 0 in F4, no hotspot in F8
    chip.run(100);
    chip.slot.setAddress(0x1777);
    while (chip.busy) chip.tick();
    chip.run(60);
    equal(chip.slot.data, byteAt(bytes, 1, 0x1777), `${ahead} cycles ahead`);
  }
});

test('a change in the middle of a store leaves the RAM in order', () => {
  for (let phase = 0; phase < 120; phase++) {
    const { chip } = powered('F8', { ram: true });
    const bytes = image(8192, 30);
    chip.lay(bytes, 'F8', true);
    chip.slot.setAddress(0x1040);
    chip.run(phase);
    chip.ask('F8', true, 0);
    while (chip.busy) chip.tick();
    const bus = new Bus(chip);
    bus.read(0x1200);
    bus.write(0x1005, 0x77);
    bus.write(0x1006, 0x88);
    equal(bus.read(0x1085), 0x77, `phase ${phase}`);
    equal(bus.read(0x1086), 0x88, `phase ${phase}`);
    equal(bus.read(0x1300), byteAt(bytes, 0, 0x1300), `image, phase ${phase}`);
  }
});

test('the supply pin is read', () => {
  const { chip } = powered('4K');
  for (const on of [true, false, true]) {
    chip.slot.setSupply(on);
    chip.run(10);
    chip.events();
    equal(chip.word('supply'), on ? 1 : 0, 'supply');
  }
});

test('every steady address is handed out once, in order', () => {
  const { chip, bus } = powered('4K');
  const next = random(77);
  chip.events(), chip.events();
  const wanted = [];
  bus.resume();
  for (let i = 0; i < 3000; i++) {
    const address = next(3) === 0 ? (wanted.at(-1) ?? 5) : next(8192);
    if (address !== wanted.at(-1)) wanted.push(address);
    bus.cycle(address, next(2) ? next(256) : null);
  }
  const got = [];
  for (;;) {
    const { list, missed } = chip.events();
    equal(missed, 0, 'missed');
    got.push(...list);
    if (list.length === 0) break;
  }
  equal(got.length, wanted.length, 'how many');
  wanted.forEach((address, i) => equal(got[i], address, `event ${i}`));
});

test('a line that twitches and comes back makes no second event', () => {
  const { chip } = powered('4K');
  while (chip.events().list.length > 0);
  chip.slot.setAddress(0x1555);
  chip.run(100);
  for (let i = 0; i < 20; i++) {
    chip.slot.setAddress(0x1557);
    chip.run(1 + i % 8);
    chip.slot.setAddress(0x1555);
    chip.run(80);
  }
  equal(chip.events().list.filter((address) => address !== 0x1fff).length, 1, 'events');
});

test('addresses missed while the processor was away are counted', () => {
  const { chip, bus } = powered('4K');
  while (chip.events().list.length > 0);
  bus.resume();
  const cycles = small ? 12000 : 40000; // 400 ms would be 477,000
  for (let i = 0; i < cycles; i++) bus.cycle(0x1000 | (i & 0xfff));
  let sum = 0, first = null;
  for (;;) {
    const { list, missed } = chip.events();
    first ??= list[0] ?? first;
    sum += list.length + missed;
    if (list.length === 0) break;
  }
  equal(sum, cycles, 'handed out and missed');
});

test('channels that have counted down start again', () => {
  const { chip, bytes, bus } = powered('F8', { ram: true });
  for (const channel of chip.mcu.dma.channels.slice(0, 8)) {
    if (channel.transCountReload > 1000) channel.transCount = 7;
  }
  bus.resume();
  for (let i = 0; i < 40; i++) {
    bus.write(0x1000 + i, i ^ 0x5a);
    equal(bus.read(0x1080 + i), i ^ 0x5a, `RAM ${i}`);
    bus.read(HOTSPOTS.F8[i % 2]);
    equal(bus.read(0x1333 + i), byteAt(bytes, i % 2, 0x1333 + i), `bank ${i % 2}`);
  }
});
