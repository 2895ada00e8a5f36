#include "rp2040/slot_programs.h"

#include "pico/pins.h"

enum {
    /* PIO0 */
    PUT = 0,
    DRIVE_ON = 1,
    DRIVE_HELD = 4,
    DRIVE_OFF = 9,
    DRIVE_IDLE = 11,
    DRIVE_END = 15,
    STEADY = 16,
    STEADY_IDLE = 19,
    STEADY_MOVED = 23,
    STEADY_END = 31,
    /* PIO1 */
    READ = 0,
    READ_END = 2,
    CYCLE = 3,
    CYCLE_AGAIN = 6,
    CYCLE_END = 12,
    WRITE = 13,
    WRITE_END = 25
};

/* `read` takes a sample every READ_PERIOD cycles: twice what a hop of the DMA was assumed to take, so that
 * the two hops of one sample are over before the next one's second hop begins. */
enum { READ_PERIOD = 10, READ_DELAY = READ_PERIOD - 3 };

/* `cycle` looks whether the address stayed CYCLE_LOOK cycles after it asked for a sample, and asks for the
 * next one after CYCLE_PERIOD: a bus cycle of 838.1 ns is 104.8 cycles at 125 MHz. */
enum { CYCLE_PERIOD = 105, CYCLE_LOOK = 86 };

/* `write` samples the data lines this long after IRQ 1; see boards/pico/timing.md. */
enum { WRITE_WAIT = 42 };

const uint16_t slot_program0[PIO_INSTRUCTIONS] = {
    /* put: .wrap_target, .wrap */
    [PUT] = OUT(AT_PINS, 8), /* out pins, 8 (waits for the FIFO: autopull) */

    /* drive: one side-set bit, PIN_DIRECTION. The translator turns around before the pins drive, and after
     * they let go. OSR holds what goes to the pin directions next. */
    [DRIVE_ON] = NOP | SIDE(1),                           /* nop              side 1 */
    [2] = OUT(AT_PINDIRS, 8) | SIDE(1),                   /* out pindirs, 8   side 1 */
    [3] = MOV(AT_OSR, AT_NULL) | SIDE(1),                 /* mov osr, null    side 1 */
    [DRIVE_HELD] = MOV(AT_ISR, AT_NULL) | SIDE(1),        /* mov isr, null    side 1 */
    [5] = IN(AT_PINS, 5) | SIDE(1),                       /* in pins, 5       side 1   ; A7-A11 */
    [6] = MOV(AT_Y, AT_ISR) | SIDE(1),                    /* mov y, isr       side 1 */
    [DRIVE_LEAVES] = JMP(JMP_NOT_Y, DRIVE_OFF) | SIDE(1), /* jmp !y, off      side 1 */
    [8] = JMP(JMP_PIN, DRIVE_HELD) | SIDE(1),             /* jmp pin, held    side 1   ; A12 */
    [DRIVE_OFF] = OUT(AT_PINDIRS, 8) | SIDE(1),           /* out pindirs, 8   side 1 */
    [10] = MOV_NOT(AT_OSR, AT_NULL) | SIDE(0),            /* mov osr, ~null   side 0 */
    [DRIVE_IDLE] = MOV(AT_ISR, AT_NULL) | SIDE(0),        /* .wrap_target
                                                             mov isr, null    side 0 */
    [12] = IN(AT_PINS, 5) | SIDE(0),                      /* in pins, 5       side 0 */
    [13] = MOV(AT_Y, AT_ISR) | SIDE(0),                   /* mov y, isr       side 0 */
    [DRIVE_STAYS] = JMP(JMP_NOT_Y, DRIVE_IDLE) | SIDE(0), /* jmp !y, idle     side 0 */
    [DRIVE_END] = JMP(JMP_PIN, DRIVE_ON) | SIDE(0),       /* jmp pin, on      side 0   .wrap */

    /* steady: X is the address last reported, then the candidate; the ISR has the table's address in front.
     * Samples are 4 cycles apart, so a false address must stay for more than 8 to be taken. */
    [STEADY] = SET(AT_Y, 1),                         /* .wrap_target
                                                        set y, 1 */
    [17] = IN(AT_Y, 3),                              /* in y, 3 */
    [18] = IN(AT_NULL, 15),                          /* in null, 15      ; 0x20000000 >> 14 */
    [STEADY_IDLE] = MOV(AT_OSR, AT_PINS),            /* mov osr, pins */
    [20] = OUT(AT_Y, 13),                            /* out y, 13 */
    [21] = JMP(JMP_DIFFER, STEADY_MOVED),            /* jmp x!=y, moved */
    [22] = JMP(JMP_ALWAYS, STEADY_IDLE),             /* jmp idle */
    [STEADY_MOVED] = MOV(AT_X, AT_Y),                /* mov x, y */
    [24] = MOV(AT_OSR, AT_PINS),                     /* mov osr, pins */
    [25] = OUT(AT_Y, 13),                            /* out y, 13 */
    [26] = JMP(JMP_DIFFER, STEADY_MOVED) | DELAY(1), /* jmp x!=y, moved [1] */
    [27] = MOV(AT_OSR, AT_PINS),                     /* mov osr, pins */
    [28] = OUT(AT_Y, 13),                            /* out y, 13 */
    [29] = JMP(JMP_DIFFER, STEADY_MOVED),            /* jmp x!=y, moved */
    [30] = IN(AT_X, 13),                             /* in x, 13 */
    [STEADY_END] = IN(AT_NULL, 1),                   /* in null, 1       ; pushes    .wrap */
};

const uint16_t slot_program1[PIO_INSTRUCTIONS] = {
    /* read: Y is the served lanes' address >> 15, X the bank. */
    [READ] = IN(AT_Y, 17) | DELAY(READ_DELAY), /* .wrap_target
                                                  in y, 17 [delay] */
    [1] = IN(AT_PINS, 12),                     /* in pins, 12 */
    [READ_END] = IN(AT_X, 3),                  /* in x, 3          ; pushes    .wrap */

    /* cycle: X is the address. */
    [CYCLE] = WAIT_IRQ_SET(FLAG_WINDOW),                                               /* .wrap_target
                                                                                          wait 1 irq 0 */
    [4] = MOV(AT_OSR, AT_PINS),                                                        /* mov osr, pins */
    [5] = OUT(AT_X, 13),                                                               /* out x, 13 */
    [CYCLE_AGAIN] = IRQ_SET(FLAG_CYCLE) | DELAY(31),                                   /* irq 1 [31] */
    [7] = NOP | DELAY(31),                                                             /* nop [31] */
    [8] = NOP | DELAY(CYCLE_LOOK - 64 - 1),                                            /* nop [look] */
    [9] = MOV(AT_OSR, AT_PINS),                                                        /* mov osr, pins */
    [10] = OUT(AT_Y, 13),                                                              /* out y, 13 */
    [11] = JMP(JMP_DIFFER, CYCLE),                                                     /* jmp x!=y, cycle */
    [CYCLE_END] = JMP(JMP_ALWAYS, CYCLE_AGAIN) | DELAY(CYCLE_PERIOD - CYCLE_LOOK - 4), /* jmp again [rest]
                                                                                          .wrap */

    /* write: IN_BASE is D0, so A0 is bit 19. Y is the served lanes' address >> 11. Two words: where the byte
     * lies eight times over (in the lanes of the write window, which nobody reads), and the RAM's lanes. */
    [WRITE] = WAIT_IRQ_SET(FLAG_CYCLE),               /* .wrap_target
                                                         wait 1 irq 1 */
    [14] = MOV(AT_OSR, AT_PINS),                      /* mov osr, pins */
    [15] = OUT(AT_NULL, 19),                          /* out null, 19 */
    [16] = OUT(AT_X, 7),                              /* out x, 7         ; A0-A6 */
    [17] = MOV_NOT(AT_OSR, AT_NULL) | DELAY(31),      /* mov osr, ~null [31] */
    [18] = IN(AT_Y, 21) | DELAY(WRITE_WAIT - 32 - 2), /* in y, 21 [wait] */
    [19] = IN(AT_NULL, 1),                            /* in null, 1 */
    [20] = IN(AT_PINS, 8),                            /* in pins, 8       ; the sample */
    [21] = IN(AT_NULL, 2),                            /* in null, 2       ; pushes */
    [22] = IN(AT_Y, 21),                              /* in y, 21 */
    [23] = IN(AT_OSR, 1),                             /* in osr, 1        ; lanes of $1080 lie 0x400 in */
    [24] = IN(AT_X, 7),                               /* in x, 7 */
    [WRITE_END] = IN(AT_NULL, 3),                     /* in null, 3       ; pushes    .wrap */
};

const uint16_t slot_drive_nop[2] = {NOP | SIDE(1), NOP | SIDE(0)};

#define PINS(base, position) ((uint32_t)(base) << (position))
enum { IN_ADDRESS = PIN_ADDRESS << PIO_IN_BASE, IN_DATA = PIN_DATA << PIO_IN_BASE };

const struct slot_machine slot_machines[SLOT_PARTS] = {
    [SLOT_PUT] = {PIO0_BASE, 0, PUT, PUT, PUT, 0, PIO_AUTOPULL | PIO_OUT_RIGHT | PINS(8, PIO_PULL_AT),
                  PINS(PIN_DATA, PIO_OUT_BASE) | PINS(PIN_DATA_COUNT, PIO_OUT_COUNT)},
    [SLOT_DRIVE] = {PIO0_BASE, 1, DRIVE_OFF, DRIVE_IDLE, DRIVE_END, PINS(PIN_A12, PIO_JMP_PIN), PIO_OUT_RIGHT,
                    PINS(PIN_DATA, PIO_OUT_BASE) | PINS(PIN_DATA_COUNT, PIO_OUT_COUNT) |
                        PINS(PIN_DIRECTION, PIO_SIDE_BASE) | PINS(1, PIO_SIDE_COUNT) |
                        PINS(PIN_ADDRESS + 7, PIO_IN_BASE)},
    [SLOT_STEADY] = {PIO0_BASE, 2, STEADY, STEADY, STEADY_END, 0, PIO_AUTOPUSH | PIO_OUT_RIGHT, IN_ADDRESS},
    [SLOT_READ] = {PIO1_BASE, 0, READ, READ, READ_END, 0, PIO_AUTOPUSH | PIO_OUT_RIGHT, IN_ADDRESS},
    [SLOT_CYCLE] = {PIO1_BASE, 1, CYCLE, CYCLE, CYCLE_END, 0, PIO_OUT_RIGHT, IN_ADDRESS},
    [SLOT_WRITE] = {PIO1_BASE, 2, WRITE, WRITE, WRITE_END, 0, PIO_AUTOPUSH | PIO_OUT_RIGHT, IN_DATA},
};
