// The cartridge model of the virtual bench (host/virtual/cart_model.c) for wasm32, as a cartridge for lib/socket.mjs.
import { existsSync, readFileSync } from 'node:fs';
import { buildDir } from './emulator.mjs';
import { SCHEMES } from './wire.mjs';

const path = `${buildDir}/mcu/cartridge.wasm`;
export const haveModel = existsSync(path);

export class Cartridge {
  // faults: (model) => calls of its fault_ functions (tests/mcu/cartmodel/cart_wasm.c).
  constructor(image, scheme, { ram = false, seed = 1, faults = () => {}, pages = null, first = null } = {}) {
    const model = new WebAssembly.Instance(new WebAssembly.Module(readFileSync(path)), {}).exports;
    new Uint8Array(model.memory.buffer, model.image(), image.length).set(image);
    model.fault_none();
    model.fault_first(first ?? Math.max(1, image.length / 4096) - 1);
    faults(model);
    model.init(SCHEMES.indexOf(scheme), ram ? 1 : 0, seed);
    pages?.forEach((ns, page) => model.page_ns(page, ns));
    this.model = model;
  }

  power(ns, on) {
    this.model.power(ns, on ? 1 : 0);
  }

  drive(ns, address, driven, data) {
    this.model.drive(ns, address, driven, data);
  }

  data(ns, floating) {
    return this.model.data(ns, floating);
  }
}
