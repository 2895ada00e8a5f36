// A full-speed USB host on the controller's shared memory (RP2040 data sheet 4.1.2): tokens SETUP, IN and OUT,
// answered by ACK, NAK or STALL as the buffer controls say, with toggles on both sides and the time that the
// bits take. What silicon would stumble over is an error here: a buffer handed over before the rest of its word
// was written, a wrong toggle, an overflow.
const BUFFERS = 0x80;
const EP0_AT = 0x100;
const PACKET = 64;
const FULL = 0x8000;
const DATA1 = 0x2000;
const SELECT_RESET = 0x1000;
const STALL = 0x0800;
const AVAILABLE = 0x0400;
const LENGTH = 0x3ff;
const EP_ENABLE = 0x80000000;
const EP_DOUBLE = 0x40000000;
const EP_EACH = 0x20000000;
const SIE_PULL_UP = 1 << 16;
const STATUS_BUS_RESET = 1 << 19;
const STATUS_SETUP = 1 << 17;
const STATUS_SUSPENDED = 1 << 4;
const STATUS_RESUME = 1 << 11;
const SIE_STATUS = 0x50;
const MUXING = 0x74;
const MUX_WANTED = 9; // the controller on the transceiver
const SETTLE_CYCLES = 6; // two clocks of 48 MHz at 125 MHz (4.1.2.5.1)
const US_PER_BYTE = 8 / 12;
const TOKEN = 3 + 2; // with the gap before it: bytes' time
const OVERHEAD = 4 + 2 + 3; // the data packet's frame, a gap, the handshake

export class UsbSocket {
  constructor(chip) {
    this.chip = chip;
    this.ctrl = chip.mcu.usbCtrl;
    this.memory = chip.mcu.usbDPRAMView;
    this.address = 0;
    this.toggles = new Map(); // host's, by endpoint address
    this.selectors = new Map(); // controller's, of double-buffered endpoints
    this.written = new Map(); // buffer controls as the firmware last left them
    this.naks = 0;
    this.packets = 0;
    this.muxing = 0;
    chip.mcu.usbCtrl.DPRAMUpdated = (offset, value) => this.firmwareWrote(offset, value);
    this.watchRegisters();
  }

  watchRegisters() {
    const { ctrl } = this;
    const write = ctrl.writeUint32.bind(ctrl);
    ctrl.writeUint32 = (offset, value) => {
      if (offset === MUXING) this.muxing = value;
      // The emulator never lets go of the suspended state.
      if (offset === SIE_STATUS && ctrl.rawWriteValue & STATUS_SUSPENDED) ctrl.sieStatus &= ~STATUS_SUSPENDED;
      write(offset, value);
    };
  }

  // 4.1.2.5.1: AVAILABLE and STALL only after the rest of the half word has had time to arrive.
  firmwareWrote(offset, word) {
    if (offset < BUFFERS || offset >= EP0_AT) return;
    for (const half of [0, 1]) {
      const key = offset + 2 * half;
      const value = (word >>> (16 * half)) & 0xffff;
      const before = this.written.get(key) ?? { value: 0, cycles: 0 };
      const handed = AVAILABLE | STALL;
      if (value & handed && !(before.value & handed)) {
        const since = this.chip.cycles - before.cycles;
        if ((value & ~handed) !== before.value || since < SETTLE_CYCLES) {
          throw new Error(`buffer control ${key.toString(16)} handed over with its word (${since} cycles)`);
        }
      }
      if (value !== before.value) this.written.set(key, { value, cycles: this.chip.cycles });
    }
  }

  set(at, value) {
    this.memory.setUint16(at, value, true);
    this.written.set(at, { value, cycles: this.chip.cycles });
  }

  get attached() {
    return !!(this.ctrl.sieCtrl & SIE_PULL_UP) && this.ctrl.mainCtrl === 1 && this.muxing === MUX_WANTED;
  }

  // Plugs the cable in and waits for the device to show itself.
  plug(us = 100000) {
    this.chip.usbPower = true;
    return this.chip.run(() => this.attached, us);
  }

  unplug() {
    this.chip.usbPower = false;
    this.address = 0;
    this.toggles.clear();
  }

  busReset() {
    this.address = 0;
    this.toggles.clear();
    this.ctrl.sieStatus |= STATUS_BUS_RESET;
    this.ctrl.sieStatusUpdated();
    this.chip.runFor(10000); // 7.1.7.5
  }

  suspend() {
    this.ctrl.sieStatus |= STATUS_SUSPENDED;
    this.ctrl.sieStatusUpdated();
    this.chip.runFor(3000);
  }

  resume() {
    this.ctrl.sieStatus &= ~STATUS_SUSPENDED;
    this.ctrl.sieStatus |= STATUS_RESUME;
    this.ctrl.sieStatusUpdated();
    this.chip.runFor(20000);
  }

  spend(bytes) {
    this.packets++;
    this.chip.runFor((OVERHEAD + bytes) * US_PER_BYTE);
  }

  // The buffer that the controller would use for a token: where its control and its bytes are.
  buffer(endpoint) {
    const number = endpoint & 15;
    const input = endpoint >= 0x80;
    const at = BUFFERS + 8 * number + (input ? 0 : 4);
    if (number === 0) return { at, data: EP0_AT, number, input };
    const control = this.memory.getUint32(8 * number + (input ? 0 : 4), true);
    if (!(control & EP_ENABLE)) return null;
    if (!(control & EP_EACH)) throw new Error(`endpoint ${endpoint.toString(16)} never interrupts`);
    const data = control & 0xffc0;
    if (!(control & EP_DOUBLE)) return { at, data, number, input };
    const first = this.memory.getUint16(at, true);
    if (first & SELECT_RESET && first & (AVAILABLE | STALL)) {
      this.selectors.set(endpoint, 0);
      this.set(at, first & ~SELECT_RESET);
    }
    const which = this.selectors.get(endpoint) ?? 0;
    return { at: at + 2 * which, data: data + PACKET * which, number, input, flips: true };
  }

  done(endpoint, buffer, control) {
    this.set(buffer.at, control);
    if (buffer.flips) this.selectors.set(endpoint, (this.selectors.get(endpoint) ?? 0) ^ 1);
    this.ctrl.indicateBufferReady(buffer.number, !buffer.input);
  }

  // What stands in the way of a transfer, or null.
  refusal(buffer) {
    if (!this.attached || (this.ctrl.addrEndp & 0x7f) !== this.address || !buffer) return 'silence';
    const control = this.memory.getUint16(buffer.at, true);
    const arm = buffer.input ? 1 : 2;
    if (control & STALL && (buffer.number !== 0 || this.ctrl.epStallArm & arm)) return 'stall';
    if (!(control & AVAILABLE) || (buffer.input && !(control & FULL))) {
      this.naks++;
      return 'nak';
    }
    return null;
  }

  toggle(endpoint) {
    return this.toggles.get(endpoint) ?? 0;
  }

  flip(endpoint) {
    this.toggles.set(endpoint, this.toggle(endpoint) ^ 1);
  }

  setup(bytes) {
    this.spend(TOKEN + 8);
    if (this.refusal({ number: 0, input: true, at: BUFFERS }) === 'silence') return 'silence';
    bytes.forEach((byte, i) => this.memory.setUint8(i, byte));
    this.ctrl.epStallArm = 0;
    this.toggles.set(0, 1);
    this.toggles.set(0x80, 1);
    this.ctrl.sieStatus |= STATUS_SETUP;
    this.ctrl.sieStatusUpdated();
    return 'ack';
  }

  // { answer, bytes }. The controller looks at its buffer once the token is there.
  in(endpoint) {
    this.chip.runFor(TOKEN * US_PER_BYTE);
    const buffer = this.buffer(endpoint);
    const answer = this.refusal(buffer);
    if (answer) {
      this.spend(0);
      return { answer };
    }
    const control = this.memory.getUint16(buffer.at, true);
    const count = control & LENGTH;
    const bytes = this.chip.mcu.usbDPRAM.slice(buffer.data, buffer.data + count);
    this.checkToggle(endpoint, control);
    this.spend(count);
    this.flip(endpoint);
    this.done(endpoint, buffer, control & ~(AVAILABLE | FULL));
    return { answer: 'ack', bytes };
  }

  out(endpoint, bytes) {
    const buffer = this.buffer(endpoint);
    const answer = this.refusal(buffer);
    this.spend(TOKEN + bytes.length);
    if (answer) return answer;
    const control = this.memory.getUint16(buffer.at, true);
    this.checkToggle(endpoint, control);
    if (bytes.length > (control & LENGTH)) throw new Error(`endpoint ${endpoint} was sent more than it takes`);
    this.chip.mcu.usbDPRAM.set(bytes, buffer.data);
    this.flip(endpoint);
    this.done(endpoint, buffer, (control & ~(AVAILABLE | LENGTH)) | FULL | bytes.length);
    return 'ack';
  }

  checkToggle(endpoint, control) {
    const device = control & DATA1 ? 1 : 0;
    if (device !== this.toggle(endpoint)) {
      throw new Error(`endpoint ${endpoint.toString(16)}: DATA${device} where DATA${this.toggle(endpoint)} is due`);
    }
  }

  // Asks until the answer is no NAK; null after `us` microseconds of them.
  retry(token, us) {
    const until = this.chip.us + us;
    for (;;) {
      const answer = token();
      if ((answer.answer ?? answer) !== 'nak') return answer;
      if (this.chip.us >= until) return null;
      this.chip.runFor(10);
    }
  }

  // A control transfer. `data`: bytes to send, or how many to ask for. Returns the bytes that came, or throws
  // an error with .answer 'stall', 'silence' or 'timeout'.
  control(type, request, value, index, data = 0, us = 500000) {
    const input = type >= 0x80;
    const length = input ? data : data === 0 ? 0 : data.length;
    const setup = [type, request, value & 255, value >> 8, index & 255, index >> 8, length & 255, length >> 8];
    expect(this.setup(setup), 'ack');
    const got = [];
    if (input && length > 0) this.controlIn(got, length, us);
    else if (length > 0) this.controlOut(data, us);
    const status = input && length > 0 ? 0 : 0x80;
    this.toggles.set(status, 1);
    const last = this.retry(() => (status ? this.in(0x80) : this.out(0, new Uint8Array(0))), us);
    expect(last?.answer ?? last, 'ack');
    if (status && last.bytes.length !== 0) throw new Error('the status stage has bytes');
    return Uint8Array.from(got);
  }

  controlIn(got, length, us) {
    for (;;) {
      const { answer, bytes } = this.retry(() => this.in(0x80), us) ?? { answer: null };
      expect(answer, 'ack');
      got.push(...bytes);
      if (got.length > length) throw new Error(`${got.length} bytes where ${length} were asked for`);
      if (bytes.length < PACKET || got.length === length) return;
    }
  }

  controlOut(data, us) {
    for (let at = 0; at < data.length; at += PACKET) {
      expect(this.retry(() => this.out(0, data.subarray(at, at + PACKET)), us), 'ack');
    }
  }

  setAddress(address) {
    this.control(0x00, 5, address, 0);
    this.chip.runFor(2000); // 9.2.6.3
    this.address = address;
  }

  configure(value = 1) {
    this.control(0x00, 9, value, 0);
    for (const endpoint of [...this.toggles.keys()]) if (endpoint & 15) this.toggles.delete(endpoint);
  }

  enumerate(address = 7) {
    if (!this.plug()) throw new Error('the device does not show itself');
    this.busReset();
    this.setAddress(address);
    this.configure();
  }

  send(endpoint, bytes, us = 5e6) {
    for (let at = 0; at < bytes.length; at += PACKET) {
      expect(this.retry(() => this.out(endpoint, bytes.subarray(at, at + PACKET)), us), 'ack');
    }
  }
}

function expect(answer, wanted) {
  if (answer === wanted) return;
  const error = new Error(`${answer ?? 'timeout'} where ${wanted} was due`);
  error.answer = answer ?? 'timeout';
  throw error;
}

// The client's line over a pair of bulk endpoints.
export function bulkLine(chip, out, input) {
  const { usb } = chip;
  const waiting = [];
  const poll = () => {
    const { answer, bytes } = usb.in(input);
    if (answer === 'ack') waiting.push(...bytes);
    else if (answer !== 'nak') expect(answer, 'ack');
    return answer === 'ack';
  };
  return {
    send: (bytes) => usb.send(out, bytes),
    take: () => Uint8Array.from(waiting.splice(0)),
    wait: (done, us) => {
      const until = chip.us + us;
      while (!done()) {
        if (chip.us >= until || chip.ended) return false;
        if (!poll()) chip.runFor(20);
      }
      return true;
    },
  };
}
