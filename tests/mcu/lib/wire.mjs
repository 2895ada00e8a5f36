// The wire once more, written from include/slotjig/wire.h alone, so that firmware and host do not only agree
// with themselves.
const CRC_TABLE = Array.from({ length: 256 }, (_, byte) => {
  let crc = byte;
  for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
  return crc >>> 0;
});

export function crc32(bytes, crc = 0) {
  crc = ~crc >>> 0;
  for (const byte of bytes) crc = (crc >>> 8) ^ CRC_TABLE[(crc ^ byte) & 0xff];
  return ~crc >>> 0;
}

export const TYPE = {
  HELLO: 0x01,
  BEGIN: 0x02,
  DATA: 0x03,
  COMMIT: 0x04,
  ABORT: 0x05,
  READ: 0x06,
  SUMS: 0x07,
  SELECT: 0x08,
  STATUS: 0x09,
  WATCH: 0x0a,
  LOG_LEVEL: 0x0b,
  LOADER: 0x0c,
  VALUES: 0x0d,
  SUPPLY: 0x10,
  TASK: 0x11,
  TASK_STATE: 0x12,
  TASK_RESULT: 0x13,
  REPLY: 0x80,
  LOG: 0xc0,
  ERROR: 0xff,
};
export const TASK = { read: 1, map: 2, hotspots: 3, release: 4, ram: 5, wake: 6, quiet: 7 };
export const BLOCK = 1024;
const TASK_POLL_US = 2000;
export const SCHEMES = ['2K', '4K', 'F8', 'F6', 'F4'];

// Cheshire and Baker: each zero is replaced by the distance to the next, in groups of at most 254 bytes.
export function cobs(bytes) {
  const out = [];
  let group = [];
  for (const byte of [...bytes, 0]) {
    if (byte === 0) {
      out.push(group.length + 1, ...group);
      group = [];
      continue;
    }
    group.push(byte);
    if (group.length === 254) {
      out.push(255, ...group);
      group = [];
    }
  }
  return out;
}

export function uncobs(bytes) {
  const out = [];
  for (let at = 0; at < bytes.length; ) {
    const code = bytes[at];
    if (code === 0 || at + code > bytes.length) return null;
    out.push(...bytes.slice(at + 1, at + code));
    at += code;
    if (code < 255 && at < bytes.length) out.push(0);
  }
  return out;
}

export const u16 = (value) => [value & 0xff, (value >>> 8) & 0xff];
export const u32 = (value) => [...u16(value & 0xffff), ...u16(value >>> 16)];
export const get16 = (bytes, at) => bytes[at] | (bytes[at + 1] << 8);
export const get32 = (bytes, at) => (get16(bytes, at) | (get16(bytes, at + 2) << 16)) >>> 0;

export function frame(type, sequence, payload = []) {
  const plain = [type, sequence, ...payload];
  return Uint8Array.from([...cobs([...plain, ...u32(crc32(plain))]), 0]);
}

// Bytes in, frames out.
export class Decoder {
  constructor() {
    this.pending = [];
    this.frames = [];
    this.bad = 0;
  }

  feed(bytes) {
    for (const byte of bytes) {
      if (byte !== 0) {
        this.pending.push(byte);
        continue;
      }
      if (this.pending.length > 0) this.finish();
      this.pending = [];
    }
  }

  finish() {
    const plain = uncobs(this.pending);
    if (!plain || plain.length < 6 || crc32(plain.slice(0, -4)) !== get32(plain, plain.length - 4)) {
      this.bad++;
      return;
    }
    this.frames.push({ type: plain[0], sequence: plain[1], payload: plain.slice(2, -4) });
  }
}

// A client over any way of moving bytes: { send(bytes), take(): bytes, wait(done, us): boolean }.
export class Client {
  constructor(line) {
    this.line = line;
    this.decoder = new Decoder();
    this.sequence = 0;
  }

  poll() {
    this.decoder.feed(this.line.take());
    return this.decoder.frames.length > 0;
  }

  // The next frame that is no log line, or null.
  next(us) {
    for (;;) {
      if (!this.poll() && !this.line.wait(() => this.poll(), us)) return null;
      const got = this.decoder.frames.shift();
      if (got.type !== TYPE.LOG) return got;
    }
  }

  ask(type, payload = [], us = 1e6) {
    const sequence = (this.sequence = (this.sequence + 1) & 0xff);
    this.line.send(frame(type, sequence, payload));
    for (;;) {
      const got = this.next(us);
      if (!got) throw new Error(`no reply to message ${type} within ${us} us`);
      if (got.sequence === sequence && (got.type === (type | TYPE.REPLY) || got.type === TYPE.ERROR)) return got;
    }
  }

  hello() {
    const { payload } = this.ask(TYPE.HELLO, [1, 1]);
    return {
      status: payload[0],
      version: payload[1],
      firmware: get16(payload, 2),
      capabilities: get32(payload, 4),
      payloadMax: get16(payload, 8),
      block: get16(payload, 10),
      window: payload[12],
      imageMax: get32(payload, 13),
      serial: payload.slice(17, 25),
    };
  }

  status() {
    const { payload } = this.ask(TYPE.STATUS);
    return {
      status: payload[0],
      state: payload[1],
      generation: get32(payload, 2),
      crc: get32(payload, 6),
      kib: payload[10],
      scheme: payload[11],
      flags: payload[12],
      start: payload[15],
      supply: payload[16],
      uptimeMs: get32(payload, 17),
      badFrames: get32(payload, 21),
    };
  }

  // first: place in the stream of the first of the values, 24 bits each.
  values(stream, first, values) {
    const items = values.flatMap((value) => [value & 0xff, (value >>> 8) & 0xff, value >>> 16]);
    const { type, payload } = this.ask(TYPE.VALUES, [stream, ...u32(first), values.length, ...items]);
    if (type !== (TYPE.VALUES | TYPE.REPLY) || payload.length !== 11) return { status: payload[0] };
    return { status: payload[0], stream: payload[1], next: get32(payload, 2), taken: get32(payload, 6), room: payload[10] };
  }

  supply(on) {
    const { payload } = this.ask(TYPE.SUPPLY, [on ? 1 : 0]);
    return { status: payload[0], on: payload[1], trouble: payload[2] };
  }

  taskState() {
    const { payload } = this.ask(TYPE.TASK_STATE);
    return { status: payload[0], task: payload[1], state: payload[2], done: get32(payload, 3), of: get32(payload, 7),
      size: get32(payload, 11), us: get32(payload, 15), trouble: payload[19], cyclePs: get32(payload, 20),
      own: get16(payload, 24) };
  }

  // A reader's task to its end; the result's bytes and the last state.
  task(name, { scheme = '4K', ram = false, bank = 0, first = 0, count = 0, option = 0, us = 10e6 } = {}) {
    const request = [TASK[name], SCHEMES.indexOf(scheme), ram ? 1 : 0, bank, ...u16(first), ...u16(count), ...u32(option)];
    const { payload } = this.ask(TYPE.TASK, request);
    if (payload[0] !== 0) throw new Error(`task ${name} was answered by ${payload[0]}`);
    let state = this.taskState();
    for (let waited = 0; state.state === 1; waited += TASK_POLL_US) {
      if (waited > us) throw new Error(`task ${name} does not end: ${JSON.stringify(state)}`);
      this.line.wait(() => false, TASK_POLL_US);
      state = this.taskState();
    }
    const bytes = [];
    while (bytes.length < state.size) {
      const piece = Math.min(BLOCK, state.size - bytes.length);
      const got = this.ask(TYPE.TASK_RESULT, [...u32(bytes.length), ...u16(piece)]).payload;
      if (got[0] !== 0 || got.length !== 1 + piece) throw new Error(`the result was answered by ${got[0]}`);
      for (let i = 1; i <= piece; i++) bytes.push(got[i]);
    }
    return { bytes, state };
  }

  begin(image, scheme, flags = 0) {
    const payload = [...u32(crc32(image)), image.length / 1024, SCHEMES.indexOf(scheme), flags, ...u32(0)];
    const reply = this.ask(TYPE.BEGIN, payload, 3e6).payload;
    return { status: reply[0], have: get32(reply, 1), window: reply[5] };
  }

  // Every block that is missing, at most a window ahead of what is acknowledged.
  blocks(image, { have, window }) {
    const count = image.length / BLOCK;
    const missing = [];
    for (let block = 0; block < count; block++) if (!((have >>> block) & 1)) missing.push(block);
    let sent = 0;
    let next = missing[0] ?? count;
    while (next < count) {
      const done = missing.filter((block) => block < next).length;
      while (sent < missing.length && sent - done < window) {
        const block = missing[sent++];
        this.line.send(frame(TYPE.DATA, block, image.subarray(block * BLOCK, (block + 1) * BLOCK)));
      }
      const got = this.next(5e6);
      if (!got || got.type !== (TYPE.DATA | TYPE.REPLY) || got.payload[0] !== 0) {
        throw new Error(`no acknowledgement but ${JSON.stringify(got)}`);
      }
      next = got.payload[1];
    }
  }

  commit() {
    return this.ask(TYPE.COMMIT, [], 8e6).payload[0];
  }

  push(image, scheme, flags = 0) {
    const begun = this.begin(image, scheme, flags);
    if (begun.status !== 0) throw new Error(`begin was answered by ${begun.status}`);
    this.blocks(image, begun);
    return this.commit();
  }

  read(offset, count) {
    const out = [];
    while (out.length < count) {
      const piece = Math.min(1024, count - out.length);
      const { payload } = this.ask(TYPE.READ, [...u32(offset + out.length), ...u16(piece)]);
      if (payload[0] !== 0 || payload.length !== 1 + piece) throw new Error(`read was answered by ${payload[0]}`);
      out.push(...payload.slice(1));
    }
    return Uint8Array.from(out);
  }
}

// The client's line over a chip's UART.
export function serialLine(chip) {
  return {
    send: (bytes) => chip.serial.send(bytes),
    take: () => chip.serial.take(),
    wait: (done, us) => chip.run(() => chip.serial.fromBoard.length > 0 && done(), us),
  };
}
