#!/bin/busybox sh
# shellcheck shell=dash
# The first process of the guest: modules, the host's files read-only, the tests, the end. The tests' results go to
# the console in the form of tests/run's scripts.
bb=/bin/busybox
$bb mkdir -p /proc /sys /dev /host
$bb mount -t proc proc /proc
$bb mount -t sysfs sysfs /sys
$bb mount -t devtmpfs dev /dev
# A device that sleeps between two looks at it takes seconds to wake here; of vivid only one node, with a tuner and an
# S-Video input: that is the analog part.
settings() {
    case $1 in
    usbcore) echo autosuspend=-1 ;;
    vivid) echo n_devs=1 node_types=0x1 num_inputs=2 input_types=0x9 ;;
    esac
}
for module in $($bb cat /modules/order); do
    # shellcheck disable=SC2046 # several words
    $bb insmod "/modules/$module.ko" $(settings "$module") || echo "guest: module $module does not load"
done
$bb mount -t 9p -o trans=virtio,version=9p2000.L,msize=262144,cache=loose,ro host /host ||
    { echo "guest: no files from the host"; $bb poweroff -f; }
for folder in proc sys dev; do $bb mount -o bind /$folder /host/$folder; done
$bb mkdir -p /host/dev/pts /host/dev/shm
$bb mount -t tmpfs tmp /host/dev/shm
$bb mount -t devpts devpts /host/dev/pts
# Only what the run gave: the guest's own environment says nothing.
# shellcheck source=/dev/null
. /guest.env
echo "guest: $($bb uname -r)"
for test in $TESTS; do
    # shellcheck disable=SC2086 # several words
    $bb chroot /host /usr/bin/env -i PATH=/usr/bin:/bin TMPDIR=/dev/shm SLOTJIG_TEST_VHCI=1 SLOTJIG_TEST_ROW=usb \
        $TEST_ENVIRONMENT timeout 200 "$test" 2>&1
    echo "guest: status $? of $test ($($bb cut -d. -f1 /proc/uptime) s up)"
done
echo "guest: end"
$bb poweroff -f
