// `slotjig push --serial` against the firmware in the emulated chip, at the pace of the wall's clock: the program's
// own timeouts are real. What it pushed is read back by the wire's second implementation, after a power cycle.
import { spawn } from 'node:child_process';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { Chip } from './lib/chip.mjs';
import { firmware, imageOf, same, test } from './lib/check.mjs';
import { buildDir } from './lib/emulator.mjs';
import { Client, crc32, serialLine } from './lib/wire.mjs';

const elf = firmware();
const TIMES = { eraseUs: 45000, programUs: 400 }; // typical ones
const LIMIT_MS = 40000;
const SLICE_US = 1000;
const folder = mkdtempSync(`${tmpdir()}/program-`);

// The chip behind a pseudo-terminal; runs until stop() is called.
async function attach(chip) {
  const relay = spawn(`${buildDir}/mcu/relay`, [], { stdio: ['pipe', 'pipe', 'pipe'] });
  const name = await new Promise((resolve, reject) => {
    relay.on('error', reject);
    relay.stderr.once('data', (text) => resolve(`${text}`.trim()));
  });
  let out = [];
  relay.stdout.on('data', (bytes) => chip.serial.send(bytes));
  chip.serial.onBytes = (byte) => out.push(byte);
  const started = Date.now();
  const before = chip.us;
  let running = true;
  const turn = () => {
    const due = before + (Date.now() - started) * 1000;
    for (let slices = 0; chip.us < due && slices < 50 && !chip.ended; slices++) chip.runFor(SLICE_US);
    if (out.length > 0) relay.stdin.write(Uint8Array.from(out));
    out = [];
    if (running) setTimeout(turn, 1);
  };
  turn();
  return {
    name,
    stop: () => {
      running = false;
      relay.stdin.end();
    },
  };
}

function slotjig(...args) {
  return new Promise((resolve) => {
    const child = spawn(`${buildDir}/slotjig`, args, { stdio: ['ignore', 'pipe', 'pipe'] });
    const said = { out: '', err: '' };
    child.stdout.on('data', (text) => (said.out += text));
    child.stderr.on('data', (text) => (said.err += text));
    const timer = setTimeout(() => child.kill(), LIMIT_MS);
    child.on('close', (status) => {
      clearTimeout(timer);
      resolve({ status, ...said });
    });
  });
}

function fileOf(name, image) {
  const path = `${folder}/${name}.bin`;
  writeFileSync(path, image);
  return path;
}

const chip = new Chip({ elf, ...TIMES });
chip.runFor(60000);
const line = await attach(chip);
const push = (name, image) => slotjig('push', '--serial', line.name, '--json', '-', fileOf(name, image));

const first = imageOf(4, 1);
const changed = imageOf(32, 2);
const results = { first: await push('first', first) };
results.again = await push('again', first);
results.large = await push('large', changed);
changed[20000] ^= 0x10;
results.changed = await push('changed', changed);
const ended = [chip.ended];
const loader = await slotjig('boards', '--loader', '--serial', line.name);
for (let turns = 0; chip.ended === null && turns < 2000; turns++) await new Promise((go) => setTimeout(go, 1));
ended.push(chip.ended);
line.stop();

for (const [name, result] of Object.entries(results)) {
  test(`slotjig push over the emulated UART: ${name}`, () => {
    same(`status (${result.err.trim()}; ${result.out.trim()})`, result.status, 0);
  });
}
test('no byte was lost, and the board has what was pushed last, after a power cycle too', () => {
  same('bytes lost', chip.serial.lost, 0);
  const next = new Chip({ elf, ...TIMES, flash: chip.powerOff() });
  next.runFor(100000);
  const client = new Client(serialLine(next));
  const { generation, crc } = client.status();
  same('generation and CRC', [generation, crc], [3, crc32(changed)]);
  same('read back', crc32(client.read(0, changed.length)), crc32(changed));
});
test('slotjig boards --loader: the chip goes to its loader, and says so before', () => {
  same(`status (${loader.err.trim()})`, loader.status, 0);
  same('before and after', ended, [null, 'loader']);
});
