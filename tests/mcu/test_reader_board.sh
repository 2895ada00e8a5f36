#!/bin/sh
# The cartridge board's firmware and the reader's, two emulated chips on one bus.
exec "$(dirname "$0")/lib/run" reader_board
