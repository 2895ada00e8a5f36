#!/bin/sh
# The real program pushes to the real firmware, over a pseudo-terminal and the emulated UART.
exec "$(dirname "$0")/lib/run" program
