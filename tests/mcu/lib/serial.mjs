// The UART's line at 115,200 baud, 8N1: a byte takes ten bits' time. A UART that is set up otherwise hears
// nothing it could use, and says nothing that could be used.
const BAUD = 115200;
const BYTE_NANOS = 1e10 / BAUD;
const FIFO = 32;
const DR = 0x00;
const FR = 0x18;
const DMACR = 0x48;
const RX_DMA = 1;
const TX_DMA = 2;
const ON = 0x301; // enabled, receives, transmits
const LINE = 0x70; // 8 bits, FIFOs
const FR_FULL = 0x20;

export class SerialLine {
  constructor(chip) {
    const { mcu, clock } = chip;
    this.chip = chip;
    this.uart = mcu.uart[0];
    this.dma = mcu.dma;
    this.toBoard = [];
    this.fromBoard = [];
    this.lost = 0; // bytes that found the receive FIFO full
    this.onBytes = null; // called with each byte from the board
    this.transmit = [];
    this.arriving = clock.createAlarm(() => this.arrive());
    this.leaving = clock.createAlarm(() => this.leave());
    this.receiving = false;
    this.dmacr = 0;
    this.uart.onByte = (byte) => this.push(byte);
    this.watchRegisters();
  }

  watchRegisters() {
    const { uart, dma } = this;
    const read = uart.readUint32.bind(uart);
    const write = uart.writeUint32.bind(uart);
    uart.readUint32 = (offset) => {
      if (offset === DMACR) return this.dmacr;
      if (offset === FR) return read(offset) | (this.transmit.length >= FIFO ? FR_FULL : 0);
      const value = read(offset);
      if (offset === DR && uart.rxFIFO.empty) dma.clearDREQ(uart.dreq.rx);
      return value;
    };
    uart.writeUint32 = (offset, value) => {
      if (offset === DMACR) this.dmacr = value;
      else write(offset, value);
      this.requestTransmit();
    };
  }

  get rightlySetUp() {
    const { uart } = this;
    const near = Math.abs(uart.baudRate / BAUD - 1) < 0.02;
    return near && (uart.ctrlRegister & ON) === ON && (uart.lineCtrlRegister & 0x7f) === LINE;
  }

  requestTransmit() {
    const wanted = this.dmacr & TX_DMA && this.rightlySetUp && this.transmit.length < FIFO;
    if (wanted) this.dma.setDREQ(this.uart.dreq.tx);
    else this.dma.clearDREQ(this.uart.dreq.tx);
  }

  send(bytes) {
    for (const byte of bytes) this.toBoard.push(byte);
    if (!this.receiving && this.toBoard.length > 0) {
      this.receiving = true;
      this.arriving.schedule(BYTE_NANOS);
    }
  }

  arrive() {
    const byte = this.toBoard.shift();
    if (!this.rightlySetUp || this.uart.rxFIFO.full) {
      this.lost++;
    } else {
      this.uart.feedByte(byte);
      if (this.dmacr & RX_DMA) this.dma.setDREQ(this.uart.dreq.rx);
    }
    this.receiving = this.toBoard.length > 0;
    if (this.receiving) this.arriving.schedule(BYTE_NANOS);
  }

  push(byte) {
    if (this.transmit.length >= FIFO) throw new Error('the UART was given a byte that it has no room for');
    this.transmit.push(byte);
    this.requestTransmit();
    if (this.transmit.length === 1) this.leaving.schedule(BYTE_NANOS);
  }

  leave() {
    const byte = this.transmit.shift();
    this.fromBoard.push(byte);
    this.onBytes?.(byte);
    this.requestTransmit();
    if (this.transmit.length > 0) this.leaving.schedule(BYTE_NANOS);
  }

  // What has come from the board since the last call.
  take() {
    return Uint8Array.from(this.fromBoard.splice(0));
  }
}
