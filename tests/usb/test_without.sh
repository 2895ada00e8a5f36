#!/bin/sh
# Where libumockdev-dev is not installed the USB tests build all the same, and say why they are skipped. Its header is
# found by pkg-config's flags only, which are left out here.
set -u
cd "${SOURCE_DIR:-.}" || exit 1
if "${CC:-gcc}" -std=gnu17 -D_GNU_SOURCE -Wall -Wextra -Werror -Ihost -Iinclude -Ifirmware -Itests \
    -fsyntax-only tests/usb/usbfs.c; then
    echo "ok usbfs.c builds without umockdev"
else
    echo "not ok usbfs.c builds without umockdev"
    exit 1
fi
