#!/bin/sh
# The firmware from end to end, with the console model in its slot.
exec "$(dirname "$0")/lib/run" slot_end
