/*
 * A small assembler: instructions, labels and data into the bytes of an image, remembered item by item for
 * the listing. Errors are kept until encoder_finish(), so that code that emits stays readable.
 */
#ifndef SLOTJIG_ROM_ENCODER_H
#define SLOTJIG_ROM_ENCODER_H

#include "base/problem.h"
#include "rom/opcodes.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { LABEL_MAX = 24, LABELS_MAX = 1024, ITEMS_MAX = 4096, IMAGE_MAX = 4096 };

struct label {
    char name[LABEL_MAX];
    int offset; /* from the image's start; -1: used and not yet placed */
};

enum item_kind { ITEM_CODE, ITEM_DATA, ITEM_FILL };

struct item {
    enum item_kind kind;
    uint16_t offset, size;
    int16_t label; /* operand is this label, plus `plus`; -1: a number */
    int16_t plus;
    char half;        /* a table's byte of an address: '<' the low one, '>' the high one; 0: not halved */
    const char *note; /* static text, or NULL */
};

/* What the proof is told about one instruction, beyond its bytes. */
enum claim_kind {
    CLAIM_NONE,
    CLAIM_CYCLE,    /* a store: it ends with that cycle of its line */
    CLAIM_CYCLE_IN, /* likewise, with the cycle that this byte of RAM holds */
    CLAIM_EACH,     /* a load: each value is a path of its own */
    CLAIM_DRAWS,    /* a store: the address of a register that draws; which, does not matter from here on */
    CLAIM_FORGET,   /* what is known of values does not matter from here on */
    CLAIM_WINDOW,   /* a jump: to code that another proof follows; it goes on at the encoder's `window_end` */
    CLAIM_TIMER,    /* a branch back to a read of INTIM right before it: goes on when the timer is at 0 */
    CLAIM_NEVER     /* never run, as far as the other proof says */
};

struct claim {
    uint8_t kind; /* enum claim_kind */
    uint8_t value;
};

struct encoder {
    uint16_t origin; /* address of the first byte */
    size_t limit;    /* bytes there are */
    size_t size;     /* bytes so far */
    uint8_t bytes[IMAGE_MAX];
    int label_count, item_count;
    struct label labels[LABELS_MAX];
    struct item items[ITEMS_MAX];
    struct claim claims[IMAGE_MAX]; /* by the offset of an instruction's first byte */
    int counted_from, counted_to;   /* offsets between which lines are counted by their cycles */
    bool sealed;                    /* pages carry seals (encode_sealed()) */
    int window_end;                 /* label at which CLAIM_WINDOW goes on */
    size_t code_bytes, table_bytes;
    int target_low, target_high; /* labels of the tables that indirect jumps go by */
    int target_count;            /* rows; 0: there are none */
    struct problem problem;      /* the first error; kind PROBLEM_NONE: none so far */
};

/* limit is 2048 or 4096; the image ends at $FFFF. */
void encoder_start(struct encoder *encoder, size_t limit);

void encode(struct encoder *encoder, const char *mnemonic, enum mode mode, uint16_t operand,
            const char *note);
/* The operand is a label (an address, or the target of a branch) plus a number of bytes. */
void encode_to(struct encoder *encoder, const char *mnemonic, enum mode mode, const char *label, int plus,
               const char *note);
void encode_label(struct encoder *encoder, const char *name);
void encode_data(struct encoder *encoder, const uint8_t *bytes, size_t count, const char *note);
/* A table of addresses is made of these: two bytes, low first. */
void encode_address(struct encoder *encoder, const char *label);
/* The low or the high byte of an address. */
void encode_address_half(struct encoder *encoder, const char *label, bool high);
/* Every indirect jump goes to one of `count` addresses, whose halves are in these two tables of bytes: the
 * proof follows each. */
void encode_targets(struct encoder *encoder, const char *low, const char *high, int count);
/* The store just emitted ends with this cycle of its line (0..76), exactly and on every path that comes by:
 * the proof refuses the image otherwise. */
void encode_mark(struct encoder *encoder, int cycle);
/* The same of the cycle (0..75) that the byte of RAM holds: the proof must know it there. */
void encode_mark_in(struct encoder *encoder, uint8_t ram);
/* Of the load just emitted: the proof follows a path of its own for each of the 256 values, where it does not
 * know the value. The program cuts down to those that make sense; what can't be is then no path. */
void encode_each(struct encoder *encoder);
/* Of the store to RAM just emitted: it stores the address of a register of colours or playfield. The proof
 * checks that, and no longer knows which: LDX of that byte and STA $00,X are then a write that moves nothing.
 */
void encode_draws(struct encoder *encoder);
/* After the instruction just emitted the proof forgets the values that it knows in registers, flags and RAM,
 * so that paths join again. */
void encode_forget(struct encoder *encoder);
/* From here to encode_counted_end() lines need not end with a store to WSYNC: each 76 cycles are one, and the
 * proof accepts nothing that may take one cycle or another. At most one such stretch an image. */
void encode_counted(struct encoder *encoder);
void encode_counted_end(struct encoder *encoder);
/* Zeros up to an offset from the start; an error when it is passed already. */
void encode_fill(struct encoder *encoder, size_t offset);
/* Exactly so many cycles that change nothing but flags: 0, or 2 and more. */
void encode_delay(struct encoder *encoder, int cycles);

/* From here on each page keeps SEAL_BYTES free for its seal, at seal_place(). Code goes over them by a jump
 * of its own (3 cycles) wherever it comes to them; data that would need one is refused: ask for room first.
 */
void encode_sealed(struct encoder *encoder);
/* So many bytes that follow lie in one page, clear of its seal; a jump to the next page if need be. */
void encode_room(struct encoder *encoder, size_t bytes);
/* On to the next page: by a jump, 3 cycles, unless nothing comes by here. */
void encode_next_page(struct encoder *encoder);
/* Bytes up to the seal of the page that is being filled. */
size_t encoder_room(const struct encoder *encoder);
enum { SEAL_BYTES = 4 };
/* Where in its page the seal of the page at this offset is. In the last page it is below the vectors and what
 * lies before them. */
int seal_place(const struct encoder *encoder, size_t offset);

/* Of the jump just emitted: it goes to work that prove_work() follows, which comes back to `label` before the
 * timer has run down. */
void encode_window(struct encoder *encoder, const char *label);
/* Of the branch just emitted, to the LDA INTIM right before it: that it goes on when the timer gets to 0. The
 * proof works out when that is from the store that set the timer, and refuses what is not within one line. */
void encode_timer(struct encoder *encoder);
/* Of the instruction just emitted: the window's proof says that it is not come to. */
void encode_never(struct encoder *encoder);

/* Resolves labels. False with the first error: an unknown label, a branch too far, no such instruction, no
 * room. */
bool encoder_finish(struct encoder *encoder, struct problem *problem);

/* The label at or last before an offset, "start" if there is none. */
const char *encoder_where(const struct encoder *encoder, size_t offset);

#endif
