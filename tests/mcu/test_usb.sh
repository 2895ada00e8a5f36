#!/bin/sh
# The USB device: descriptors against the published tables, requests, transfers, pushes.
exec "$(dirname "$0")/lib/run" usb
