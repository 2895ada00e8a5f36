#!/bin/sh
# The image of plan cartridge on the command line: its size, its listing, what is refused, what the plan says.
. "$SOURCE_DIR/tests/commands/calls.sh"

for each in 2K:2048 4K:4096 F8:8192 F6:16384 F4:32768; do
    scheme=${each%:*} bytes=${each#*:}
    ends "an image for $scheme" 0 "$slotjig" rom --plan cartridge --scheme $scheme -o $scheme.bin --listing $scheme.asm
    verify "has $bytes bytes" test "$(wc -c <$scheme.bin)" = $bytes
done
ends "with RAM" 0 "$slotjig" rom --plan cartridge --scheme f8 --ram -o ram.bin
verify "is another" sh -c '! cmp -s F8.bin ram.bin'
ends "PAL" 0 "$slotjig" rom --plan cartridge --scheme F8 --standard pal -o pal.bin
verify "tells the frame" grep -q '312 lines a frame on every path' err.txt
verify "and the window" grep -q 'at most [1-9][0-9]* of the [1-9][0-9]* cycles' err.txt
ends "read at leisure" 0 "$slotjig" rom --plan cartridge --scheme F8 --hold 90 -o slow.bin
verify "says so" grep -q 'an item every 90 fields' err.txt
verify "and differs in no hash" test "$(sed -n 's/.*hash \([0-9a-f]*\).*/\1/p' err.txt)" = \
    "$("$slotjig" rom --plan cartridge --scheme F8 -o again.bin 2>&1 | sed -n 's/.*hash \([0-9a-f]*\).*/\1/p')"
verify "the same image twice" cmp F8.bin again.bin

refused "no scheme" 2 'Give --scheme' "$slotjig" rom --plan cartridge -o x.bin
refused "another scheme" 2 'say 2K, 4K, F8, F6 or F4' "$slotjig" rom --plan cartridge --scheme F5 -o x.bin
refused "2K with RAM" 2 'no room' "$slotjig" rom --plan cartridge --scheme 2K --ram -o x.bin
refused "an item for too long" 2 '1 to 255 fields' "$slotjig" rom --plan cartridge --scheme F8 --hold 256 -o x.bin
refused "another size" 2 'leave the size out' "$slotjig" rom --plan cartridge --scheme F8 --size 4096 -o x.bin
refused "a scheme for another plan" 2 'only plan cartridge' "$slotjig" rom --plan bits --scheme F8 -o x.bin
refused "steps of it" 2 'no steps' "$slotjig" expect --plan cartridge --scheme F8

ends "the plans" 0 "$slotjig" plan
says "have it" '^cartridge '
ends "its items" 0 "$slotjig" plan --plan cartridge --scheme F4 --ram
says "are pages" '10100 to 17F00  page'
says "and their number" '190 items a round'
# Nobody is to be flashed at unasked: at full speed it stays below the limits.
for standard in ntsc pal; do
    ends "how it flashes, $standard" 0 "$slotjig" plan --plan cartridge --scheme F4 --ram --standard $standard --flashes
    says "not much" 'on a watched screen, --hold 1: under the limits'
done

ends "pushed to a board" 0 "$slotjig" push --bench virtual --plan cartridge --scheme F4 --ram
says "as what it is" 'F4, with RAM, without mailbox'

exit $failed
