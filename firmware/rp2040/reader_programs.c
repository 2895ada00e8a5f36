#include "rp2040/reader_programs.h"

#include "core/reader.h"
#include "rp2040/clocks.h"

/* Parts of a loop's time: `turns` times `each` cycles, by SET and JMP Y--. */
enum {
    CYCLE_PS = 8000,
    SETTLE_TURNS = 18,
    SETTLE_EACH = 4,
    TAKES_TURNS = 13,
    TAKES_EACH = 4,
    REST_TURNS = 11,
    REST_EACH = 4,
    REST_FIRST = 4,
    FIRST_HALF_TURNS = 10,
    FIRST_HALF_EACH = 4
};
_Static_assert(CLK_SYS_HZ / 1000 * CYCLE_PS == 1000000000LL, "the cycles are counted for 125 MHz");

/* SET, the loop, PULL, OUT. */
_Static_assert((1 + SETTLE_TURNS * SETTLE_EACH + 2) * CYCLE_PS >= READER_SETTLE_NS * 1000,
               "`from` stands still too short");
/* As long as sample() with `after` = TAKES_TURNS * TAKES_EACH. */
_Static_assert((TAKES_TURNS * TAKES_EACH + READER_OWN) * CYCLE_PS >= READER_TAKES_NS * 1000 &&
                   (TAKES_TURNS * TAKES_EACH - READER_OWN - 1) * CYCLE_PS < READER_TAKES_NS * 1000,
               "the console takes its data at another time");
/* A bus cycle of 838 ns is 104.76 cycles: 105. */
enum {
    READ_PERIOD = 1 + 1 + TAKES_TURNS * TAKES_EACH + 1 + REST_FIRST + REST_TURNS * REST_EACH + 1 + 1,
    /* MOV, OUT PINDIRS, IN, NOP, PULL with their delays */
    WRITE_PERIOD = 1 + 1 + FIRST_HALF_TURNS * FIRST_HALF_EACH + 2 + 16 + 16 + 16 + 13
};
_Static_assert((int)READ_PERIOD == (int)WRITE_PERIOD &&
                   (READ_PERIOD * CYCLE_PS + 999) / 1000 >= READER_PACE_NS &&
                   (READ_PERIOD - 1) * CYCLE_PS / 1000 < READER_PACE_NS,
               "not the console's pace");

/* One side-set bit: PIN_DIRECTION. The translator turns before the data pins drive, and back after they have
 * let go. The directions are set for all lines at once, so the addresses stay outputs. */
const uint16_t reader_program[PIO_INSTRUCTIONS] = {
    [READER_IDLE] = PULL_BLOCK, /* .wrap_target
                                   pull */
    [1] = OUT(AT_PC, 5),        /* out pc, 5 */

    [READER_SAMPLE] = OUT(AT_X, 8),                    /* out x, 8 */
    [3] = OUT(AT_PINS, 13),                            /* out pins, 13      ; from */
    [4] = SET(AT_Y, SETTLE_TURNS - 1),                 /* set y, turns */
    [5] = JMP(JMP_Y_DOWN, 5) | DELAY(SETTLE_EACH - 1), /* jmp y--, here [3] */
    [6] = PULL_BLOCK,                                  /* pull */
    [7] = OUT(AT_PINS, 13),                            /* out pins, 13      ; to */
    [8] = JMP(JMP_X_DOWN, 8),                          /* jmp x--, here */
    [9] = IN(AT_PINS, 8),                              /* in pins, 8        ; pushes */
    [10] = JMP(JMP_ALWAYS, READER_IDLE),               /* jmp idle */

    [READER_READ] = OUT(AT_X, 27),                            /* out x, 27 */
    [12] = PULL_BLOCK,                                        /* pull */
    [13] = OUT(AT_PINS, 13),                                  /* out pins, 13 */
    [14] = SET(AT_Y, TAKES_TURNS - 1),                        /* set y, turns */
    [15] = JMP(JMP_Y_DOWN, 15) | DELAY(TAKES_EACH - 1),       /* jmp y--, here [3] */
    [16] = IN(AT_PINS, 8),                                    /* in pins, 8        ; pushes */
    [17] = SET(AT_Y, REST_TURNS - 1) | DELAY(REST_FIRST - 1), /* set y, turns [3] */
    [18] = JMP(JMP_Y_DOWN, 18) | DELAY(REST_EACH - 1),        /* jmp y--, here [3] */
    [19] = JMP(JMP_X_DOWN, 12),                               /* jmp x--, next */
    [20] = JMP(JMP_ALWAYS, READER_IDLE),                      /* jmp idle */

    [READER_WRITE] = OUT(AT_PINS, READER_LINES),                /* out pins, 21 */
    [22] = SET(AT_Y, FIRST_HALF_TURNS - 1),                     /* set y, turns */
    [23] = JMP(JMP_Y_DOWN, 23) | DELAY(FIRST_HALF_EACH - 1),    /* jmp y--, here [3] */
    [24] = MOV_NOT(AT_OSR, AT_NULL) | SIDE(1) | DELAY(1),       /* mov osr, ~null   side 1 [1] */
    [25] = OUT(AT_PINDIRS, READER_LINES) | SIDE(1) | DELAY(15), /* out pindirs, 21  side 1 [15] */
    [26] = IN(AT_NULL, 8) | SIDE(1) | DELAY(15),                /* in null, 8       side 1 [15]  ; pushes */
    [27] = NOP | SIDE(1) | DELAY(15),                           /* nop              side 1 [15] */
    [28] = PULL_BLOCK | SIDE(1) | DELAY(12),                    /* pull             side 1 [12] */
    [29] = OUT(AT_PINS, READER_LINES) | SIDE(1) | DELAY(3),     /* out pins, 21     side 1 [3]   ; A12 = 0 */
    [30] = PULL_BLOCK | SIDE(1),                                /* pull             side 1 */
    [31] = OUT(AT_PINDIRS, READER_LINES) | SIDE(1),             /* out pindirs, 21  side 1      .wrap */
};
