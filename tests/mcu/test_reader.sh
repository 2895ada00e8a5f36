#!/bin/sh
# The reader's firmware in the emulated chip, with cartridges of known times and faults.
exec "$(dirname "$0")/lib/run" reader
