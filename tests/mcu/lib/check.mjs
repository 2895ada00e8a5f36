// `ok NAME` and `not ok NAME` lines, for tests/run.
import { buildDir } from './emulator.mjs';
import { readElf } from './elf.mjs';

let failed = false;

export function test(name, body) {
  try {
    const note = body();
    console.log(`ok ${name}${note ? `: ${note}` : ''}`);
  } catch (error) {
    failed = true;
    console.log(`not ok ${name}: ${error.stack ?? error}`);
  }
  process.exitCode = failed ? 1 : 0;
}

export function same(what, got, wanted) {
  const [a, b] = [JSON.stringify(plain(got)), JSON.stringify(plain(wanted))];
  if (a !== b) throw new Error(`${what} is ${a}, not ${b}`);
}

export function that(what, holds) {
  if (!holds) throw new Error(what);
}

// The error that body() throws.
export function thrown(what, body) {
  try {
    body();
  } catch (error) {
    return error;
  }
  throw new Error(`${what} went through`);
}

function plain(value) {
  return ArrayBuffer.isView(value) ? [...value] : value;
}

export const firmwarePath = `${buildDir}/firmware/slotjig-pico.elf`;
export const firmware = () => readElf(firmwarePath);
export const hex = (bytes) => Buffer.from(bytes).toString('hex');

// An image that no other has, from a number.
export function imageOf(kib, number) {
  const image = new Uint8Array(kib * 1024);
  for (let i = 0; i < image.length; i++) image[i] = (Math.imul(i + 1, 2654435761) >>> 13) + number;
  return image;
}
