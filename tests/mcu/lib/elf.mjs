// The firmware's ELF file: what lies in flash, and where its symbols are (ELF-32, System V ABI chapter 4).
import { readFileSync } from 'node:fs';

const LOAD = 1;
const SYMTAB = 2;
export const FLASH = 0x10000000;

export function readElf(path) {
  const file = readFileSync(path);
  if (file.toString('latin1', 0, 4) !== '\x7fELF') throw new Error(`${path} is no ELF file`);
  return { path, segments: segments(file), symbols: symbols(file) };
}

function segments(file) {
  const at = file.readUInt32LE(28);
  const size = file.readUInt16LE(42);
  const result = [];
  for (let i = 0; i < file.readUInt16LE(44); i++) {
    const header = at + i * size;
    const offset = file.readUInt32LE(header + 4);
    const count = file.readUInt32LE(header + 16);
    if (file.readUInt32LE(header) !== LOAD) continue;
    result.push({
      address: file.readUInt32LE(header + 8), // where it runs
      source: file.readUInt32LE(header + 12), // where it is stored
      bytes: file.subarray(offset, offset + count),
      size: file.readUInt32LE(header + 20),
    });
  }
  return result;
}

function symbols(file) {
  const at = file.readUInt32LE(32);
  const size = file.readUInt16LE(46);
  const result = new Map();
  for (let i = 0; i < file.readUInt16LE(48); i++) {
    const header = at + i * size;
    if (file.readUInt32LE(header + 4) !== SYMTAB) continue;
    const start = file.readUInt32LE(header + 16);
    const names = file.readUInt32LE(at + file.readUInt32LE(header + 24) * size + 16);
    for (let entry = start; entry < start + file.readUInt32LE(header + 20); entry += 16) {
      const name = names + file.readUInt32LE(entry);
      const text = file.toString('latin1', name, file.indexOf(0, name));
      if (text) result.set(text, file.readUInt32LE(entry + 4));
    }
  }
  return result;
}

// The 2 MiB of flash with the firmware in it; the rest is erased.
export function flashOf(elf) {
  const flash = new Uint8Array(2 * 1024 * 1024).fill(0xff);
  for (const segment of elf.segments) {
    if (segment.bytes.length > 0) flash.set(segment.bytes, segment.source - FLASH);
  }
  return flash;
}
