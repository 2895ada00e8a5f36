#!/bin/sh
# The firmware's files as they would be flashed.
exec "$(dirname "$0")/lib/run" build
