#!/bin/sh
# The tests of USB and video devices under Debian's own kernel in QEMU: real usbcore, usbfs, sysfs, uvcvideo and V4L2
# over vhci-hcd, and vivid, where `make check` has an emulated usbfs and V4L2. The same test programs; they reach the
# guest over 9p, read-only, with the host's libraries.
# Usage: tests/kernel/run.sh FOLDER TEST...   FOLDER keeps the kernel between runs.
# Needs qemu-system-x86, busybox-static and the package behind linux-image-amd64 (downloaded and unpacked, never
# installed). Prints `ok`, `not ok` and `skip` lines; status 1 on failure, 77 when all of it was skipped.
set -u

folder=$1
shift
here=$(cd "$(dirname "$0")" && pwd)
limit=${SLOTJIG_KERNEL_TIMEOUT:-600}

skip() {
    echo "skip kernel: $1"
    exit 77
}

# In the order in which they are loaded.
modules="virtio_ring virtio virtio_pci_legacy_dev virtio_pci_modern_dev virtio_pci netfs fscache 9pnet 9pnet_virtio 9p
usb-common usbcore usbip-core vhci-hcd cdc-acm
mc videodev videobuf2-common videobuf2-v4l2 videobuf2-memops videobuf2-vmalloc videobuf2-dma-contig uvcvideo
v4l2-tpg v4l2-dv-timings rc-core cec vivid"

command -v qemu-system-x86_64 >/dev/null 2>&1 || skip "qemu-system-x86_64 is not installed (Debian package qemu-system-x86)"
command -v cpio >/dev/null 2>&1 || busybox cpio --help >/dev/null 2>&1 || skip "no cpio"
busybox=$(command -v busybox) || skip "busybox is not installed (Debian package busybox-static)"
if ldd "$busybox" >/dev/null 2>&1; then skip "busybox needs shared libraries (Debian package busybox-static has one that does not)"; fi
[ "$(uname -m)" = x86_64 ] || skip "only on x86_64"

# The meta-package's name for the kernel of today, downloaded once.
fetch() {
    command -v apt-get >/dev/null 2>&1 || skip "no apt-get to fetch Debian's kernel with"
    package=$(apt-cache depends linux-image-amd64 2>/dev/null | awk '/Depends: linux-image-/ {print $2; exit}')
    [ -n "$package" ] || skip "apt does not know linux-image-amd64 (apt-get update?)"
    rm -rf "$folder/new"
    mkdir -p "$folder/new"
    (cd "$folder/new" && timeout 300 apt-get -q download "$package" >download.log 2>&1) ||
        skip "$package could not be downloaded: $(tail -n 1 "$folder/new/download.log")"
    dpkg -x "$folder"/new/linux-image-*.deb "$folder/new/root" || skip "$package could not be unpacked"
    rm -f "$folder"/new/*.deb
    rm -rf "$folder/kernel"
    mv "$folder/new/root" "$folder/kernel"
}

mkdir -p "$folder" && folder=$(cd "$folder" && pwd) || exit 1
# shellcheck disable=SC2012 # names of Debian's kernels hold nothing odd
kernel=$(ls "$folder"/kernel/boot/vmlinuz-* 2>/dev/null | tail -n 1)
if [ -z "$kernel" ]; then
    fetch
    # shellcheck disable=SC2012
    kernel=$(ls "$folder"/kernel/boot/vmlinuz-* 2>/dev/null | tail -n 1)
fi
[ -n "$kernel" ] || skip "no kernel in Debian's package"

initrd() {
    rm -rf "$folder/initrd"
    mkdir -p "$folder/initrd/bin" "$folder/initrd/modules"
    cp "$busybox" "$folder/initrd/bin/busybox"
    cp "$here/guest.sh" "$folder/initrd/init"
    chmod 755 "$folder/initrd/init"
    for module in $modules; do
        file=$(find "$folder/kernel" -name "$module.ko" -o -name "$module.ko.xz" | head -n 1)
        [ -n "$file" ] || skip "Debian's kernel has no module $module"
        case $file in
        *.xz) xz -dc "$file" >"$folder/initrd/modules/$module.ko" ;;
        *) cp "$file" "$folder/initrd/modules/" ;;
        esac
        echo "$module" >>"$folder/initrd/modules/order"
    done
    {
        echo "TESTS='$*'"
        echo "TEST_ENVIRONMENT='ASAN_OPTIONS=${ASAN_OPTIONS:-} LSAN_OPTIONS=${LSAN_OPTIONS:-} SLOTJIG_TEST_SMALL=1'"
    } >"$folder/initrd/guest.env"
    (cd "$folder/initrd" && find . | "$busybox" cpio -o -H newc 2>/dev/null | gzip -1) >"$folder/initrd.gz"
}
initrd "$@"

# No reboot, no network, no disk; what the guest prints is the log.
start=$(date +%s)
timeout -k 5 "$limit" qemu-system-x86_64 -machine q35,accel=tcg -cpu qemu64 -m 768 -smp 1 -nodefaults -no-reboot \
    -display none -serial stdio -nic none -kernel "$kernel" -initrd "$folder/initrd.gz" \
    -append "console=ttyS0 quiet loglevel=1 panic=-1" \
    -virtfs "local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap" \
    </dev/null 2>"$folder/qemu.err" | tr -d '\r' >"$folder/log"
seconds=$(($(date +%s) - start))

sed -n 's/^guest: \([0-9].*\)/Linux \1 in QEMU (TCG)/p' "$folder/log"
awk -v seconds="$seconds" '
    /USB by /          {print}
    /\[       OK \] /  {sub(/.*\[       OK \] /, ""); print "ok " $0; passed++}
    /\[  SKIPPED \] [^0-9]/ && !seen[$0]++ {sub(/.*\[  SKIPPED \] /, ""); print "skip " $0}
    /\[  FAILED  \] [a-z]/ && !seen[$0]++ {sub(/.*\[  FAILED  \] /, ""); if (!/test\(s\)/) {print "not ok " $0; failed++}}
    /skipped over/     {print "not ok " $0; failed++}
    /^guest: status /  {if ($3 != 0) {print "not ok " $5 " ended with status " $3; failed++}}
    /^guest: end/      {ended = 1}
    END {
        if (!ended) {print "not ok the guest did not come to its end"; failed++}
        print passed + 0 " passed, " failed + 0 " failed, " seconds " s"
        exit failed > 0 || passed == 0
    }' "$folder/log" && exit 0
echo "---- $folder/log"
cat "$folder/log" "$folder/qemu.err"
exit 1
