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

// Pushes until message `number` (from 1) has gone out, then stops there. False past the last one.
function stopAfter(client, number) {
  const { send } = client.line;
  let count = 0;
  client.line.send = (bytes) => {
    send(bytes);
    if (++count === number) throw new PowerCut();
  };
  try {
    client.push(fresh, 'F8');
  } catch (error) {
    if (!(error instanceof PowerCut)) throw error;
    return true;
  } finally {
    client.line.send = send;
  }
  return false;
}

const interruptions = {
  'power cut': (chip) => switchOn(chip.powerOff()),
  'power cut a while later': (chip) => {
    chip.runFor(2500);
    return switchOn(chip.powerOff());
  },
  'bus reset': (chip) => {
    chip.usb.busReset();
    chip.usb.setAddress(5);
    chip.usb.configure();
    return { chip, client: new Client(bulkLine(chip, 1, 0x81)) };
  },
  unplugging: (chip) => {
    chip.usb.unplug();
    chip.runFor(50000);
    chip.usb.enumerate(6);
    return { chip, client: new Client(bulkLine(chip, 1, 0x81)) };
  },
};

for (const [name, interrupt] of Object.entries(interruptions)) {
  test(`${name} after every message of a push (seed ${seed})`, () => {
    const before = stored();
    let number = 1;
    let taken = 0;
    for (; ; number++) {
      const { chip, client } = switchOn(before.slice(), { seed: seed + number });
      if (!stopAfter(client, number)) break;
      const after = interrupt(chip);
      const { crc } = after.client.status();
      that(`message ${number}: CRC ${crc.toString(16)}`, crc === crc32(old) || crc === crc32(fresh));
      if (crc === crc32(fresh)) taken++;
      same(`message ${number}: pushing again`, after.client.push(fresh, 'F8'), 0);
      same(`message ${number}: it is served`, after.client.status().crc, crc32(fresh));
      same(`message ${number}: read back`, crc32(after.client.read(0, fresh.length)), crc32(fresh));
    }
    that(`${number - 1} messages`, number - 1 === 1 + 8 + 1);
    return `${number - 1} messages, the new image already there after ${taken}`;
  });
}
