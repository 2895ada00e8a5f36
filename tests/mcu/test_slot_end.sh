#!/bin/sh
# The firmware from end to end, with the console model in its slot.
if [ ! -e "${BUILD_DIR:-$(dirname "$0")/../../build}/mcu/console.wasm" ]; then
    echo "skip slot_end: the console model was not built for wasm32 (clang or wasm-ld is not installed)"
    exit 77
fi
exec "$(dirname "$0")/lib/run" slot_end
