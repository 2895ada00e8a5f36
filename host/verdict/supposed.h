/*
 * A cartridge as it would be if something supposed were true of it: a good image behind broken lines, banks
 * that do not switch as they should, RAM that is not there. Access by access, without time. What it says is
 * held against what a reader saw. Inside verdict/ only.
 *
 * Apart from the virtual bench's cartridge on purpose: a fault that both take for the same has been thought
 * of twice.
 */
#ifndef SLOTJIG_VERDICT_SUPPOSED_H
#define SLOTJIG_VERDICT_SUPPOSED_H

#include "base/scheme.h"
#include "verdict/verdict.h"

enum {
    SUPPOSED_SHORTS = 2,
    ADDRESS_LINES = 13,
    DATA_LINES = 8,
    SELECT_LINE = 12,
    SELECTED = 1 << SELECT_LINE
};

struct line_pair {
    uint8_t a, b;
};

/* How it is told. */
struct supposed_name {
    int16_t kind;    /* enum finding_kind */
    int8_t bit, reg; /* as struct finding's; -1; of a line that is stuck, reg is its level */
    int16_t place;   /* address of FINDING_CART_SWITCHES_TOO, or hotspot's bank */
    int16_t bank;    /* that is selected; -1: none */
};

struct supposition {
    struct supposed_name names[SCHEME_BANKS_MAX]; /* hold together */
    int name_count;
    uint16_t high, low; /* address lines that stand so, whatever is driven; an open one reads high [P] */
    int address_shorts, data_shorts;
    struct line_pair address_short[SUPPOSED_SHORTS], data_short[SUPPOSED_SHORTS]; /* low wins [P] */
    uint8_t data_low, data_high, data_floats;
    uint8_t held_low, held_high; /* while A12 = 0 */
    int8_t selects[SCHEME_BANKS_MAX];
    uint16_t also_at; /* 0: no such address */
    int8_t also_selects;
    int8_t first_bank; /* before anything was selected */
    bool first_sure;   /* it is part of what is supposed; else any bank may come up */
    bool no_ram;
};
/* Nothing is wrong. */
struct supposition supposition_none(int scheme);
/* Both at once. False where they contradict each other. */
bool supposition_join(const struct supposition *a, const struct supposition *b, int scheme,
                      struct supposition *both);

/* What a line shows that nobody drives. */
enum floats { FLOATS_HIGH, FLOATS_LOW, FLOATS_KEEPS, FLOATS };

struct supposed {
    const struct supposition *what;
    const uint8_t *image;
    int scheme;
    bool ram;
    enum floats floats;
    int bank;
    uint8_t bus; /* what was on the data lines last */
    uint8_t cells[SCHEME_RAM], cells_known[SCHEME_RAM];
};
/* Freshly powered. image: scheme_bytes(). */
void supposed_start(struct supposed *cartridge, const struct supposition *what, const uint8_t *image,
                    int scheme, bool ram, enum floats floats);

/* A hotspot may show the bank before or the one after [P]: two values. known: bits that can be told. driven:
 * lines that the cartridge drives. */
struct answer {
    uint8_t value, other, known, driven;
};
/* written: the byte that the reader drives, or -1. The answer's byte is taken to be on the bus then. */
struct answer supposed_access(struct supposed *cartridge, uint16_t address, int written);
/* Whether the byte may be that answer, in these bits. */
bool answer_is(struct answer answer, uint8_t byte, uint8_t bits);

/* The address that arrives. */
uint16_t supposed_address(const struct supposition *what, uint16_t address);

#endif
