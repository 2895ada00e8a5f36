// The files that `make firmware` leaves: the boot's check code, the vectors, what runs from RAM, the UF2 file.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { buildDir } from './lib/emulator.mjs';
import { FLASH, flashOf, readElf } from './lib/elf.mjs';
import { bootCrc } from './lib/bootrom.mjs';
import { firmware, firmwarePath, same, test, that } from './lib/check.mjs';

const LIMIT = 64 * 1024;
const STORE = 2 * (4096 + 32768);
const inRam = (address) => address >= 0x20000000 && address < 0x20042000;

test('the check code that the checks use', () => {
  // CRC-32/MPEG-2 in the catalogue of parametrised CRC algorithms (reveng.sourceforge.io): check 0376E6E7
  same('of "123456789"', bootCrc(Buffer.from('123456789')), 0x0376e6e7);
});

for (const name of ['pico', 'reader']) {
  const elf = readElf(`${buildDir}/firmware/slotjig-${name}.elf`);
  const flash = flashOf(elf);
  const view = new DataView(flash.buffer);
  const uf2 = readFileSync(`${buildDir}/firmware/slotjig-${name}.uf2`);
  const used = Math.max(...elf.segments.filter((s) => s.bytes.length).map((s) => s.source - FLASH + s.bytes.length));
  const ram = elf.segments.find((segment) => inRam(segment.address) && segment.bytes.length > 0);


  test(`${name}: boot2: its check code lies behind 252 bytes`, () => {
    // RP2040 data sheet 2.8.1.3.1
    same('check code', view.getUint32(252, true), bootCrc(flash.subarray(0, 252)));
  });

  test(`${name}: the vectors at 0x10000100: a stack in RAM, an entry in flash`, () => {
    that('the stack', inRam(view.getUint32(0x100, true) - 4) && view.getUint32(0x100, true) % 8 === 0);
    const entry = view.getUint32(0x104, true);
    that('the entry', entry & 1 && entry > FLASH + 0x100 && entry < FLASH + used);
  });

  test(`${name}: the vectors in RAM: all of them there, and lead there`, () => {
    const at = elf.symbols.get('vectors');
    const bytes = new DataView(ram.bytes.buffer, ram.bytes.byteOffset);
    same('alignment', at % 256, 0); // ARMv6-M B1.5.3: 42 words, so 64 words
    for (let i = 1; i < 16 + 26; i++) {
      const vector = bytes.getUint32(at - ram.address + 4 * i, true);
      that(`vector ${i}: ${vector.toString(16)}`, inRam(vector) && vector & 1);
    }
  });

  test(`${name}: only the start runs from flash`, () => {
    const allowed = /^(boot2|boot2_crc|flash_vectors|start|start_again|clocks_start|crystal_start|pll_start|wait_for|flash_only_end|ram_image_source)(\..*)?$/;
    for (const [name, value] of elf.symbols) {
      if (value < FLASH || value >= FLASH + flash.length || /^\$/.test(name)) continue;
      that(`${name} lies in flash`, allowed.test(name));
    }
  });

  test(`${name}: nothing in RAM knows an address in flash behind the boot`, () => {
    const bytes = new DataView(ram.bytes.buffer, ram.bytes.byteOffset);
    for (let at = 0; at + 4 <= ram.bytes.length; at += 4) {
      const word = bytes.getUint32(at, true);
      that(`${word.toString(16)} at ${(ram.address + at).toString(16)}`, word < FLASH + 256 || word >= FLASH + used);
    }
  });

  test(`${name}: size: code and constants fit 64 KiB, and end before the store`, () => {
    that(`${used} bytes`, used <= LIMIT && used <= flash.length - STORE);
    return `${used} bytes`;
  });

  test(`${name}: UF2: every block as the published format says`, () => {
    // github.com/microsoft/uf2, "File format"; family from its families list: RP2040 E48BFF56
    same('length', uf2.length % 512, 0);
    const blocks = uf2.length / 512;
    same('blocks', blocks, Math.ceil(used / 256));
    for (let i = 0; i < blocks; i++) {
      const word = (n) => uf2.readUInt32LE(i * 512 + 4 * n);
      const got = [word(0), word(1), word(2), word(3), word(4), word(5), word(6), word(7)];
      same(`block ${i}`, got, [0x0a324655, 0x9e5d5157, 0x2000, FLASH + 256 * i, 256, i, blocks, 0xe48bff56]);
      same(`block ${i}'s end`, uf2.readUInt32LE(i * 512 + 508), 0x0ab16f30);
      const data = uf2.subarray(i * 512 + 32, i * 512 + 288);
      const wanted = Buffer.alloc(256);
      Buffer.from(flash.buffer).copy(wanted, 0, i * 256, Math.min(used, i * 256 + 256));
      that(`block ${i}'s data`, data.equals(wanted));
      that(`block ${i}'s padding`, uf2.subarray(i * 512 + 288, i * 512 + 508).every((byte) => byte === 0));
    }
  });
}

const elf = firmware();
const flash = flashOf(elf);
const uf2 = readFileSync(`${buildDir}/firmware/slotjig-pico.uf2`);
const used = Math.max(...elf.segments.filter((s) => s.bytes.length).map((s) => s.source - FLASH + s.bytes.length));

// Exit status and message of the packing tool.
function pack(input, limit = LIMIT) {
  const folder = mkdtempSync(`${tmpdir()}/pack-`);
  try {
    const args = [input, `${folder}/out.elf`, `${folder}/out.uf2`, `${limit}`];
    execFileSync(`${buildDir}/firmware/pack`, args, { stdio: 'pipe' });
    return { status: 0, folder };
  } catch (error) {
    return { status: error.status, text: `${error.stderr}` };
  }
}

test('packing: the limit is kept to the byte', () => {
  same('at the limit', pack(firmwarePath, used).status, 0);
  const over = pack(firmwarePath, used - 1);
  same('one byte over', over.status, 1);
  that(over.text, /exceed the limit/.test(over.text));
});

test('packing: the same bytes each time', () => {
  const again = pack(firmwarePath);
  that('uf2', readFileSync(`${again.folder}/out.uf2`).equals(uf2));
  that('elf', readFileSync(`${again.folder}/out.elf`).equals(readFileSync(firmwarePath)));
  same('it reads back', flashOf(readElf(`${again.folder}/out.elf`)).length, flash.length);
});

test('packing: what is no firmware is refused in one line', () => {
  const file = readFileSync(firmwarePath);
  const folder = mkdtempSync(`${tmpdir()}/pack-`);
  const cases = {
    empty: Buffer.alloc(0),
    text: Buffer.from('not an ELF file, but long enough to hold a header of one'),
    header: file.subarray(0, 60),
    cut: file.subarray(0, 0x1100),
  };
  for (const [name, bytes] of Object.entries(cases)) {
    const path = `${folder}/${name}`;
    writeFileSync(path, bytes);
    const { status, text } = pack(path);
    same(`${name}: status`, status, 1);
    that(`${name}: ${text}`, /^pack: [^\n]+\n$/.test(text));
  }
  same('missing', pack(`${folder}/missing`).status, 1);
});
