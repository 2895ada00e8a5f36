#!/bin/sh
# Recordings made anew by FFmpeg's own program, in every way of tests/recordings and with every step of plan bits.
# Asked: the verdict and the findings of the recording itself; of other pictures, inconclusive. SLOTJIG_SEED.
set -u
said=$PROOF_OUT/recordings.txt
PROOF=yes SLOTJIG_TEST_SMALL='' sh "$SOURCE_DIR/tests/recordings/test_recordings.sh" >"$said" 2>&1
status=$?
echo "Recordings made anew with ffmpeg, a good console and one with bit-low=PF1.3, seed ${SLOTJIG_SEED:-1} (SLOTJIG_SEED)"
echo
echo "| recording, made anew by, console | verdict | findings |"
echo "| --- | --- | --- |"
sed -n 's/^way //p' "$said" | awk -F'|' '{
    verdict = findings = $2
    sub(/ .*/, "", verdict)
    sub(/^[^ ]* ?/, "", findings)
    print "| " $1 " | " verdict " | " findings " |"
}'
echo
grep -E '^(not ok|skip)' "$said"
echo "recordings: $(grep -c '^ok' "$said") as asked, $(grep -c '^not ok' "$said") not"
# What was not made proves nothing.
[ $status = 0 ] || exit 1
