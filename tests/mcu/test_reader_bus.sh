#!/bin/sh
# The reader's bus, alone in the emulated chip.
exec "$(dirname "$0")/lib/run" reader_bus
