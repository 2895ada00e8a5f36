// The firmware over its UART, spoken to by the wire's second implementation (lib/wire.mjs).
import { Chip } from './lib/chip.mjs';
import { firmware, imageOf, same, test, that } from './lib/check.mjs';
import { bulkLine } from './lib/usb.mjs';
import { Client, TYPE, crc32, frame, serialLine, u16, u32 } from './lib/wire.mjs';

const elf = firmware();
const UP = 60000; // microseconds from power on to an open line, with room to spare
const SLOW = { eraseUs: 400000, programUs: 3000 }; // the data sheet's longest
const QUICK = { eraseUs: 1000, programUs: 100 };

function switchOn(options) {
  const chip = new Chip({ elf, ...options });
  chip.runFor(UP);
  return { chip, client: new Client(serialLine(chip)) };
}

test('the wire\'s second implementation: check value and COBS', () => {
  same('CRC-32 of "123456789"', crc32(Buffer.from('123456789')), 0xcbf43926);
  // Cheshire and Baker: a group of 254 bytes without a zero, and one with
  same('COBS of 0', [...frame(0, 0)].at(-1), 0);
});

test('idle: an empty store says so', () => {
  const { client } = switchOn(QUICK);
  const status = client.status();
  same('state', [status.status, status.state, status.generation, status.kib], [0, 0, 0, 0]);
});

test('a push of 4 KiB in the flash\'s longest times; status, read-back, and again after a power cycle', () => {
  const { chip, client } = switchOn(SLOW);
  const image = imageOf(4, 1);
  const started = chip.us;
  same('commit', client.push(image, '4K'), 0);
  const took = chip.us - started;
  const status = client.status();
  same('status', [status.state, status.generation, status.crc, status.kib, status.badFrames],
    [1, 1, crc32(image), 4, 0]);
  same('read back', crc32(client.read(0, 4096)), crc32(image));
  same('bytes lost', chip.serial.lost, 0);
  const next = switchOn({ ...SLOW, flash: chip.powerOff() });
  const after = next.client.status();
  same('after the power cycle', [after.state, after.crc, after.start], [1, crc32(image), 0]);
  same('read back', crc32(next.client.read(0, 4096)), crc32(image));
  return `${(took / 1000).toFixed(0)} ms`;
});

test('a second push replaces the first; both are there in turn', () => {
  const { chip, client } = switchOn(QUICK);
  same('first', client.push(imageOf(8, 1), 'F8'), 0);
  same('second', client.push(imageOf(2, 2), '2K'), 0);
  const status = switchOn({ ...QUICK, flash: chip.powerOff() }).client.status();
  same('after the power cycle', [status.generation, status.crc, status.kib], [2, crc32(imageOf(2, 2)), 2]);
});

// A push over USB holds the processor in an erase of 400 ms while requests come over the UART as fast as it can
// carry them: 4,608 bytes.
test('nothing is lost of what comes while the flash is erased', () => {
  const { chip, client } = switchOn(SLOW);
  chip.usb.enumerate();
  const usb = new Client(bulkLine(chip, 1, 0x81));
  let asked = 0;
  let erases = 0;
  chip.flash.onOperation = ({ kind }) => {
    if (kind !== 'erase' || ++erases !== 2) return;
    for (let bytes = 0; bytes < 4608; ) {
      // Unknown type: the shortest answer there is, so that the way back is no bottleneck.
      const ask = frame(0x55, ++asked & 0xff);
      chip.serial.send(ask);
      bytes += ask.length;
    }
  };
  same('push', usb.push(imageOf(8, 5), 'F8'), 0);
  chip.flash.onOperation = null;
  let answered = 0;
  for (; answered < asked; answered++) {
    const got = client.next(1e6);
    if (!got) break;
    same('answer', [got.type, got.sequence, ...got.payload], [TYPE.ERROR, (answered + 1) & 0xff, 1, 0x55]);
  }
  same('answers', answered, asked);
  same('bytes lost', chip.serial.lost, 0);
  that('there were erases', erases >= 2 && asked > 500);
  return `${asked} requests`;
});

test('rubbish and broken frames: no answer, and the next good frame gets one', () => {
  const { chip, client } = switchOn(QUICK);
  chip.serial.send(Uint8Array.from([1, 2, 3, 0xff, 0, 0, 0, 200, 7, 0]));
  const bad = frame(TYPE.STATUS, 9);
  bad[1] ^= 0x40;
  chip.serial.send(bad);
  same('answer', client.next(50000), null);
  that('counted', client.status().badFrames >= 2);
});

test('a whole ring of bytes without a frame\'s end does no harm', () => {
  const { chip, client } = switchOn(QUICK);
  chip.serial.send(new Uint8Array(20000).fill(0x42));
  chip.runFor(2e6);
  chip.serial.send(Uint8Array.from([0]));
  same('status', client.status().status, 0);
});

test('two ports: a push belongs to the one that began it', () => {
  const { chip, client } = switchOn(QUICK);
  chip.usb.enumerate();
  const usb = new Client(bulkLine(chip, 1, 0x81));
  same('usb begins', usb.begin(imageOf(4, 1), '4K').status, 0);
  same('uart is told', client.begin(imageOf(4, 2), '4K').status, 10);
  usb.ask(TYPE.ABORT);
  same('then it may', client.push(imageOf(4, 2), '4K'), 0);
});

test('into the ROM\'s loader, with the key only, after the reply', () => {
  const { chip, client } = switchOn(QUICK);
  const wrong = client.ask(TYPE.LOADER, u32(0x12345678));
  that('wrong key', wrong.payload[0] !== 0);
  chip.runFor(500000);
  same('goes on', chip.ended, null);
  same('reply', client.ask(TYPE.LOADER, u32(0x4c4f4144)).payload[0], 0);
  chip.run(() => false, 1e6);
  same('ended', chip.ended, 'loader');
});

test('longer than the ring: a reader of logs and images that never reads does not stop the others', () => {
  const { chip, client } = switchOn(QUICK);
  same('push', client.push(imageOf(4, 1), '4K'), 0);
  chip.usb.enumerate();
  const usb = new Client(bulkLine(chip, 1, 0x81));
  // Ask over USB for more than its ring holds, and never take it.
  for (let i = 0; i < 6; i++) {
    const ask = frame(TYPE.READ, i, [...u32(0), ...u16(1024)]);
    if (chip.usb.retry(() => chip.usb.out(1, ask), 20000) !== 'ack') break;
  }
  same('the UART is answered', client.status().status, 0);
  for (let i = 0; i < 6; i++) same(`answer ${i}`, usb.next(100000)?.payload.length, 1025);
});
