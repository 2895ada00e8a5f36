/*
 * The image of plan `cartridge` (plan/check.h): the same program in every bank, the rest of each bank filled
 * with bytes of its own, each page sealed. Inside rom/ only.
 *
 * A field, NTSC (PAL in brackets): vertical sync 3 lines, blank 37 (45), in which the slate is worked out;
 * slate 24; picture 168 (204), of which the first CHECK_SCREEN_LINES show the item and the counts as
 * hexadecimal digits, the rest and the overscan are the work window: the processor checks, and nothing is
 * drawn. No line there ends by WSYNC: the 6532's timer is set as the window begins, and read until it has run
 * down as it ends. So whatever the work takes, up to check_window(), the frame has its lines.
 *
 * In the window a job runs from the console's RAM, over the slate's rows, which are no longer needed; a job
 * may select banks as it likes, and goes back to the home bank (the one that came up) before it jumps into
 * the cartridge again. Should that bank not come back, the program is the same in whichever is there.
 *
 * Label `work`: entered at the start of the window. Label `work_done`: jumped to, from RAM or from the
 * cartridge, after at most check_window() cycles on any path (prove_work()); no more stack than on entry.
 * Between them are the jobs' alone.
 */
#ifndef SLOTJIG_ROM_CHECK_H
#define SLOTJIG_ROM_CHECK_H

#include "plan/check.h"
#include "rom/encoder.h"
#include "rom/kernel.h"
#include "rom/rom.h"

enum {
    CHECK_JOB_AT = RAM_SLATE, /* a job's code in the console's RAM */
    CHECK_JOB_MAX = RAM_SLATE_END - RAM_SLATE,
    /* The kernel's, from RAM_STEP to RAM_VALUE + 2, are as kernel.h says. RAM_VALUE is the item that the next
     * field's slate and digits show: what, place, kind, in this order. */
    RAM_SHOWN_FOR = 0xD0, /* fields that the item has been shown: the kernel counts, and comes to `work` only
                             when they are at least the hold; who puts another item into RAM_VALUE sets 0 */
    RAM_ERRORS = 0xD1,    /* two bytes, low first */
    RAM_ROUNDS = 0xD3,    /* two bytes, low first */
    RAM_FIRST_ERROR = 0xD5, /* three bytes: the first bad item since the start, which the picture shows too;
                               all 0: none */
    RAM_HOME = 0xD8,        /* the bank that came up */
    RAM_JOBS = 0xD9,        /* the jobs' own, to RAM_JOBS_END - 1 */
    RAM_JOBS_END = 0xF3,
    RAM_WARM = 0xF3,  /* tells a start through a vector within a job from power-on */
    RAM_SPOILT = 0xF4 /* to $FB: where indexed accesses over a page's end write; the stack is $FC to $FF */
};

/* Code that comes to the end of its page goes over the page's seal by a jump of its own (encode_sealed()): 3
 * cycles, 7 bytes. A table needs encode_room() before its label. The text that the picture shows, and the
 * slate's preparation, use RAM_STEP to RAM_VECTOR + 1 and the slate's rows: nothing of the jobs outlives a
 * field there. RAM_HOLD and RAM_HOLD + 1 are the text's constants. */

/* Cycles from `work` to `work_done` that a field has to spare, with what entering and leaving takes off. */
int check_window(enum standard standard);

/* The work of all fields: `work` and all that follows, the jobs' code (as tables, copied to RAM when run),
 * their tables. Owner of what happens between the labels. */
void check_work_emit(struct encoder *encoder, const struct cart_check *check, int window);
/* Of cold start: RAM_JOBS, RAM_ERRORS, RAM_ROUNDS, RAM_FIRST_ERROR, and the first item. A start through a
 * vector within a job (RAM_WARM) goes back to it instead: label `warm`, jumped to before RAM is cleared. */
void check_work_start(struct encoder *encoder, const struct cart_check *check);
void check_work_warm(struct encoder *encoder, const struct cart_check *check);

/* Proves the paths from `work` to `work_done`: at most `window` cycles, code fetched from the cartridge only
 * while the home bank is there or the bytes are the same in all banks, writes only to RAM_JOBS, RAM_SLATE,
 * RAM_VALUE, RAM_ERRORS, RAM_ROUNDS, RAM_FIRST_ERROR, RAM_SHOWN_FOR, the stack, ports and timers other than
 * INTIM's own count, and the cartridge. *worst: the cycles of the longest path. */
bool prove_work(const struct encoder *encoder, const struct cart_check *check, int window, int *worst,
                struct problem *problem);

/* The whole image: scheme_bytes() bytes. As rom_build(). */
bool check_build(const struct plan *plan, const struct rom_options *options, struct image **image,
                 struct problem *problem);

#endif
