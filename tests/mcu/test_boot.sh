#!/bin/sh
# The firmware starts in the emulated chip, or says that it cannot.
exec "$(dirname "$0")/lib/run" boot
