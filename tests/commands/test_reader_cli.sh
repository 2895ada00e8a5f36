#!/bin/bash
# A cartridge on the virtual reader as a user meets it on the command line: what is read, written, kept and told, every
# way it can be refused, and a fault of each kind found.
set -u
. "$SOURCE_DIR/tests/commands/calls.sh"
unset NO_COLOR

ends "reader --help" 0 "$slotjig" reader --help
says "it tells its exits" '^exit: 0 pass'
says "its cautions" 'static kills'
ends "reader is in the list" 0 "$slotjig" --help
says "of commands" '^  reader '
call "$slotjig" reader --help
cp out.txt help.txt
for word in --grabber --impair --noise --screen --lines --windows; do
    verify "its help has no $word" sh -c "! grep -q -e '^  $word' help.txt"
    refused "and $word is refused" 2 'not an option' "$slotjig" reader --bench virtual --plan cartridge --scheme F8 $word 1
done
ends "an image made to be read by people" 0 "$slotjig" reader --bench virtual --plan cartridge --scheme F8 --hold 90 --standard pal --bytes-only -o held.bin
call "$slotjig" rom --plan cartridge --scheme F8 --hold 90 --standard pal -o made.bin
verify "is that one" test "$(cmp -l held.bin made.bin | wc -l)" -le 2

# As in the README: the check's own image, all schemes; what is written is what `rom` writes.
for scheme in 2K 4K F8 F6 F4; do
    for ram in "" --ram; do
        [ $scheme$ram = 2K--ram ] && continue # its RAM would cover what is there twice
        ends "reader --scheme $scheme $ram" 0 "$slotjig" reader --bench virtual --plan cartridge --scheme $scheme $ram \
            --json reader.json -o read.bin
        verify "its JSON passes" grep -q '"verdict": "pass"' reader.json
    done
    call "$slotjig" rom --plan cartridge --scheme $scheme -o made.bin
    call "$slotjig" reader --bench virtual --plan cartridge --scheme $scheme --quiet -o read.bin --bytes-only
    # Another bank's hotspot shows that bank's byte, so at those addresses the file may have another's.
    verify "the file of $scheme has the image's size" test "$(wc -c <read.bin)" = "$(wc -c <made.bin)"
    verify "and its bytes" test "$(cmp -l read.bin made.bin | wc -l)" -le 56
done
verify "the JSON tells the reader's time" grep -q -E '"chip_ms": [0-9]+' reader.json
verify "and its serial" grep -q -E '"serial": "[0-9A-F]{16}"' reader.json

# Any image of a maker's own.
head -c 8192 /dev/urandom >own.bin
ends "an image file" 0 "$slotjig" reader --bench virtual --image own.bin --json reader.json
says "is named with its scheme" '^pass  reader .*: F8, own.bin'
ends "into a folder" 0 "$slotjig" reader --bench virtual --image own.bin --out folder
for file in reader.txt reader.csv reader.svg; do
    verify "there is $file" test -s folder/$file
done
ends "quietly" 0 "$slotjig" reader --bench virtual --image own.bin --quiet
verify "nothing is said" test ! -s out.txt -a ! -s err.txt
ends "JSON on standard output" 0 "$slotjig" reader --bench virtual --image own.bin --json -
verify "and nothing else there" test "$(head -c 1 out.txt)" = "{"

# One fault of each kind is found; which is named, tests/verdict and the coverage table say.
for fault in cart-open=A5 cart-open=D3 cart-short=A3:A4 cart-short=D1:D2 cart-slow=1.3:600 'cart-byte=$123:$10' \
    cart-hotspot=0:1 cart-hold=D3:low cart-release=300 cart-late=50 cart-loose=A7:0.01 cart-data=4:high; do
    ends "fault $fault" 1 "$slotjig" reader --bench virtual --image own.bin --fault "$fault" --json reader.json
    verify "is a fail in the JSON" grep -q '"verdict": "fail"' reader.json
    verify "with a finding" grep -q '"kind": "' reader.json
done
ends "a seed gives the same again" 1 "$slotjig" reader --bench virtual --image own.bin --fault cart-loose=D2:0.01 --seed 9 --json a.json
ends "and again" 1 "$slotjig" reader --bench virtual --image own.bin --fault cart-loose=D2:0.01 --seed 9 --json b.json
verify "in every figure" cmp -s a.json b.json

ends "a slow page" 1 "$slotjig" reader --bench virtual --image own.bin --fault cart-slow=1.3:600
says "is told first" '^fail  reader'
says "by how much" 'so the slowest is 190 ns too late'
for ns in 3000 5000; do
    ends "too slow for all that can be measured, $ns ns" 1 "$slotjig" reader --bench virtual --plan cartridge --scheme F8 --fault cart-slow=all:$ns
    says "may be it" 'cartridge_slow: \|come microseconds late'
    verify "and nothing else is blamed" sh -c 'test "$(grep -c -e "^  [a-z ]*cartridge_" -e unexplained out.txt)" = 1'
done
ends "an open line" 1 "$slotjig" reader --bench virtual --image own.bin --fault cart-open=A5
says "is one of two causes" '^  either cartridge_address_open: '
says "with the other" '^  or cartridge_address_stuck: '

# 2 KiB with RAM: the RAM hides a page of the lower half alone.
head -c 2048 /dev/urandom >two.bin
ends "2 KiB with RAM" 0 "$slotjig" reader --bench virtual --image two.bin --scheme 2K --ram --store two.sqlite --cartridge "No 2"
says "is kept" '^record: run 1'
verify "with all of its bytes" sh -c "'$slotjig' reader --bench virtual --image two.bin --ram --out two --quiet && test \"\$(wc -l <two/reader.csv)\" = 2049"
ends "a byte of its first page" 1 "$slotjig" reader --bench virtual --image two.bin --scheme 2K --ram --bytes-only --fault 'cart-byte=$0010:$40'
says "is found" 'cartridge_byte_wrong: .*\$1810'

# Kept on record with the cartridge's serial, and only then.
ends "without a serial" 0 "$slotjig" reader --bench virtual --image own.bin --bytes-only --store kept.sqlite
verify "nothing is kept" test ! -e kept.sqlite
ends "with a serial" 0 "$slotjig" reader --bench virtual --image own.bin --bytes-only --store kept.sqlite --cartridge "No 7"
says "it is said" '^record: run 1, cartridge No 7'
ends "it is in the history" 0 "$slotjig" history --store kept.sqlite
says "as a reading" 'reader .*pass'
ends "a slow one" 1 "$slotjig" reader --bench virtual --image own.bin --store kept.sqlite --cartridge "No 9" --fault cart-slow=1.3:600
ends "is shown again" 0 "$slotjig" history --store kept.sqlite 2
says "with cartridge and reader" 'cartridge No 9, on the reader of bench virtual'
says "its times" 'the slowest is 190 ns too late'
says "and what was found" '^  cartridge_slow: '
verify "and nothing of a console or its video" sh -c '! grep -q -e fields -e steps -e console out.txt'
ends "as a page too" 0 "$slotjig" report --store kept.sqlite --run 2 --html kept.html
verify "with cartridge and reader" grep -q 'cartridge .*No 9.* on the reader of bench' kept.html
verify "and nothing of video" sh -c '! grep -q -e "id=video" -e "Video standard" kept.html'

# Pulled out in the middle, whatever it is at: told in one line, kept as trouble, and nothing is judged.
for seconds in 0.001 0.01 0.3 0.9 1.5 2.05; do
    rm -f reader.json
    refused "pulled out after $seconds s" 3 'pulled out' "$slotjig" reader --bench virtual --image own.bin \
        --fault cart-pulled=$seconds --json reader.json --store pulled.sqlite --cartridge "No 8"
    verify "nothing is judged" grep -q '"reader": null' reader.json
    verify "the JSON says why" grep -q '"problem": ".*pulled out' reader.json
    verify "it is on record" grep -q -E '"record": [1-9]' reader.json
done
ends "the page of one" 0 "$slotjig" report --store pulled.sqlite --run 1 --html pulled.html
verify "says nothing of its bytes" sh -c 'grep -q "Nothing is said about the cartridge" pulled.html && ! grep -q "On the reader" pulled.html'
ends "each is" 0 "$slotjig" history --store pulled.sqlite
verify "as trouble" test "$(grep -c ' trouble ' out.txt)" = 6

# Stopped by a person: the supply goes off, and it is kept.
call timeout --preserve-status -s INT 0.5 "$slotjig" reader --bench virtual --image own.bin --passes 65535 --store stopped.sqlite --cartridge "No 9"
verify "Ctrl-C is trouble (exit $got)" test "$got" = 3
says "and says so" 'stopped before its end, as you asked'
ends "it is on record" 0 "$slotjig" history --store stopped.sqlite
says "as trouble" 'trouble .*as you asked'

# Refused, each in one line.
head -c 3000 /dev/zero >odd.bin
refused "an image of another size" 2 '3000 bytes' "$slotjig" reader --bench virtual --image odd.bin
refused "an image of another scheme's size" 2 'scheme F6 has 16384' "$slotjig" reader --bench virtual --image own.bin --scheme F6
refused "no image for the virtual reader" 2 'what is on its cartridge' "$slotjig" reader --bench virtual --scheme F8
refused "neither image nor scheme" 2 'Give --scheme' "$slotjig" reader --bench virtual
refused "an unknown scheme" 2 'say 2K' "$slotjig" reader --bench virtual --scheme E7
refused "a plan without scheme" 2 'scheme' "$slotjig" reader --bench virtual --plan cartridge
refused "another plan" 2 'only plan cartridge' "$slotjig" reader --bench virtual --plan bits --scheme 4K
refused "image and plan" 2 'give one' "$slotjig" reader --bench virtual --plan cartridge --scheme F8 --image own.bin
refused "a fault of the video" 2 'only faults of a cartridge' "$slotjig" reader --bench virtual --image own.bin --fault no-video
refused "noise" 2 'not an option' "$slotjig" reader --bench virtual --image own.bin --noise 30
refused "a bank that is not there" 2 'bank' "$slotjig" reader --bench virtual --image own.bin --fault cart-slow=7.0:600
refused "no passes" 2 'from 1 to 65535' "$slotjig" reader --bench virtual --image own.bin --passes 0
refused "a serial with control characters" 2 'control' "$slotjig" reader --bench virtual --image own.bin --cartridge $'a\tb'
refused "bytes and result in one file" 2 'a file each' "$slotjig" reader --bench virtual --image own.bin --json x -o x
refused "a folder that cannot be" 2 'own.bin' "$slotjig" reader --bench virtual --image own.bin --out own.bin/x
refused "a file that cannot be" 2 'nowhere' "$slotjig" reader --bench virtual --image own.bin -o nowhere/x
cp own.bin kept.bin
refused "what is read over the image" 2 'needed and' "$slotjig" reader --bench virtual --image own.bin -o ./own.bin --bytes-only
refused "the result over the image" 2 'needed and' "$slotjig" reader --bench virtual --image own.bin --json own.bin --bytes-only
verify "the image is as it was" cmp own.bin kept.bin
refused "what is read over a store to be" 2 'needed and' "$slotjig" reader --bench virtual --image own.bin --cartridge a --store new.sqlite -o new.sqlite
refused "a store that is none, before anything is read" 2 'no store of records' "$slotjig" reader --bench virtual --image own.bin --cartridge a --store own.bin
verify "so nothing is told" test ! -s out.txt
refused "a place with control characters" 2 'control' "$slotjig" reader --bench virtual --image own.bin --cartridge a --station $'a\tb'
refused "words" 2 'no such word' "$slotjig" reader --bench virtual own.bin
refused "a device that is not there" 3 'no such device' "$slotjig" reader --scheme F8 --serial /dev/nothere
refused "a reader on the virtual bench" 2 'real boards' "$slotjig" reader --bench virtual --image own.bin --board 1-2

# Benches of kind reader.
printf '[bench socket]\nkind = reader\nboard = /dev/nothere\nstation = line 2\n[bench left]\nkind = board\n' >benches.ini
printf '[bench worn]\nkind = virtual\nfault = cart-open=A3\nseed = 5\n' >>benches.ini
ends "benches lists them" 0 "$slotjig" benches --benches benches.ini --json benches.json
says "with their kind" 'kind *reader'
verify "in JSON too" grep -q '"kind": "reader"' benches.json
refused "its device is looked for" 3 'no such device' "$slotjig" reader --benches benches.ini --bench socket --scheme F8
refused "a cartridge board's bench is none" 2 'is a cartridge board' "$slotjig" reader --benches benches.ini --bench left --scheme F8
refused "run has no use for a reader" 2 'is a reader of cartridges' "$slotjig" run --benches benches.ini --bench socket
refused "nor has push" 2 'is a reader of cartridges' "$slotjig" push --benches benches.ini --bench socket own.bin
refused "a fault on a real reader" 2 'real cartridge' "$slotjig" reader --benches benches.ini --bench socket --scheme F8 --fault cart-open=A3
ends "a virtual bench of the file" 1 "$slotjig" reader --benches benches.ini --bench worn --image own.bin
says "with its fault" 'A3'

exit $failed
