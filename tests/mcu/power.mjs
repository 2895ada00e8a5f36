// Power goes in the middle of every erase and every programming of a push; what is served afterwards is the old
// image or the new one, and a push then works.
import { Chip } from './lib/chip.mjs';
import { firmware, imageOf, same, test, that } from './lib/check.mjs';
import { bulkLine } from './lib/usb.mjs';
import { Client, crc32 } from './lib/wire.mjs';

const elf = firmware();
const TIMES = { eraseUs: 1000, programUs: 100 };
const old = imageOf(4, 1);
const fresh = imageOf(8, 2);
const seed = Number(process.env.SLOTJIG_TEST_SEED ?? 20261125);

function switchOn(flash, more) {
  const chip = new Chip({ elf, ...TIMES, flash, ...more });
  chip.runFor(60000);
  chip.usb.enumerate();
  return { chip, client: new Client(bulkLine(chip, 1, 0x81)) };
}

function stored() {
  const { chip, client } = switchOn();
  same('push', client.push(old, '4K'), 0);
  return chip.powerOff();
}

class PowerCut extends Error {}

// Pushes until operation `number` (from 1) is under way, then cuts. Returns the flash, or null past the last one.
function cutIn(flash, number) {
  const { chip, client } = switchOn(flash, { seed: seed + number });
  let count = 0;
  chip.flash.onOperation = () => {
    if (++count === number) throw new PowerCut();
  };
  try {
    client.push(fresh, 'F8');
  } catch (error) {
    if (!(error instanceof PowerCut)) throw error;
    return chip.powerOff();
  }
  return null;
}

test(`power cut in every flash operation of a push (seed ${seed})`, () => {
  const before = stored();
  let cuts = 0;
  let kept = 0;
  for (; ; cuts++) {
    const torn = cutIn(before.slice(), cuts + 1);
    if (!torn) break;
    const { client } = switchOn(torn);
    const { crc, state } = client.status();
    that(`cut ${cuts + 1}: state ${state}, CRC ${crc.toString(16)}`,
      state === 1 && (crc === crc32(old) || crc === crc32(fresh)));
    if (crc === crc32(old)) kept++;
    same(`cut ${cuts + 1}: pushing again`, client.push(fresh, 'F8'), 0);
    same(`cut ${cuts + 1}: it is served`, client.status().crc, crc32(fresh));
  }
  that(`${cuts} operations`, cuts >= 3 + 32 + 1);
  return `${cuts} cuts, the old image in ${kept} of them`;
});
