/*
 * The inputs of fuzz_board: a header of HEADER bytes, then actions, each a byte of enum action and its
 * operands (numbers little endian). Missing bytes are 0.
 */
#ifndef TESTS_FUZZ_BOARD_SCRIPT_H
#define TESTS_FUZZ_BOARD_SCRIPT_H

enum {
    HEADER = 4, /* seed:1 flash_fault_one_in:1 (0 none) power_cut_after:2 (0xFFFF never) */
    NEVER_CUT = 0xFFFF
};

enum action {
    ACT_RAW,     /* count:2 bytes: onto the wire as they are */
    ACT_FRAME,   /* type:1 sequence:1 count:2 bytes: in a good frame */
    ACT_BEGIN,   /* scheme:1 flags:1 seed:1 keep:4: WIRE_BEGIN of an image made from the seed */
    ACT_BLOCKS,  /* first:1 count:1: blocks of that image */
    ACT_COMMIT,  /* nothing */
    ACT_WAIT,    /* ms:2 */
    ACT_CYCLES,  /* address:2 step:1 count:1: bus cycles in the slot */
    ACT_SUPPLY,  /* on:1 */
    ACT_UNPLUG,  /* nothing */
    ACT_RESTART, /* nothing: power off and on, and no more power cut */
    ACT_TAKE,    /* nothing: the host reads what the board has sent */
    ACTIONS
};

#endif
