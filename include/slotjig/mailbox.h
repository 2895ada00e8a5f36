/*
 * What console and board say to each other through the slot, which has no write line.
 *
 * Board to console: bytes near the top of the image, which the board changes while it serves them; on a plain
 * cartridge they keep what the image holds (0), so every image runs without a board. Console to board: reads
 * of addresses that mean something. Addresses are 13 bits, A12 set. Nothing here lies on a hotspot.
 *
 * The start: the reset vector is MAILBOX_ENTRY, where a JMP to the program stands. The bytes are chosen so
 * that each of the 16 ways in which one data line can be stuck sends the processor somewhere else: as the
 * vector is $FFE0, lines 0-3 low change A8-A11, 4 low A12, 5-7 low A5-A7, 0-4 high A0-A4; lines 5-7 high
 * leave the vector alone and turn JMP (opcode $4C) to a program at $xx00 into JMP ($xx20), JMP $xx40 and CPY
 * $xx80, so that the fourth address after the vector is $xx20, $xx40 or $xx80 instead of $xx00. A program
 * that starts elsewhere than at the start of a page must not carry WIRE_IMAGE_MAILBOX.
 */
#ifndef SLOTJIG_MAILBOX_H
#define SLOTJIG_MAILBOX_H

enum {
    MAILBOX_ENTRY = 0x1FE0, /* three bytes: JMP to the program, whose address has a low byte of 0 */
    MAILBOX_MODE = 0x1FE3,  /* read by the program once a frame: enum mailbox_mode */
    MAILBOX_STEP = 0x1FE4,  /* step to hold */
    MAILBOX_VALUE = 0x1FE5, /* three bytes, low first: the slate's value to show next, of plans that count on
                               the console; read in this order, within 3 ms of the read of MAILBOX_MODE that
                               says so (the board changes them no sooner than 4 ms after it says otherwise) */
    /* Reads that tell the board something. */
    MAILBOX_IN_RAM = 0x1FE8, /* read once a frame by the hand-over's loop: the console runs from its RAM */
    MAILBOX_VECTOR_LOW =
        0x1FE9, /* an echo follows: the low byte of the reset vector, as the console read it */
    MAILBOX_VECTOR_HIGH = 0x1FEA, /* an echo follows: the high byte */
    MAILBOX_STEP_SHOWN = 0x1FEB,  /* an echo follows: the step being shown, or the low byte of the value */
    /* An echo is LDA MAILBOX_ECHO,X right after the read that announces it: on the bus the announced address,
     * then three fetches of the program, then MAILBOX_ECHO + X. The page is read for nothing else then. Our
     * programs take the vector's bytes from $1FFE, where the same word stands: a read there looks like no
     * reset. */
    MAILBOX_ECHO = 0x1E00,
    MAILBOX_ECHO_AFTER = 4, /* bus cycles from the announcement to the echo */
    RESET_VECTOR = 0x1FFC
};

/* Values of MAILBOX_MODE. Others are taken as MAILBOX_FREE. */
enum mailbox_mode {
    MAILBOX_FREE = 0, /* step through the plan */
    MAILBOX_HOLD = 1, /* show the step in MAILBOX_STEP, without end; one past the plan's last is ignored */
    MAILBOX_HAND_OVER = 2, /* copy the loop to RAM, keep sync from there and read MAILBOX_IN_RAM once a frame
                              until MAILBOX_MODE reads otherwise, then jump through the reset vector */
    MAILBOX_GIVEN = 3, /* of a plan that counts on the console: when the value being shown has had its fields,
                          go on with the one in MAILBOX_VALUE. The board puts the next one there, or
                          MAILBOX_FREE, once it has seen the read of the third byte */
};

#endif
