/*
 * Plan cartridge: RAM by class. Faults by van de Goor's classes ("Testing Semiconductor Memories", 1991), of
 * one cell or of a pair, are tried out on the cells they touch: the March C- of plan/check.h is carried out
 * on those alone, and whatever would have said the very same is a cause that fits.
 */
#include "verdict/check_state.h"
#include "verdict/findings.h"

#include <stdio.h>
#include <string.h>

enum {
    READS_MANY = 255,
    EVERY_ELEMENT = 0x3E, /* with a read */
    READS_ONE = 0x14,     /* of them, those that expect the complement */
    READS_ZERO = 0x2A,
    NO_ONE = -1,
    ROUNDS = 2 /* the first leaves the cells as they are found by those that follow */
};

enum fault_kind { STUCK, TRANSITION, INVERSION, IDEMPOTENT, STATE, NO_CELL, OTHER_CELL, BOTH_CELLS };

/* Of `bit` (a mask) of `cell`; by_cell, by (a mask): the pair's other one. */
struct ram_fault {
    enum fault_kind kind;
    int cell, by_cell;
    uint8_t bit, by;
    bool value, when;
};

/* The cells that a fault touches, and what a round of March C- says of them. */
struct trial {
    const struct ram_fault *fault;
    bool twice; /* an indexed store writes what is on the bus first */
    uint8_t content[SCHEME_RAM];
    struct ram_signs signs;
};

/* ---- cells ---- */

static uint8_t with_bit(uint8_t byte, uint8_t bit, bool value) {
    return (uint8_t)(value ? byte | bit : byte & ~bit);
}

static void settle(struct trial *trial) {
    const struct ram_fault *fault = trial->fault;
    uint8_t *cell = &trial->content[fault->cell];
    if (fault->kind == STUCK ||
        (fault->kind == STATE && ((trial->content[fault->by_cell] & fault->by) != 0) == fault->when)) {
        *cell = with_bit(*cell, fault->bit, fault->value);
    }
}

/* A write that reached this cell. */
static void write_cell(struct trial *trial, int cell, uint8_t value) {
    const struct ram_fault *fault = trial->fault;
    const uint8_t old = trial->content[cell];
    if (fault->kind == TRANSITION && cell == fault->cell && ((old & fault->bit) != 0) != fault->value) {
        value = with_bit(value, fault->bit, !fault->value);
    }
    trial->content[cell] = value;
    const bool turned = cell == fault->by_cell && ((old ^ value) & fault->by) != 0 &&
                        ((value & fault->by) != 0) == fault->when;
    uint8_t *victim = &trial->content[fault->cell];
    if (turned && fault->kind == INVERSION) {
        *victim ^= fault->bit;
    } else if (turned && fault->kind == IDEMPOTENT) {
        *victim = with_bit(*victim, fault->bit, fault->value);
    }
    settle(trial);
}

static void write_address(struct trial *trial, int address, uint8_t value) {
    const struct ram_fault *fault = trial->fault;
    const bool at = address == fault->cell;
    if (!at || (fault->kind != NO_CELL && fault->kind != OTHER_CELL)) {
        write_cell(trial, address, value);
    }
    if (at && (fault->kind == OTHER_CELL || fault->kind == BOTH_CELLS)) {
        write_cell(trial, fault->by_cell, value);
    }
}

/* The cycle before an indexed store's own is at the same address: RAM that goes by addresses alone is written
 * then too, with the operand's high byte, fetched last [P]. */
static void store(struct trial *trial, int address, uint8_t value) {
    enum { ON_THE_BUS = 0xF0 };
    if (trial->twice) {
        write_address(trial, address, ON_THE_BUS);
    }
    write_address(trial, address, value);
}

static uint8_t read_address(const struct trial *trial, int address) {
    const struct ram_fault *fault = trial->fault;
    const bool at = address == fault->cell;
    if (at && fault->kind == NO_CELL) {
        return 0xFF; /* nothing answers: as pulled up [P] */
    }
    if (at && fault->kind == OTHER_CELL) {
        return trial->content[fault->by_cell];
    }
    return (uint8_t)(at && fault->kind == BOTH_CELLS
                         ? trial->content[address] & trial->content[fault->by_cell]
                         : trial->content[address]);
}

/* ---- March C- ---- */

/* any(w0), which goes down; up(r0,w1); up(r1,w0); down(r0,w1); down(r1,w0); any(r0) */
static const struct element {
    signed char reads, writes; /* 0, 1: the background, its complement; NO_ONE: not at all */
    bool down;
} elements[CHECK_ELEMENTS] = {{NO_ONE, 0, true}, {0, 1, false}, {1, 0, false},
                              {0, 1, true},      {1, 0, true},  {0, NO_ONE, false}};

static uint8_t pattern(int background, int which) {
    return (uint8_t)(which == 0 ? check_backgrounds[background] : ~check_backgrounds[background]);
}

static void look(struct trial *trial, int address, int background, int element) {
    struct ram_signs *signs = &trial->signs;
    const uint8_t right = pattern(background, elements[element].reads);
    const uint8_t wrong = (uint8_t)(read_address(trial, address) ^ right);
    if (wrong == 0) {
        return;
    }
    if (signs->wrong++ == 0) {
        signs->cell = address;
        signs->background = background;
        signs->element = element;
        signs->flipped = wrong;
    }
    signs->elements[background] |= (uint8_t)(1u << element);
}

static void march(struct trial *trial) {
    const int low = trial->fault->cell < trial->fault->by_cell ? trial->fault->cell : trial->fault->by_cell;
    const int sum = trial->fault->cell + trial->fault->by_cell, high = sum - low;
    trial->signs = (struct ram_signs){.cell = -1};
    for (int i = 0; i < CHECK_BACKGROUNDS * CHECK_ELEMENTS; i++) {
        const int background = i / CHECK_ELEMENTS, element = i % CHECK_ELEMENTS;
        const struct element *of = &elements[element];
        for (int turn = 0; turn < (low == high ? 1 : 2); turn++) {
            const int address = (turn == 0) == of->down ? high : low;
            if (of->reads != NO_ONE) {
                look(trial, address, background, element);
            }
            if (of->writes != NO_ONE) {
                store(trial, address, pattern(background, of->writes));
            }
        }
    }
}

static bool same_signs(const struct ram_signs *a, const struct ram_signs *b) {
    const uint32_t wrong = b->wrong < READS_MANY ? b->wrong : READS_MANY;
    return a->wrong == wrong && a->cell == b->cell && a->background == b->background &&
           a->element == b->element && a->flipped == b->flipped &&
           memcmp(a->elements, b->elements, sizeof a->elements) == 0;
}

static bool fits_stores(const struct ram_signs *signs, const struct ram_fault *fault, bool twice) {
    struct trial trial = {.fault = fault, .twice = twice};
    for (int round = 0; round < ROUNDS; round++) {
        march(&trial);
    }
    return same_signs(signs, &trial.signs);
}

static bool fits(const struct ram_signs *signs, const struct ram_fault *fault) {
    return fits_stores(signs, fault, true) || fits_stores(signs, fault, false);
}

/* ---- which fit ---- */

static void try_single(const struct ram_signs *signs, struct ram_causes *causes) {
    for (int value = 0; value < 2; value++) {
        struct ram_fault fault = {STUCK,          signs->cell, signs->cell, signs->flipped,
                                  signs->flipped, value != 0,  false};
        if (fits(signs, &fault)) {
            causes->stuck = true;
            causes->stuck_at = value;
        }
        fault.kind = TRANSITION;
        causes->transition |= fits(signs, &fault);
    }
}

static bool try_coupled(const struct ram_signs *signs, int by_cell, int by, struct ram_causes *causes) {
    bool any = false;
    for (int how = 0; how < 4; how++) {
        struct ram_fault fault = {INVERSION,           signs->cell,    by_cell,       signs->flipped,
                                  (uint8_t)(1u << by), (how & 1) != 0, (how & 2) != 0};
        bool *const found[] = {&causes->inversion, &causes->idempotent, &causes->state};
        static const enum fault_kind kinds[] = {INVERSION, IDEMPOTENT, STATE};
        for (int i = 0; i < 3; i++) {
            fault.kind = kinds[i];
            if (fits(signs, &fault)) {
                *found[i] = any = true;
            }
        }
    }
    return any;
}

static bool try_decoder(const struct ram_signs *signs, int cell, int by_cell, struct ram_causes *causes) {
    struct ram_fault fault = {OTHER_CELL, cell, by_cell, 0, 0, false, false};
    const bool other = fits(signs, &fault);
    fault.kind = BOTH_CELLS;
    const bool both = fits(signs, &fault);
    causes->other_cell |= other;
    causes->both_cells |= both;
    return other || both;
}

static bool is_single(uint8_t bits) {
    return bits != 0 && (bits & (bits - 1)) == 0;
}

void ram_classify(const struct ram_signs *signs, struct ram_causes *causes) {
    *causes = (struct ram_causes){.by_cell = -1, .by = -1};
    const struct ram_fault none = {NO_CELL, signs->cell, signs->cell, 0, 0, false, false};
    causes->no_cell = fits(signs, &none);
    if (is_single(signs->flipped)) {
        try_single(signs, causes);
    }
    for (int cell = 0; cell < SCHEME_RAM; cell++) {
        bool coupled = false;
        for (int by = 0; by < 8 && is_single(signs->flipped); by++) {
            const bool itself = cell == signs->cell && 1 << by == signs->flipped;
            if (!itself && try_coupled(signs, cell, by, causes)) {
                coupled = true;
                causes->by = causes->by_cell < 0 ? by : -1;
                causes->by_cell = cell;
            }
        }
        const bool decoder = cell != signs->cell && (try_decoder(signs, signs->cell, cell, causes) ||
                                                     try_decoder(signs, cell, signs->cell, causes));
        causes->pairs += coupled || decoder;
        causes->by_cell = decoder ? cell : causes->by_cell;
    }
    if (causes->pairs != 1) {
        causes->by_cell = causes->by = -1;
    }
}

/* ---- told ---- */

static bool gather(const struct check_state *state, struct ram_signs *signs) {
    const struct check_seen *seen = &state->seen;
    *signs = (struct ram_signs){.cell = seen->ram_cell,
                                .background = seen->ram_background,
                                .element = seen->ram_element,
                                .flipped = seen->ram_flipped,
                                .wrong = seen->ram_wrong};
    memcpy(signs->elements, state->ram.elements, sizeof signs->elements);
    for (int i = 0; i < CHECK_BACKGROUNDS; i++) {
        if (!state->ram.known[i]) {
            return false;
        }
    }
    return seen->ram_cell >= 0 && seen->ram_background >= 0;
}

/* Nothing is kept: every read of each cell is the same byte, whatever was written; of all cells one byte
 * where nobody drives the bus, or each its own. */
static bool is_missing(const struct check_state *state) {
    const struct check_seen *seen = &state->seen;
    const uint8_t first = (uint8_t)(seen->ram_flipped ^ check_backgrounds[0]);
    const bool begins = seen->ram_cell == 0 && seen->ram_background == 0 && seen->ram_element == 1 &&
                        seen->ram_wrong >= READS_MANY;
    bool one = begins, own = true;
    for (int i = 0; i < CHECK_BACKGROUNDS; i++) {
        const uint8_t bad = state->ram.elements[i], right = check_backgrounds[i];
        const uint8_t wanted = (uint8_t)(right == first            ? READS_ONE
                                         : (right ^ first) == 0xFF ? READS_ZERO
                                                                   : EVERY_ELEMENT);
        one = one && state->ram.known[i] && bad == wanted;
        own = own && state->ram.known[i] && bad == EVERY_ELEMENT;
    }
    return one || own;
}

static void say_place(const struct ram_signs *signs, struct finding *finding) {
    finding_say(finding, "Cell %d ($%04X, written at $%04X)", signs->cell,
                check_address((uint16_t)(SCHEME_RAM_READ + signs->cell)),
                check_address((uint16_t)(SCHEME_RAM_WRITE + signs->cell)));
}

static struct finding *add_cause(struct result *result, enum finding_kind kind, const struct ram_signs *signs,
                                 int *explanation) {
    struct finding *finding = finding_add(result, kind);
    if (finding != NULL) {
        finding->alternative = true;
        finding->explanation = ++*explanation;
        finding->bit = is_single(signs->flipped) ? __builtin_ctz(signs->flipped) : -1;
    }
    say_place(signs, finding);
    return finding;
}

static void tell_single(const struct ram_causes *causes, const struct ram_signs *signs, struct result *result,
                        int *count) {
    const int bit = signs->flipped != 0 ? __builtin_ctz(signs->flipped) : 0;
    if (causes->stuck) {
        finding_say(add_cause(result, FINDING_CART_RAM_STUCK, signs, count), ": D%d is always %d.", bit,
                    causes->stuck_at);
    }
    if (causes->transition) {
        finding_say(add_cause(result, FINDING_CART_RAM_TRANSITION, signs, count),
                    ": D%d cannot change to %d.", bit, causes->stuck ? !causes->stuck_at : 0);
    }
}

static void say_other(const struct ram_causes *causes, struct finding *finding) {
    if (causes->by_cell >= 0) {
        finding_say(finding, " The other is cell %d.", causes->by_cell);
    } else {
        finding_say(finding, " %d cells may be the other one.", causes->pairs);
    }
}

static void tell_pairs(const struct ram_causes *causes, const struct ram_signs *signs, struct result *result,
                       int *count) {
    if (causes->inversion || causes->idempotent || causes->state) {
        struct finding *finding = add_cause(result, FINDING_CART_RAM_COUPLED, signs, count);
        finding_say(finding, ": D%d changes with another bit (%s%s%s).", __builtin_ctz(signs->flipped),
                    causes->inversion ? "inverted; " : "", causes->idempotent ? "set by its change; " : "",
                    causes->state ? "set by its state" : "by its change alone");
        say_other(causes, finding);
    }
    if (causes->no_cell || causes->other_cell || causes->both_cells) {
        struct finding *finding = add_cause(result, FINDING_CART_RAM_DECODER, signs, count);
        finding_say(finding, ": its address reaches %s.",
                    causes->no_cell      ? "no cell"
                    : causes->other_cell ? "another cell, or another's reaches it"
                                         : "two cells, or another's does");
        if (!causes->no_cell) {
            say_other(causes, finding);
        }
    }
}

static void tell_any(const struct check_state *state, struct result *result) {
    const struct check_seen *seen = &state->seen;
    struct finding *finding = finding_add(result, FINDING_CART_RAM_FAULTY);
    if (seen->ram_cell < 0 || seen->ram_background < 0) {
        finding_say(finding, "March C- had wrong reads; which came first was not read.");
        return;
    }
    finding_say(finding,
                "%s%u wrong reads a round, the first at cell %d with background $%02X in element %d, read "
                "exclusive-or right $%02X: no single faulty cell or pair of cells says just that.",
                seen->ram_wrong >= READS_MANY ? "At least " : "", seen->ram_wrong, seen->ram_cell,
                check_backgrounds[seen->ram_background & 7], seen->ram_element, seen->ram_flipped);
}

static bool any_steady(const struct check_state *state) {
    for (int i = 0; i < CHECK_BACKGROUNDS; i++) {
        if (check_is_steady(state, CHECK_RAM, i)) {
            return true;
        }
    }
    return false;
}

void check_tell_ram(const struct check_state *state, struct result *result) {
    struct ram_signs signs;
    struct ram_causes causes;
    int count = 0;
    if (!any_steady(state)) {
        return;
    }
    if (is_missing(state)) {
        finding_say(
            finding_add(result, FINDING_CART_RAM_MISSING),
            "Nothing that is written to $F000-$F07F can be read at $F080-$F0FF: every cell reads as if "
            "nobody answered, or the same whatever was written.");
        return;
    }
    if (gather(state, &signs)) {
        ram_classify(&signs, &causes);
        tell_single(&causes, &signs, result, &count);
        tell_pairs(&causes, &signs, result, &count);
    }
    if (count == 0) {
        tell_any(state, result);
    } else if (count == 1) {
        result->findings[result->finding_count - 1].alternative = false;
    }
}
