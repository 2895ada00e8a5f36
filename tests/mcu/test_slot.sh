#!/bin/sh
# The slot's service by PIO and DMA, in the emulated chip.
exec "$(dirname "$0")/lib/run" slot
