// The emulated chip's package, from where tests/mcu/mcu.mk has put it.
import { createRequire } from 'node:module';
import { resolve } from 'node:path';

export const buildDir = resolve(process.env.BUILD_DIR ?? 'build');
const require = createRequire(`${buildDir}/mcu/package.json`);
const cjs = resolve(require.resolve('rp2040js'), '..');

export const { RP2040 } = require('rp2040js');
export const { SimulationClock } = require(`${cjs}/clock/simulation-clock.js`);
export const version = require(`${buildDir}/mcu/node_modules/rp2040js/package.json`).version;
