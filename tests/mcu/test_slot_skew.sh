#!/bin/sh
# Skewed address lines at the slot, in the emulated chip.
exec "$(dirname "$0")/lib/run" slot_skew
