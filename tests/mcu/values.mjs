// Values for the console through the firmware: told over the wire, seen on the slot, taken by reads of its third
// byte; first by bus cycles made by hand, then by the console model with a program that shows what it is given.
// What is asserted are counts and order; that reads and changes fit into a field is the emulator's word only.
import { Chip } from './lib/chip.mjs';
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

test('select and another image end a stream', () => {
  const { client, lockstep } = by;
  talk(() => client.values(7, 0, valuesOf(0, 9)));
  same('first', [field(by), field(by)], [valueOf(0), valueOf(1)]);
  talk(() => client.ask(TYPE.SELECT, [1, 3]));
  same('held', [lockstep.read(MODE), lockstep.read(VALUE - 1)], [HOLD, 3]);
  same('told once more', talk(() => client.values(7, 0, valuesOf(0, 9))).status, NOT_BEGUN);
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

// ---- the console model ----

const OWN = 0xfe;
const lines = (count) => [0xa2, count, 0x85, 0x02, 0xca, 0xd0, 0xfb]; // LDX #, STA WSYNC, DEX, BNE
const band = (zp) => [0xa5, zp, 0x85, 0x09, ...lines(60)]; // LDA, STA COLUBK
const give = (i) => [0xad, VALUE + i & 0xff, 0xff, 0x85, 0x80 + i]; // LDA MAILBOX_VALUE+i, STA
const FRAME = 5;
const program = [
  0x78, 0xd8, 0xa2, 0xff, 0x9a, // SEI, CLD, LDX #$FF, TXS
  0xa9, 2, 0x85, 0, 0x85, 2, 0x85, 2, 0x85, 2, // VSYNC on, three lines
  0xa9, 0, 0x85, 0, 0x85, 1, 0x85, 0x0d, 0x85, 0x0e, 0x85, 0x0f, // off, and VBLANK, PF0, PF1, PF2
  0xa9, OWN, 0x85, 0x80, 0x85, 0x81, 0x85, 0x82, ...lines(40), // nothing given
  0xad, MODE & 0xff, 0xff, 0xc9, GIVEN, 0xd0, 15, // LDA MAILBOX_MODE, CMP #, BNE over the next three
  ...give(0), ...give(1), ...give(2),
  ...band(0x80), ...band(0x81), ...band(0x82),
  0xa9, 0, 0x85, 0x09, ...lines(39), 0x4c, FRAME, 0xf0, // black; JMP frame
];

function imageOf() {
  const image = new Uint8Array(4096);
  image.set(program);
  image.set([0x4c, 0x00, 0xf0], 0xfe0);
  image.set([0xe0, 0xff], 0xffc);
  return image;
}

// The three bands' colours in each of the fields drawn; 262 lines of 160 pixels, and 4 bytes before them.
function shown(drawn) {
  const values = [];
  for (let at = 0; at < drawn.length; ) {
    const count = drawn[at] | drawn[at + 1] << 8;
    same('lines', count, 262);
    const colour = (n) => drawn[at + 4 + (43 + 60 * n + 30) * 160 + 80];
    values.push(colour(0) | colour(1) << 8 | colour(2) << 16);
    at += 4 + count * 160;
  }
  return values;
}

test('the console shows what it is given, in this order, one each field', () => {
  const wanted = Array.from({ length: 7 }, (_, i) => Math.imul(i, 0x9e3779) & 0x7e7e7e);
  const own = OWN * 0x10101;
  const one = bench({ eraseUs: 1000 });
  const { chip, lockstep, client } = one;
  push(one, imageOf());
  that('the image is served', chip.run(() => client.status().state === SERVING, 100000));
  lockstep.powerOn({ seed: 11 });
  lockstep.draw(2); // the first is cut off
  const tell = (first, count) => {
    const reply = lockstep.quietly(() => client.values(1, first, wanted.slice(first, first + count)));
    same('told', [reply.status, reply.next], [0, first + count]);
  };
  same('its own', shown(lockstep.draw(1)), [own]);
  tell(0, 4);
  same('shown', shown(lockstep.draw(3)), wanted.slice(0, 3));
  tell(4, 3);
  same('shown', shown(lockstep.draw(5)), [...wanted.slice(3), own]);
});
