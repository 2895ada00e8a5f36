// The slot's service alone in the emulated chip: tests/mcu/slotonly/main.c. The processor runs only while it has an
// order; reads need none.
import { Slot, readElf } from './slot.mjs';

export const SCHEME = { '2K': 0, '4K': 1, F8: 2, F6: 3, F4: 4 };
export const BANKS = { '2K': 1, '4K': 1, F8: 2, F6: 4, F4: 8 };
// [P] trade practice, no source; written down here again, so that a wrong table in the firmware is seen.
export const HOTSPOTS = { '2K': [], '4K': [], F8: [0x1ff8, 0x1ff9], F6: [0x1ff6, 0x1ff7, 0x1ff8, 0x1ff9],
    F4: [0x1ff4, 0x1ff5, 0x1ff6, 0x1ff7, 0x1ff8, 0x1ff9, 0x1ffa, 0x1ffb] };
const ORDER_SERVE = 1, ORDER_EVENTS = 2, STEPS_MAX = 200000, TABLE = 32768;

export class SlotOnly {
    constructor(rp2040js, elfPath, options) {
        const elf = readElf(elfPath);
        this.mcu = new rp2040js.RP2040();
        this.mcu.logger = new rp2040js.ConsoleLogger(rp2040js.LogLevel.Error, true);
        for (const { address, bytes } of elf.segments) this.mcu.sram.set(bytes, address - 0x20000000);
        this.symbols = elf.symbols;
        this.slot = new Slot(this.mcu, options);
        this.slot.setSupply(true);
        this.mcu.core.SP = elf.symbols.stack_top;
        this.mcu.core.PC = elf.entry & ~1;
        this.#order(ORDER_EVENTS);
    }

    word(symbol, offset = 0) {
        return this.mcu.sramView.getUint32(this.symbols[symbol] + offset - 0x20000000, true);
    }

    #cpu(i) {
        if (i > STEPS_MAX) throw new Error('the processor does not come to an end');
        this.run(this.mcu.core.executeInstruction());
    }

    // watch: called after each cycle.
    run(cycles, watch) {
        for (let i = 0; i < cycles; i++) {
            this.slot.tick();
            if (watch) watch(this.slot);
            else if (this.each) this.each(this.slot);
        }
    }

    #order(kind) {
        const at = this.symbols.order - 0x20000000;
        this.mcu.sramView.setUint32(at, kind, true);
        for (let i = 0; this.mcu.sramView.getUint32(at, true) !== 0; i++) this.#cpu(i);
    }

    get spareAt() {
        return this.word('spare_lanes') - 0x20000000;
    }

    // What core/cart.c does, from its contract: byte of bank b at address a lies at a * 8 + b.
    lay(image, scheme, ram) {
        const lanes = this.mcu.sram.subarray(this.spareAt, this.spareAt + TABLE);
        for (let a = 0; a < 4096; a++)
            for (let b = 0; b < 8; b++)
                lanes[a * 8 + b] = ram && a < 256 ? 0 : image[(b % BANKS[scheme]) * 4096 + a % Math.min(4096, image.length)];
    }

    serve(scheme, ram, bank) {
        const at = this.symbols.order - 0x20000000;
        [SCHEME[scheme], ram ? 1 : 0, bank].forEach((v, i) => this.mcu.sramView.setUint32(at + 4 + 4 * i, v, true));
        this.#order(ORDER_SERVE);
    }

    load(image, scheme, ram = false, bank = BANKS[scheme] - 1) {
        this.lay(image, scheme, ram);
        this.serve(scheme, ram, bank);
    }

    events() {
        this.#order(ORDER_EVENTS);
        const count = this.word('order', 16), at = this.symbols.order - 0x20000000 + 24;
        const list = [];
        for (let i = 0; i < count; i++) list.push(this.mcu.sramView.getUint16(at + 2 * i, true));
        return { list, missed: this.word('order', 20) };
    }
}

// A test's randomness: printed seed, same bytes (xorshift32).
export function random(seed) {
    let x = seed >>> 0 || 1;
    return (limit) => {
        x ^= x << 13, x ^= x >>> 17, x ^= x << 5;
        return (x >>> 0) % limit;
    };
}

export function image(size, seed) {
    const next = random(seed);
    return Uint8Array.from({ length: size }, () => next(256));
}
