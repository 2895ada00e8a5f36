// From end to end: the firmware takes images over its wire, serves them to the console model, and what that draws is
// judged by the tool itself. SLOTJIG_MCU_FULL=1: the whole plan `bits`.
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { fileURLToPath } from 'node:url';
import { CYCLE_NS } from './lib/bus.mjs';
import { Chip } from './lib/chip.mjs';
import { buildDir } from './lib/emulator.mjs';
import { firmware, same, test, that } from './lib/check.mjs';
import { Lockstep } from './lib/lockstep.mjs';
import { bulkLine } from './lib/usb.mjs';
import { Client, TYPE, get16, get32, serialLine } from './lib/wire.mjs';

const full = process.env.SLOTJIG_MCU_FULL === '1';
const sources = fileURLToPath(new URL('../..', import.meta.url));
const folder = mkdtempSync(`${tmpdir()}/slotjig-end-`);
const tool = `${buildDir}/slotjig`;
const plan = full ? 'bits' : `${sources}tests/mcu/slotend/bits-part.ini`;
const STEPS = full ? 98 : 8;
const HOLD = 3; // one field to settle, two that are judged
const ROUND = STEPS * HOLD + 6;
const A_FEW = 12; // fields: some steps
const TYPICAL_ERASE_US = 45000;
const IMAGE_MAILBOX = 2;

// ---- the tool ----

function compile() {
  const path = `${folder}/image.bin`;
  execFileSync(tool, ['rom', '--plan', plan, '--hold', `${HOLD}`, '--screen', 'none', '--quiet', '-o', path]);
  return new Uint8Array(readFileSync(path));
}

function judge(fields, name) {
  writeFileSync(`${folder}/${name}.fields`, fields);
  execFileSync(`${buildDir}/mcu/grab`, [`${folder}/${name}.fields`, `${folder}/${name}.yuv`]);
  const report = `${folder}/${name}.json`;
  const run = spawnSync(tool, ['judge', '--plan', plan, '--quiet', '--json', report, `${folder}/${name}.yuv`], {
    encoding: 'utf8',
  });
  if (run.status > 4 || run.status === 2 || run.status === null) throw new Error(`judge: ${run.status} ${run.stderr}`);
  return { status: run.status, report: JSON.parse(readFileSync(report, 'utf8')) };
}

// ---- the bench ----

function bench(options = {}) {
  const chip = new Chip({ elf: firmware(), eraseUs: TYPICAL_ERASE_US, ...options });
  const lockstep = new Lockstep(chip);
  return { chip, lockstep, client: new Client(serialLine(chip)) };
}

const served = ({ lockstep }) => lockstep.slot.enable === 1;

function watch(client) {
  const p = client.ask(TYPE.WATCH).payload;
  return { supply: p[1], age: get16(p, 2), cycles: get32(p, 4), resets: get32(p, 8), vsyncs: get32(p, 12),
    mailbox: get32(p, 16), missed: get32(p, 20), high: get16(p, 24), low: get16(p, 26) };
}

const image = compile();

// ---- cold start ----

test('cold start: the slot is served, and the reset vector is there', () => {
  const { chip, lockstep } = bench();
  that('the slot is served', chip.run(() => served({ lockstep }), 200000));
  const us = chip.us;
  const cycles = chip.cycles;
  const vector = [];
  lockstep.onReset = (address, byte) => vector.push(byte);
  lockstep.powerOn();
  lockstep.onReset = null;
  // The idle picture's image: its vector is MAILBOX_ENTRY.
  same('the vector', vector, [0xe0, 0xff]);
  return `${cycles} cycles (${us.toFixed(0)} us of emulated time) from the reset to the first served byte, without the boot ROM and the flash's own time (test_boot)`;
});

let board; // goes on from test to test

test('the idle picture, and then a pushed image by hand-over, with no power switch', () => {
  board = bench();
  const { chip, lockstep, client } = board;
  that('the slot is served', chip.run(() => served(board), 200000));
  lockstep.powerOn({ seed: 3 });
  const idle = judge(lockstep.draw(8), 'idle');
  same('judge on the idle picture', idle.status, 4);
  same('push', client.push(image, image.length === 2048 ? '2K' : '4K', IMAGE_MAILBOX), 0);
  const before = lockstep.console.cycles();
  that('the image is served', chip.run(() => client.status().state === 1, 1000000));
  const status = client.status();
  same('started by', status.start, 1); // WIRE_START_HANDED
  const ms = ((lockstep.console.cycles() - before) * CYCLE_NS) / 1e6;
  return `handed over within ${ms.toFixed(0)} ms of the commit's reply`;
});

test(`${STEPS} steps of the plan bits: pass`, () => {
  const { status, report } = judge(board.lockstep.draw(ROUND), 'good');
  same('exit status', [status, report.verdict], [0, 'pass']);
  return `${report.steps?.length ?? STEPS} steps`;
});

test('a data input of the TIA stuck low: fail, with that finding', () => {
  const { lockstep } = board;
  lockstep.powerOff();
  board.chip.run(() => false, 1000);
  lockstep.powerOn({ seed: 5, tiaLow: 1 << 5 });
  const { status, report } = judge(lockstep.draw(ROUND), 'stuck');
  same('exit status', status, 1);
  same('findings', report.findings.map(({ kind, bit }) => [kind, bit]), [['data_line_stuck', 5]]);
});

test('after a power cycle of board and console the image is still served', () => {
  const flash = board.chip.powerOff();
  board = bench({ flash, eraseUs: 1000 }); // so that the watch, further down, misses nothing
  that('the slot is served', board.chip.run(() => served(board), 200000));
  board.lockstep.powerOn({ seed: 9 });
  const { status, report } = judge(board.lockstep.draw(A_FEW), 'again');
  same('not all steps yet', status, 4);
  that(`${report.fields.judged} fields of this image judged`, report.fields.judged >= A_FEW / 2);
});

test('pushed over USB while the console runs: by hand-over, and a pass', () => {
  const { chip } = board;
  chip.usb.enumerate();
  const usb = new Client(bulkLine(chip, 0x01, 0x81));
  same('push', usb.push(image, image.length === 2048 ? '2K' : '4K', IMAGE_MAILBOX), 0);
  that('the image is served', chip.run(() => usb.status().state === 1, 1000000));
  same('started by', usb.status().start, 1);
  const { status, report } = judge(board.lockstep.draw(ROUND), 'usb');
  same('exit status', [status, report.verdict], [0, 'pass']);
});

test('the watch report says what a console that runs looks like', () => {
  const { chip, client, lockstep } = board;
  chip.run(() => chip.us > 1010000, 2000000);
  const seen = watch(client);
  const second = 1e9 / CYCLE_NS, fields = second / 19912;
  that(`age ${seen.age} ms`, seen.age < 1000);
  same('supply', seen.supply, 1);
  // Since the console was switched on, some ms after the board's start, there is as much as the lockstep counted.
  const wanted = lockstep.changes / (chip.us / 1e6);
  that(`${seen.cycles} changes, about ${wanted.toFixed(0)} wanted`, Math.abs(seen.cycles / wanted - 1) < 0.03);
  that(`vsyncs ${seen.vsyncs} in ${fields.toFixed(1)} fields`, Math.abs(seen.vsyncs - 2 * fields) <= 6);
  that(`mailbox ${seen.mailbox} in ${fields.toFixed(1)} fields`, Math.abs(seen.mailbox - fields) <= 3);
  // Switched on, and handed over; with the whole plan both lie more than a second back.
  same('fetches of the reset vector', seen.resets, full ? 0 : 2);
  same('missed', seen.missed, 0);
  same('lines seen high', seen.high, 0x1fff);
  same('lines seen low', seen.low, 0x1fff);
  return `${seen.cycles} address changes, ${seen.vsyncs} writes of VSYNC, ${seen.mailbox} reads of the mailbox a second`;
});

rmSync(folder, { recursive: true });
