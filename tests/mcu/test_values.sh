#!/bin/sh
# Values for the console, through the firmware in the emulated chip.
if [ ! -e "${BUILD_DIR:-$(dirname "$0")/../../build}/mcu/console.wasm" ]; then
    echo "skip values: the console model was not built for wasm32 (clang or wasm-ld is not installed)"
    exit 77
fi
exec "$(dirname "$0")/lib/run" values
