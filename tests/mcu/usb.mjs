// The USB device on the emulated controller: every field of every descriptor against the tables that define it,
// the requests of chapter 9, and pushes over both interfaces.
//
// Tables: USB 2.0 specification, chapter 9; USB 3.2, 9.6.2 (BOS); "USB Interface Association Descriptor" ECN; CDC
// 1.2 and PSTN 1.2; Microsoft OS 2.0 Descriptors Specification.
import { Chip } from './lib/chip.mjs';
import { firmware, hex, imageOf, same, test, that, thrown } from './lib/check.mjs';
import { bulkLine } from './lib/usb.mjs';
import { Client, TYPE, crc32, frame, get16, get32, serialLine, u16, u32 } from './lib/wire.mjs';

const elf = firmware();
const QUICK = { eraseUs: 1000, programUs: 100 };
const WIRE = { out: 0x01, in: 0x81 };
const SERIAL = { out: 0x03, in: 0x83 };
const GET_DESCRIPTOR = 6;
const OUT_ENDPOINT = 0x02;
const IN_ENDPOINT = 0x82;

function switchOn(options = QUICK) {
  const chip = new Chip({ elf, ...options });
  chip.runFor(40000);
  return chip;
}

function enumerated(options) {
  const chip = switchOn(options);
  chip.usb.enumerate();
  return chip;
}

const client = (chip, pair = WIRE) => new Client(bulkLine(chip, pair.out, pair.in));
const descriptor = (chip, type, index = 0, length = 255, language = 0) =>
  chip.usb.control(0x80, GET_DESCRIPTOR, (type << 8) | index, language, length);

// Fields of a table in order: [name, bytes, value]. Says which one is wrong, and that nothing is left over.
function fields(what, bytes, table) {
  let at = 0;
  for (const [name, size, wanted] of table) {
    let got = 0;
    for (let i = 0; i < size; i++) got += bytes[at + i] * 2 ** (8 * i);
    same(`${what} ${name}`, got, wanted);
    at += size;
  }
  same(`${what} length`, bytes.length, at);
}

test('shows itself only while the socket has power (7.1.5.1)', () => {
  const chip = switchOn();
  that('without power', !chip.usb.attached);
  that('with power', chip.usb.plug());
  chip.usb.unplug();
  that('without again', chip.run(() => !chip.usb.attached, 50000));
});

test('plugging in resets the controller: one that hangs comes back', () => {
  const chip = enumerated();
  const resets = chip.mcu.peripherals[0x4000c];
  let pulses = 0;
  const write = resets.writeUint32.bind(resets);
  resets.writeUint32 = (offset, value) => {
    if (offset === 0 && value & (1 << 24)) pulses++;
    write(offset, value);
  };
  chip.usb.unplug();
  chip.runFor(50000);
  same('before', pulses, 0);
  chip.usb.enumerate(8);
  same('resets', pulses, 1);
  same('it is let go', resets.reset & (1 << 24), 0);
  same('hello', client(chip).hello().status, 0);
});

test('device descriptor: table 9-8', () => {
  const chip = enumerated();
  fields('device', descriptor(chip, 1), [
    ['bLength', 1, 18],
    ['bDescriptorType', 1, 1],
    ['bcdUSB', 2, 0x0210], // with a BOS
    ['bDeviceClass', 1, 0xef], // miscellaneous, common, IAD: the association ECN
    ['bDeviceSubClass', 1, 2],
    ['bDeviceProtocol', 1, 1],
    ['bMaxPacketSize0', 1, 64],
    ['idVendor', 2, 0x1209],
    ['idProduct', 2, 0x0001],
    ['bcdDevice', 2, 0x0002],
    ['iManufacturer', 1, 1],
    ['iProduct', 1, 2],
    ['iSerialNumber', 1, 3],
    ['bNumConfigurations', 1, 1],
  ]);
});

// Descriptors one behind the other.
function parts(bytes) {
  const result = [];
  for (let at = 0; at < bytes.length; at += bytes[at]) {
    that(`a descriptor of ${bytes[at]} bytes`, bytes[at] >= 2 && at + bytes[at] <= bytes.length);
    result.push(bytes.slice(at, at + bytes[at]));
  }
  return result;
}

const interfaceFields = (number, endpoints, klass, subclass, protocol) => [
  ['bLength', 1, 9],
  ['bDescriptorType', 1, 4],
  ['bInterfaceNumber', 1, number],
  ['bAlternateSetting', 1, 0],
  ['bNumEndpoints', 1, endpoints],
  ['bInterfaceClass', 1, klass],
  ['bInterfaceSubClass', 1, subclass],
  ['bInterfaceProtocol', 1, protocol],
  ['iInterface', 1, 0],
];
const endpointFields = (address, attributes, packet, interval) => [
  ['bLength', 1, 7],
  ['bDescriptorType', 1, 5],
  ['bEndpointAddress', 1, address],
  ['bmAttributes', 1, attributes],
  ['wMaxPacketSize', 2, packet],
  ['bInterval', 1, interval],
];

test('configuration: tables 9-10, 9-12, 9-13; IAD; CDC 1.2 tables 15, 16; PSTN 1.2 tables 3, 4', () => {
  const chip = enumerated();
  const whole = descriptor(chip, 2);
  const tables = [
    ['configuration', [
      ['bLength', 1, 9],
      ['bDescriptorType', 1, 2],
      ['wTotalLength', 2, whole.length],
      ['bNumInterfaces', 1, 3],
      ['bConfigurationValue', 1, 1],
      ['iConfiguration', 1, 0],
      ['bmAttributes', 1, 0x80],
      ['bMaxPower', 1, 50],
    ]],
    ['vendor interface', interfaceFields(0, 2, 0xff, 0x53, 0x01)],
    ['vendor OUT', endpointFields(0x01, 2, 64, 0)],
    ['vendor IN', endpointFields(0x81, 2, 64, 0)],
    ['association', [
      ['bLength', 1, 8],
      ['bDescriptorType', 1, 11],
      ['bFirstInterface', 1, 1],
      ['bInterfaceCount', 1, 2],
      ['bFunctionClass', 1, 2],
      ['bFunctionSubClass', 1, 2],
      ['bFunctionProtocol', 1, 0],
      ['iFunction', 1, 0],
    ]],
    ['communications interface', interfaceFields(1, 1, 2, 2, 0)],
    ['header', [
      ['bFunctionLength', 1, 5],
      ['bDescriptorType', 1, 0x24],
      ['bDescriptorSubtype', 1, 0],
      ['bcdCDC', 2, 0x0120],
    ]],
    ['call management', [
      ['bFunctionLength', 1, 5],
      ['bDescriptorType', 1, 0x24],
      ['bDescriptorSubtype', 1, 1],
      ['bmCapabilities', 1, 0],
      ['bDataInterface', 1, 2],
    ]],
    ['abstract control management', [
      ['bFunctionLength', 1, 4],
      ['bDescriptorType', 1, 0x24],
      ['bDescriptorSubtype', 1, 2],
      ['bmCapabilities', 1, 2], // line coding and control line state
    ]],
    ['union', [
      ['bFunctionLength', 1, 5],
      ['bDescriptorType', 1, 0x24],
      ['bDescriptorSubtype', 1, 6],
      ['bControlInterface', 1, 1],
      ['bSubordinateInterface0', 1, 2],
    ]],
    ['notifications', endpointFields(0x82, 3, 16, 32)],
    ['data interface', interfaceFields(2, 2, 10, 0, 0)],
    ['data OUT', endpointFields(0x03, 2, 64, 0)],
    ['data IN', endpointFields(0x83, 2, 64, 0)],
  ];
  const got = parts(whole);
  same('descriptors', got.length, tables.length);
  tables.forEach(([name, table], i) => fields(name, got[i], table));
});

test('strings: tables 9-15 and 9-16', () => {
  const chip = enumerated();
  same('languages', hex(descriptor(chip, 3, 0)), '04030904');
  const text = (index) => {
    const bytes = descriptor(chip, 3, index, 255, 0x0409);
    same(`string ${index}: its length and type`, [bytes[0], bytes[1]], [bytes.length, 3]);
    return Buffer.from(bytes.slice(2)).toString('utf16le');
  };
  same('manufacturer', text(1), 'slotjig');
  same('product', text(2), 'slotjig board');
  same('serial', text(3), hex(chip.flash.unique).toUpperCase());
  same('there are no more', thrown('string 4', () => descriptor(chip, 3, 4, 255, 0x0409)).answer, 'stall');
});

test('BOS and Microsoft OS 2.0: USB 3.2 tables 9-12 to 9-14; MS OS 2.0 tables 4, 10 to 14', () => {
  const chip = enumerated();
  const bos = descriptor(chip, 15);
  fields('BOS', bos.slice(0, 5), [
    ['bLength', 1, 5],
    ['bDescriptorType', 1, 15],
    ['wTotalLength', 2, bos.length],
    ['bNumDeviceCaps', 1, 1],
  ]);
  const set = chip.usb.control(0xc0, bos[31], 0, 7, 255);
  // {D8DD60DF-4589-4CC7-9CD2-659D9E648A9F}, its first three fields little endian
  same('PlatformCapabilityUUID', hex(bos.slice(9, 25)), 'df60ddd88945c74c9cd2659d9e648a9f');
  fields('platform capability', Uint8Array.from([...bos.slice(5, 9), ...bos.slice(25)]), [
    ['bLength', 1, 28],
    ['bDescriptorType', 1, 16],
    ['bDevCapabilityType', 1, 5],
    ['bReserved', 1, 0],
    ['dwWindowsVersion', 4, 0x06030000],
    ['wMSOSDescriptorSetTotalLength', 2, set.length],
    ['bMS_VendorCode', 1, 0x20],
    ['bAltEnumCode', 1, 0],
  ]);
  fields('set header', set.slice(0, 10), [
    ['wLength', 2, 10],
    ['wDescriptorType', 2, 0],
    ['dwWindowsVersion', 4, 0x06030000],
    ['wTotalLength', 2, set.length],
  ]);
  fields('configuration subset', set.slice(10, 18), [
    ['wLength', 2, 8],
    ['wDescriptorType', 2, 1],
    ['bConfigurationValue', 1, 0], // an index, in spite of its name
    ['bReserved', 1, 0],
    ['wTotalLength', 2, set.length - 10],
  ]);
  fields('function subset', set.slice(18, 26), [
    ['wLength', 2, 8],
    ['wDescriptorType', 2, 2],
    ['bFirstInterface', 1, 0],
    ['bReserved', 1, 0],
    ['wSubsetLength', 2, set.length - 18],
  ]);
  fields('compatible ID', set.slice(26, 30), [['wLength', 2, 20], ['wDescriptorType', 2, 3]]);
  same('CompatibleID', Buffer.from(set.slice(30, 38)).toString('latin1'), 'WINUSB\0\0');
  same('SubCompatibleID', hex(set.slice(38, 46)), '0'.repeat(16));
  // What a program opens the interface by: libusb's Windows side looks for it.
  fields('registry property', set.slice(46, 54), [
    ['wLength', 2, set.length - 46],
    ['wDescriptorType', 2, 4],
    ['wPropertyDataType', 2, 7],
    ['wPropertyNameLength', 2, 42],
  ]);
  const utf16 = (bytes) => Buffer.from(bytes).toString('utf16le');
  same('PropertyName', utf16(set.slice(54, 96)), 'DeviceInterfaceGUIDs\0');
  same('wPropertyDataLength', get16(set, 96), set.length - 98);
  that('PropertyData', /^\{[0-9A-F]{8}(-[0-9A-F]{4}){3}-[0-9A-F]{12}\}\0\0$/.test(utf16(set.slice(98))));
});

test('a descriptor is cut to what was asked for (9.4.3), and ends as 5.5.3 says', () => {
  const chip = enumerated();
  const whole = descriptor(chip, 2);
  for (const length of [1, 8, 9, 63, 64, 65, 97, whole.length - 1, whole.length, whole.length + 1, 4096]) {
    const got = descriptor(chip, 2, 0, length);
    same(`asked for ${length}`, hex(got), hex(whole.slice(0, length)));
  }
});

test('requests that are none, or make no sense, are stalled; endpoint 0 goes on', () => {
  const chip = enumerated();
  const cases = {
    'device qualifier (full speed only, 9.6.2)': [0x80, 6, 0x0600, 0, 10],
    'a second configuration descriptor': [0x80, 6, 0x0201, 0, 255],
    'an unknown descriptor': [0x80, 6, 0x2200, 0, 255],
    'SET_DESCRIPTOR': [0x00, 7, 0x0100, 0, 0],
    'SYNCH_FRAME': [0x82, 12, 0, 0x81, 2],
    'configuration 2': [0x00, 9, 2, 0, 0],
    'an address over 127': [0x00, 5, 200, 0, 0],
    'remote wake-up': [0x00, 3, 1, 0, 0],
    'test mode': [0x00, 3, 2, 0x0100, 0],
    'halt of an endpoint that is not there': [0x02, 3, 0, 0x85, 0],
    'halt of endpoint 0': [0x02, 3, 0, 0, 0],
    'a second setting': [0x01, 11, 1, 0, 0],
    'an interface that is not there': [0x81, 10, 0, 3, 1],
    'status of an endpoint that is not there': [0x82, 0, 0, 0x04, 2],
    'status of an odd length': [0x80, 0, 0, 0, 1],
    'a class request to the vendor interface': [0xa1, 0x21, 0, 0, 7],
    'SEND_BREAK': [0x21, 0x23, 100, 1, 0],
    'a vendor request': [0xc0, 0x21, 0, 7, 16],
    'the Microsoft request with another index': [0xc0, 0x20, 0, 4, 16],
    'a vendor request with data': [0x40, 0x20, 0, 7, Uint8Array.of(1, 2, 3)],
    'line coding of six bytes': [0x21, 0x20, 0, 1, new Uint8Array(6)],
  };
  for (const [name, request] of Object.entries(cases)) {
    same(name, thrown(name, () => chip.usb.control(...request)).answer, 'stall');
    same('afterwards', descriptor(chip, 1).length, 18);
  }
});

test('GET_STATUS, GET_CONFIGURATION, GET_INTERFACE, SET_INTERFACE (9.4)', () => {
  const chip = enumerated();
  const { usb } = chip;
  same('device', hex(usb.control(0x80, 0, 0, 0, 2)), '0000');
  same('interface', hex(usb.control(0x81, 0, 0, 1, 2)), '0000');
  same('endpoint', hex(usb.control(0x82, 0, 0, 0x81, 2)), '0000');
  same('configuration', hex(usb.control(0x80, 8, 0, 0, 1)), '01');
  same('setting', hex(usb.control(0x81, 10, 0, 2, 1)), '00');
  usb.control(0x01, 11, 0, 2);
  usb.configure(0);
  same('configuration', hex(usb.control(0x80, 8, 0, 0, 1)), '00');
  same('no endpoints then', usb.in(0x81).answer, 'silence');
  same('nor their status', thrown('', () => usb.control(0x82, 0, 0, 0x81, 2)).answer, 'stall');
  same('nor settings', thrown('', () => usb.control(0x81, 10, 0, 0, 1)).answer, 'stall');
  usb.configure(1);
  same('hello', client(chip).hello().status, 0);
});

test('the address counts only after its status stage (9.4.6)', () => {
  const chip = switchOn();
  chip.usb.plug();
  chip.usb.busReset();
  same('at address 0', descriptor(chip, 1, 0, 8).length, 8);
  chip.usb.setAddress(42);
  same('at address 42', descriptor(chip, 1).length, 18);
  chip.usb.address = 41;
  same('at another', chip.usb.setup([0x80, 6, 0, 1, 0, 0, 8, 0]), 'silence');
});

test('a request that is given up for another one leaves no trace', () => {
  const { usb } = enumerated();
  same('setup', usb.setup([0x80, 6, 0, 2, 0, 0, 98, 0]), 'ack');
  usb.chip.runFor(50);
  same('its first packet', usb.in(0x80).bytes.length, 64);
  same('another', hex(usb.control(0x80, 8, 0, 0, 1)), '01');
  same('setup', usb.setup([0x21, 0x20, 0, 0, 1, 0, 7, 0]), 'ack');
  usb.chip.runFor(50);
  same('another', usb.control(0x80, 6, 0x0100, 0, 18).length, 18);
  same('setup of another address', usb.setup([0x00, 5, 99, 0, 0, 0, 0, 0]), 'ack');
  usb.chip.runFor(50);
  same('another', usb.control(0x80, 6, 0x0100, 0, 18).length, 18);
  usb.chip.runFor(2000);
  same('at the former address', usb.control(0x80, 6, 0x0100, 0, 18).length, 18);
});

test('the serial port: line coding and line state (PSTN 1.2, 6.3)', () => {
  const { usb } = enumerated();
  same('at first', hex(usb.control(0xa1, 0x21, 0, 1, 7)), '00c20100000008');
  const coding = Uint8Array.of(0x80, 0x25, 0, 0, 2, 1, 7);
  usb.control(0x21, 0x20, 0, 1, coding);
  same('as set', hex(usb.control(0xa1, 0x21, 0, 1, 7)), hex(coding));
  usb.control(0x21, 0x22, 3, 1);
  usb.control(0x21, 0x22, 0, 1);
  same('nothing to notify', usb.in(0x82).answer, 'nak');
});

for (const [name, pair] of Object.entries({ 'the vendor interface': WIRE, 'the serial port': SERIAL })) {
  test(`4 KiB and 32 KiB over ${name}, status, read-back, power cycle`, () => {
    let chip = enumerated();
    let wire = client(chip, pair);
    const started = chip.us;
    same('commit', wire.push(imageOf(4, 1), '4K'), 0);
    const took = chip.us - started;
    same('read back', crc32(wire.read(0, 4096)), crc32(imageOf(4, 1)));
    same('commit', wire.push(imageOf(32, 2), 'F4'), 0);
    const { state, crc, kib, badFrames } = wire.status();
    same('status', [state, crc, kib, badFrames], [1, crc32(imageOf(32, 2)), 32, 0]);
    chip = enumerated({ ...QUICK, flash: chip.powerOff() });
    wire = client(chip, pair);
    same('read back', crc32(wire.read(0, 32768)), crc32(imageOf(32, 2)));
    return `4 KiB in ${(took / 1000).toFixed(1)} ms with a quick flash`;
  });
}

test('halt and clear: STALL, status, DATA0 again, whatever was under way (9.4.5, 5.8.5)', () => {
  const chip = enumerated();
  const { usb } = chip;
  for (const odd of [0, 1]) {
    const wire = client(chip);
    if (odd) wire.hello(); // an odd number of packets both ways
    for (const endpoint of [0x81, 0x01, 0x82]) {
      usb.control(OUT_ENDPOINT, 3, 0, endpoint);
      same('status', hex(usb.control(IN_ENDPOINT, 0, 0, endpoint, 2)), '0100');
      const answer = endpoint >= 0x80 ? usb.in(endpoint).answer : usb.out(endpoint, Uint8Array.of(0));
      same(`endpoint ${endpoint.toString(16)}`, answer, 'stall');
      usb.control(OUT_ENDPOINT, 1, 0, endpoint);
      usb.toggles.set(endpoint, 0);
      same('status', hex(usb.control(IN_ENDPOINT, 0, 0, endpoint, 2)), '0000');
    }
    same('hello', client(chip).hello().status, 0);
  }
  usb.control(OUT_ENDPOINT, 1, 0, 0x81); // one that is not halted
  usb.toggles.set(0x81, 0);
  same('hello', client(chip).hello().status, 0);
});

test('a full last packet is followed by an empty one (5.8.3)', () => {
  const chip = enumerated();
  const wire = client(chip);
  same('push', wire.push(imageOf(4, 9), '4K'), 0);
  let found = 0;
  for (let count = 1; count < 200; count++) {
    chip.usb.send(WIRE.out, frame(TYPE.READ, 1, [...u32(0), ...u16(count)]));
    const sizes = [];
    for (;;) {
      const got = chip.usb.retry(() => chip.usb.in(WIRE.in), 20000);
      if (!got) break;
      sizes.push(got.bytes.length);
      if (got.bytes.length < 64) break;
    }
    that(`reading ${count}: packets of ${sizes}`, sizes.at(-1) < 64);
    if (sizes.at(-1) === 0) found++;
  }
  that('there were some', found >= 3);
  return `${found} of 199 lengths`;
});

test('a host that sends on and on is held off, and loses nothing', () => {
  const chip = enumerated({ eraseUs: 400000, programUs: 3000 });
  const wire = client(chip);
  const image = imageOf(8, 3);
  const { status } = wire.begin(image, 'F8');
  same('begin', status, 0);
  const before = chip.usb.naks;
  // The whole image at once, with no regard to the window.
  for (let block = 0; block < 8; block++) {
    chip.usb.send(WIRE.out, frame(TYPE.DATA, block, image.subarray(block * 1024, (block + 1) * 1024)));
  }
  that('it was held off', chip.usb.naks - before > 1000);
  same('commit', wire.commit(), 0);
  same('status', wire.status().crc, crc32(image));
});

// Each of them takes the board over 20 ms; what comes in one piece must not keep it from its watchdog, nor from the
// console's hand-over.
test('a host that asks for sums on and on: the board goes round its loop in between', () => {
  const chip = enumerated();
  const wire = client(chip);
  same('push', wire.push(imageOf(32, 6), 'F4'), 0);
  const now = () => chip.us + chip.flash.xipMicros;
  const write = chip.watchdog.writeUint32.bind(chip.watchdog);
  let fed = now();
  let longest = 0;
  chip.watchdog.writeUint32 = (offset, value) => {
    longest = Math.max(longest, now() - fed);
    fed = now();
    write(offset, value);
  };
  const ASKED = 60;
  for (let i = 0; i < ASKED; i++) chip.usb.send(WIRE.out, frame(TYPE.SUMS, i));
  for (let i = 0; i < ASKED; i++) same(`answer ${i}`, wire.next(1e6)?.payload.length, 1 + 4 * 32);
  that(`${longest} us without feeding it`, longest < 1e6);
  return `${(longest / 1000).toFixed(0)} ms at the longest, the flash's part by arithmetic`;
});

test('bus reset, suspend and unplugging in the middle of a push: the push goes on afterwards', () => {
  const ways = {
    reset: (chip) => {
      chip.usb.busReset();
      chip.usb.setAddress(9);
      chip.usb.configure();
    },
    suspend: (chip) => {
      chip.usb.suspend();
      chip.usb.resume();
    },
    unplug: (chip) => {
      chip.usb.unplug();
      chip.runFor(300000);
      chip.usb.enumerate(11);
    },
  };
  for (const [name, way] of Object.entries(ways)) {
    const chip = enumerated();
    const wire = client(chip);
    const image = imageOf(8, 4);
    same(`${name}: begin`, wire.begin(image, 'F8').have, 0);
    chip.usb.send(WIRE.out, frame(TYPE.DATA, 0, image.subarray(0, 1024)));
    chip.runFor(20000);
    chip.usb.out(WIRE.out, Uint8Array.of(3, 4, 5)); // half a frame
    way(chip);
    // Another port may take it up: the old one's end is gone.
    chip.usb.send(WIRE.out, Uint8Array.of(0));
    const again = new Client(serialLine(chip));
    const begun = again.begin(image, 'F8');
    same(`${name}: taken up`, [begun.status, begun.have & 1], [0, 1]);
    again.blocks(image, begun);
    same(`${name}: commit`, again.commit(), 0);
    same(`${name}: the vendor interface`, client(chip).status().crc, crc32(image));
  }
});

test('a bus reset while the processor waits for an erase: what comes after it is heard', () => {
  const chip = enumerated({ eraseUs: 400000, programUs: 3000 });
  const image = imageOf(8, 4);
  same('begin', client(chip).begin(image, 'F8').status, 0);
  const operations = chip.flash.operations;
  chip.usb.send(WIRE.out, frame(TYPE.DATA, 0, image.subarray(0, 1024)));
  that('an erase', chip.run(() => chip.flash.operations > operations, 1e6));
  chip.usb.busReset();
  chip.usb.setAddress(9);
  chip.usb.configure();
  that('it still goes on', chip.flash.busy);
  same('hello', client(chip).hello().status, 0);
});

test('hanging up the serial port lets go of its push', () => {
  const chip = enumerated();
  const serial = client(chip, SERIAL);
  chip.usb.control(0x21, 0x22, 1, 1);
  same('begin', serial.begin(imageOf(4, 1), '4K').status, 0);
  same('another port', client(chip).begin(imageOf(4, 2), '4K').status, 10);
  chip.usb.control(0x21, 0x22, 0, 1);
  chip.runFor(5000);
  same('then', client(chip).push(imageOf(4, 2), '4K'), 0);
});

// Two packets may be with the controller already.
test('hanging up the serial port drops the answers that nobody took', () => {
  const chip = enumerated();
  same('push', client(chip).push(imageOf(4, 1), '4K'), 0);
  chip.usb.control(0x21, 0x22, 1, 1);
  chip.usb.send(SERIAL.out, frame(TYPE.READ, 1, [...u32(0), ...u16(1024)]));
  chip.runFor(5000);
  chip.usb.control(0x21, 0x22, 0, 1);
  chip.usb.control(0x21, 0x22, 1, 1);
  let left = 0;
  for (let got; (got = chip.usb.retry(() => chip.usb.in(SERIAL.in), 5000)); ) left += got.bytes.length;
  that(`${left} bytes are left`, left <= 2 * 64);
  same('hello', client(chip, SERIAL).hello().status, 0);
});

test('both interfaces at once, packet by packet', () => {
  const chip = enumerated();
  const [wire, serial] = [client(chip), client(chip, SERIAL)];
  for (let i = 0; i < 50; i++) {
    wire.line.send(frame(TYPE.STATUS, i));
    serial.line.send(frame(TYPE.HELLO, i, [1, 1]));
    same('serial', [serial.next(1e6).type, wire.next(1e6).type], [0x81, 0x89]);
  }
});

test('into the ROM\'s loader over USB', () => {
  const chip = enumerated();
  same('reply', client(chip).ask(TYPE.LOADER, u32(0x4c4f4144)).payload[0], 0);
  chip.run(() => false, 1e6);
  same('ended', chip.ended, 'loader');
});
