#!/bin/sh
# Power cut in every operation of the flash, on the chip.
exec "$(dirname "$0")/lib/run" power
