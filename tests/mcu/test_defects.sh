#!/bin/sh
# What is worked around in the emulator is still as it was.
exec "$(dirname "$0")/lib/run" defects
