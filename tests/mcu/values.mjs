// Values for the console through the firmware: told over the wire, seen on the slot, taken by reads of its third
// byte; first by bus cycles made by hand, then by the console model with a program that shows what it is given.
// What is asserted are counts and order; that reads and changes fit into a field is the emulator's word only.
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { Chip } from './lib/chip.mjs';
import { buildDir } from './lib/emulator.mjs';
import { firmware, same, test, that } from './lib/check.mjs';
import { Lockstep } from './lib/lockstep.mjs';
import { bulkLine } from './lib/usb.mjs';
import { Client, TYPE, frame } from './lib/wire.mjs';

// include/slotjig/mailbox.h, wire.h
const MODE = 0x1fe3, VALUE = 0x1fe5, IN_RAM = 0x1fe8, RESET_VECTOR = 0x1ffc;
const FREE = 0, HOLD = 1, HAND_OVER = 2, GIVEN = 3;
const NOT_BEGUN = 4, SERVING = 1, IMAGE_MAILBOX = 2, QUEUE = 64, CAN_VALUES = 64;
const FIELD_US = 16683; // 262 lines of 228 clocks at 3.579545 MHz [A]

function bench(options = {}) {
  const chip = new Chip({ elf: firmware(), eraseUs: 45000, ...options });
  const lockstep = new Lockstep(chip);
  that('the slot is served', chip.run(() => lockstep.slot.enable === 1, 200000));
  lockstep.quietly(() => chip.runFor(20000)); // the lines are set up after the slot
  chip.usb.enumerate();
  return { chip, lockstep, client: new Client(bulkLine(chip, 0x01, 0x81)) };
}

// Pushed quietly; the slot's machines must run when the image is changed.
function push({ lockstep, client }, image) {
  const scheme = image.length === 2048 ? '2K' : '4K';
  lockstep.quietly(() => client.blocks(image, client.begin(image, scheme, IMAGE_MAILBOX)));
  same('commit', client.commit(), 0);
}

// In no order, and no two neighbours share a byte.
const valueOf = (place) => ((place * 7 + 1) & 0xff) | ((place * 11 + 3) & 0xff) << 8 | ((place * 13 + 5) & 0xff) << 16;
const valuesOf = (first, count) => Array.from({ length: count }, (_, i) => valueOf(first + i));

// ---- bus cycles by hand ----

// One field: the mode, and where it says so the three bytes; -1: none given. Between fields the chip is alone.
function field({ chip, lockstep }, us = FIELD_US) {
  let value = -1;
  if (lockstep.read(MODE) === GIVEN) {
    value = 0;
    for (let i = 0; i < 3; i++) {
      lockstep.read(0x1234 + i);
      value |= lockstep.read(VALUE + i) << (8 * i);
    }
  }
  lockstep.read(0x1456);
  lockstep.quietly(() => chip.runFor(us));
  return value;
}

const by = bench();
by.lockstep.byHand();
const talk = (body) => by.lockstep.quietly(() => body(by.client));

test('hello says that the firmware can', () => {
  that('capability', talk((client) => client.hello()).capabilities & CAN_VALUES);
});

test('given in disorder, shown in this order, one each field', () => {
  same('before', field(by), -1);
  const reply = talk((client) => client.values(5, 0, valuesOf(0, 60)));
  same('reply', reply, { status: 0, stream: 5, next: 60, taken: 0, room: QUEUE - 60 });
  same('a gap', talk((client) => client.values(5, 61, [1])).next, 60);
  for (let place = 0; place < 90; place++) {
    same(`field ${place}`, field(by), valueOf(place));
    // Each thirty fields some more, some of it told before.
    if (place % 30 === 10) {
      const first = 60 - 5 + (place - 10) / 2;
      const { status, taken } = talk((client) => client.values(5, first, valuesOf(first, Math.min(20, 90 - first))));
      same('status and taken', [status, taken], [0, place + 1]);
    }
  }
  same('after', [field(by), field(by)], [-1, -1]);
  same('mode', by.lockstep.read(MODE), FREE);
});

test('what is written to the flash meanwhile costs fields, never a byte', () => {
  const { chip, client } = by;
  const image = new Uint8Array(4096);
  talk(() => client.values(6, 0, valuesOf(0, QUEUE)));
  let last = -1, again = 0, none = 0;
  const begun = talk(() => client.begin(image, '4K', IMAGE_MAILBOX));
  for (let block = 0; block < 4; block++) {
    // The first one has its sector erased, 45 ms in which the board looks at nothing.
    talk(() => client.line.send(frame(TYPE.DATA, block, image.subarray(block * 1024, block * 1024 + 1024))));
    for (let fields = 0; fields < 8; fields++) {
      const value = field(by, 15000);
      if (value === -1) none++;
      else if (value === valueOf(last)) again++;
      else same(`after place ${last}`, value, valueOf(++last));
    }
  }
  talk(() => client.ask(TYPE.ABORT));
  while (last < QUEUE - 1) {
    const value = field(by);
    if (value !== valueOf(last)) same(`after place ${last}`, value, valueOf(++last));
  }
  same('begun', begun.status, 0);
  same('taken', talk(() => client.values(6, QUEUE, [])).taken, QUEUE);
  that('the board was late', again + none > 0);
  return `${again} fields had a value again, ${none} none`;
});

// The ring of addresses holds 8192. Reads of one value that were seen late, some of them long after the first, must
// not count for the next one: all of the ring is looked at before the mailbox changes, and the mailbox waits as well
// (with neither, three values are lost here).
test('a ring full of addresses, with five reads of one value in it, is one read', () => {
  const { chip, lockstep, client } = by;
  const image = new Uint8Array(4096);
  talk(() => client.values(7, 0, valuesOf(0, 9)));
  field(by);
  talk(() => client.begin(image, '4K', IMAGE_MAILBOX));
  talk(() => client.line.send(frame(TYPE.DATA, 0, image.subarray(0, 1024))));
  that('the flash is at work', lockstep.quietly(() => chip.run(() => chip.flash.busy, 20000)));
  const seen = [];
  for (let again = 0; again < 5; again++) {
    seen.push(lockstep.read(MODE));
    for (let i = 0; i < 3; i++) lockstep.read(VALUE + i);
    for (let i = 0; i < 1500 + (again === 3 ? 450 : 0); i++) lockstep.read(0x1100 + (i & 1));
  }
  same('modes', seen, [GIVEN, GIVEN, GIVEN, GIVEN, GIVEN]);
  lockstep.quietly(() => chip.runFor(60000));
  talk(() => client.ask(TYPE.ABORT));
  for (let place = 2; place < 9; place++) same(`place ${place}`, field(by), valueOf(place));
});

test('select and another image end a stream', () => {
  const { client, lockstep } = by;
  talk(() => client.values(17, 0, valuesOf(0, 9)));
  same('first', [field(by), field(by)], [valueOf(0), valueOf(1)]);
  talk(() => client.ask(TYPE.SELECT, [1, 3]));
  same('held', [lockstep.read(MODE), lockstep.read(VALUE - 1)], [HOLD, 3]);
  same('told once more', talk(() => client.values(17, 0, valuesOf(0, 9))).status, NOT_BEGUN);
  talk(() => client.values(8, 0, valuesOf(0, 9)));
  lockstep.quietly(() => by.chip.runFor(FIELD_US));
  same('another one', [field(by), field(by)], [valueOf(0), valueOf(1)]);
  push(by, new Uint8Array(2048));
  same('told after it', talk(() => client.values(8, 2, valuesOf(2, 9))).status, NOT_BEGUN);
  same('for the new image', talk(() => client.values(9, 0, valuesOf(20, 5))).status, 0);
  same('the console is asked first', lockstep.read(MODE), HAND_OVER);
  lockstep.read(IN_RAM);
  lockstep.read(0x1000);
  by.chip.runFor(20000);
  same('and then waited for', lockstep.read(MODE), FREE);
  for (const address of [RESET_VECTOR, RESET_VECTOR + 1, 0x1000]) lockstep.read(address);
  lockstep.quietly(() => by.chip.runFor(FIELD_US));
  same('then given', [field(by), field(by)], [valueOf(20), valueOf(21)]);
});

// ---- the console model, a plan that counts, and the judge ----

const tool = `${buildDir}/slotjig`;
const PLAN = 'every:1024'; // 512 pictures in each mode are four fields
const ORDER = [3, 1, 7, 5, 0, 6, 2, 4];
const LATER = 1; // field: the grabber gives them by twos

// host/plan/every.h: field k of a mode begins with pattern k * 168, which is that many times the step.
const base = (k, mirror) => Number((BigInt(k * 168) * 648055n) % 1048576n) | mirror;

function compile(folder) {
  const path = `${folder}/image.bin`;
  const words = ['rom', '--plan', PLAN, '--hold', '1', '--screen', 'none', '--quiet', '-o', path];
  execFileSync(tool, words, { stdio: 'pipe' });
  return new Uint8Array(readFileSync(path));
}

function judge(folder, fields) {
  writeFileSync(`${folder}/fields`, fields);
  execFileSync(`${buildDir}/mcu/grab`, [`${folder}/fields`, `${folder}/fields.yuv`]);
  const words = ['judge', '--plan', PLAN, '--quiet', '--json', '-', `${folder}/fields.yuv`];
  const run = spawnSync(tool, words, { encoding: 'utf8' });
  return { status: run.status, ...JSON.parse(run.stdout) };
}

test('plan every in disorder on the console model: in this order, and the judge has seen every picture', () => {
  const folder = mkdtempSync(`${tmpdir()}/slotjig-values-`);
  const one = bench({ eraseUs: 1000 });
  const { chip, lockstep, client } = one;
  push(one, compile(folder));
  that('the image is served', chip.run(() => client.status().state === SERVING, 100000));
  lockstep.powerOn({ seed: 11 });
  lockstep.draw(2); // the first is cut off
  const bases = ORDER.map((i) => base(i >> 1, i & 1));
  same('told', lockstep.quietly(() => client.values(1, 0, bases)).status, 0);
  const fields = [lockstep.draw(1)]; // its mode was read before it began; the grabber begins with the next
  const echoes = []; // low byte of the slate's value, as the console said it to the board
  for (let i = 0; i < bases.length + LATER; i++) {
    fields.push(lockstep.draw(1));
    echoes.push(lockstep.quietly(() => client.ask(TYPE.WATCH)).payload[1 + 30]);
  }
  same('shown', echoes.slice(0, bases.length), bases.map((value) => value & 0xff));
  const { status, verdict, coverage } = judge(folder, Buffer.concat(fields));
  rmSync(folder, { recursive: true });
  same('coverage', [coverage.seen, coverage.of], [1024, 1024]);
  same('verdict', [status, verdict], [0, 'pass']);
});
