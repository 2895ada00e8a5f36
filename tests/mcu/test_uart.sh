#!/bin/sh
# The serial line: hello, push, power cycle, nothing lost while flash is erased, the loader.
exec "$(dirname "$0")/lib/run" uart
