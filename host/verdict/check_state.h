/* What the judge of plan `cartridge` keeps, and its parts. Inside verdict/ only. */
#ifndef SLOTJIG_VERDICT_CHECK_STATE_H
#define SLOTJIG_VERDICT_CHECK_STATE_H

#include "verdict/check.h"
#include "verdict/state.h"

struct item_state {
    uint32_t turn;     /* in which it was read last; 0: never */
    uint32_t bad_turn; /* in which it was bad last */
    uint32_t streak;   /* rounds in a row, the last one among them, in which it was bad */
};

/* CRC and sum of a page, as they come one after the other. */
struct page_state {
    uint32_t turn; /* of what is below */
    unsigned have; /* bits 0..2: high byte, low byte, sum */
    uint8_t part[3];
    uint32_t byte_turn; /* BYTE and XOR; 0: not told */
    uint8_t byte, flipped;
    bool has_xor;
};

struct ram_state {
    uint8_t elements[CHECK_BACKGROUNDS]; /* masks, as last read */
    bool known[CHECK_BACKGROUNDS];
};

struct check_state {
    struct check_seen seen;
    struct item_state state[CHECK_ITEMS_MAX];
    struct page_state page_state[SCHEME_PAGES_MAX];
    struct ram_state ram;
    int16_t index[CHECK_KINDS][256]; /* into the items; -1: no such item */
    uint32_t turn;                   /* the round under way, counted from 1 as the watch began */
    int last;                        /* item read last, -1: none */
    size_t read_in_turn;
    uint32_t bad_turn; /* the last round in which any item was bad */
    bool began_whole;  /* the watch saw the first round's start */
    bool told;         /* it has told its count of rounds at least once */
    bool numbered;     /* the console's number of a round is its turn + number */
    int64_t number;
    uint32_t first_rounds;             /* the console's count when it was first told, since its last start */
    uint32_t watched_before;           /* rounds watched before its last start */
    uint32_t accepted, strange, blind; /* blind: fields without a slate since the last one with one */
    uint32_t started_at;               /* accepted, at the last START */
    uint32_t late;                     /* fields that told of work which took too long */
};

static inline const struct check_item_seen *check_find(const struct check_state *state, enum check_kind kind,
                                                       int place) {
    const int at = state->index[kind][place & 0xFF];
    return at >= 0 ? &state->seen.items[at] : NULL;
}
/* Bad for sure, each time it was looked at. */
static inline bool check_is_steady(const struct check_state *state, enum check_kind kind, int place) {
    const struct check_item_seen *item = check_find(state, kind, place);
    return item != NULL && item->steady;
}

/* The first of a run of addresses as a processor's programmer writes it: $F000 to $FFFF. */
static inline unsigned check_address(uint16_t address) {
    return 0xE000u | address;
}

/* Works out which byte is wrong or which page shows, for each bad page. */
void check_locate_pages(struct check_state *state);
/* Findings; each says whether it added one. told: pages that need no more words. */
void check_tell_banks(const struct check_state *state, struct result *result, bool told[SCHEME_PAGES_MAX]);
void check_tell_pages(const struct check_state *state, struct result *result, bool told[SCHEME_PAGES_MAX]);
void check_tell_vectors(const struct check_state *state, struct result *result);
void check_tell_ram(const struct check_state *state, struct result *result);
/* All of it, and the verdict of what was read so far. */
void check_tell(struct check_state *state, struct result *result);

/* ---- RAM by class (check_ram.c) ---- */

/* What a round of March C- said. */
struct ram_signs {
    uint8_t elements[CHECK_BACKGROUNDS]; /* bit e: element e had a wrong read */
    int cell, background, element;       /* of the first wrong read */
    uint8_t flipped;
    uint32_t wrong; /* reads of the round, 255 for more */
};
/* Which faults of one cell, or of a pair, say the very same. */
struct ram_causes {
    bool stuck, transition, inversion, idempotent, state, no_cell, other_cell, both_cells;
    int stuck_at;    /* value; of a transition: the one that it cannot go to */
    int pairs;       /* cells that may be the other one */
    int by_cell, by; /* of the only one, else -1 */
};
void ram_classify(const struct ram_signs *signs, struct ram_causes *causes);

#endif
