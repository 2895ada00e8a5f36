#include "verdict/every_sets.h"

enum { HALF = CELLS / 2, NO_PLACE = -1 };

/* What each cell shows if nothing is wrong but the cause. */
struct drawing {
    int place[2][CELLS];      /* of the serial output, or NO_PLACE */
    int rule[2][CELLS];       /* its index in the sets of struct cell_rules */
    int place_of[EVERY_BITS]; /* place that shows a bit */
    uint64_t allowed;         /* rules that a part may have */
};

static uint64_t bit_of(int index) {
    return UINT64_C(1) << index;
}

static void draw_plainly(struct drawing *drawing) {
    for (int mirror = 0; mirror < 2; mirror++) {
        for (int cell = 0; cell < CELLS; cell++) {
            drawing->place[mirror][cell] = rule_position(mirror != 0, cell);
            drawing->rule[mirror][cell] = RULE_OWN;
        }
    }
    for (int bit = 0; bit < EVERY_BITS; bit++) {
        drawing->place_of[bit] = bit;
    }
    drawing->allowed = ~bit_of(RULE_OWN);
}

/* Which place a cell is drawn from under the cause, whatever the place holds. */
static int place_under(const struct cause *cause, bool mirror, int cell) {
    const int from = cell - cause->shift / CELL_CLOCKS;
    const uint8_t ctrlpf =
        (uint8_t)(((mirror ? CTRLPF_REFLECT : 0) & cause->keep[REG_CTRLPF]) | cause->force[REG_CTRLPF]);
    return from < 0 ? NO_PLACE : rule_position((ctrlpf & CTRLPF_REFLECT) != 0, from);
}

/* Joined bits are told from coupled ones by the cell's own, which the cause may have moved: left out. */
static void draw_under(const struct cause *cause, struct drawing *drawing) {
    draw_plainly(drawing);
    drawing->allowed = 0;
    for (int index = RULE_LOW; index < RULE_COUPLED + EVERY_BITS; index++) {
        drawing->allowed |= bit_of(index);
    }
    for (int mirror = 0; mirror < 2; mirror++) {
        for (int cell = 0; cell < CELLS; cell++) {
            const struct rule rule = rule_under(cause, mirror != 0, cell);
            const int place = place_under(cause, mirror != 0, cell);
            drawing->place[mirror][cell] = place;
            drawing->rule[mirror][cell] = rule_index(rule);
            if (place != NO_PLACE && rule.kind == RULE_COUPLED) {
                drawing->place_of[rule.from] = place;
            } else if (place != NO_PLACE && rule.kind == RULE_OWN) {
                drawing->place_of[rule_position(mirror != 0, cell)] = place;
            }
        }
    }
}

/* The cells of one place in copy left, copy right, mirror left, mirror right that are not as drawn, and the
 * rules that are left in each. */
struct place_cells {
    bool wrong[DRAWN_PLACES];
    uint64_t left[DRAWN_PLACES];
};

static void find_place(const struct cell_rules *rules, const struct drawing *drawing, int place,
                       struct place_cells *cells) {
    for (int at = 0; at < DRAWN_PLACES; at++) {
        cells->wrong[at] = false;
        cells->left[at] = UINT64_MAX;
    }
    for (int mirror = 0; mirror < 2; mirror++) {
        for (int cell = 0; cell < CELLS; cell++) {
            if (drawing->place[mirror][cell] == place) {
                const int at = 2 * mirror + cell / HALF;
                const uint64_t left = rules->left[mirror][cell];
                cells->wrong[at] = cells->wrong[at] || (left & bit_of(drawing->rule[mirror][cell])) == 0;
                cells->left[at] &= left;
            }
        }
    }
}

static bool add_part(struct rule_set *set, const struct drawing *drawing, int place, uint64_t left,
                     int drawn) {
    left &= drawing->allowed;
    if (left == 0 || set->count == RULE_PARTS_MAX) {
        return false;
    }
    struct rule rule = rule_at(__builtin_ctzll(left));
    rule.from = drawing->place_of[rule.from];
    set->part[set->count++] = (struct rule_part){
        .position = place, .rule = rule, .drawn = drawn, .ambiguous = (left & (left - 1)) != 0};
    return true;
}

/* One rule wherever the bit is drawn; or else where it is wrong; or else one for each. */
static bool add_place(struct rule_set *set, const struct drawing *drawing, int place,
                      const struct place_cells *cells) {
    uint64_t everywhere = drawing->allowed, where_wrong = drawing->allowed;
    int wrong = 0;
    for (int at = 0; at < DRAWN_PLACES; at++) {
        everywhere &= cells->left[at];
        where_wrong &= cells->wrong[at] ? cells->left[at] : UINT64_MAX;
        wrong |= cells->wrong[at] ? 1 << at : 0;
    }
    if (wrong == 0) {
        return true;
    }
    if (add_part(set, drawing, place, everywhere, DRAWN_ALL) ||
        add_part(set, drawing, place, where_wrong, wrong)) {
        return true;
    }
    for (int at = 0; at < DRAWN_PLACES; at++) {
        if (cells->wrong[at] && !add_part(set, drawing, place, cells->left[at], 1 << at)) {
            return false;
        }
    }
    return true;
}

/* Cells that are drawn from no place are as the cause has them, or nothing is. */
static bool stray_cells_fit(const struct cell_rules *rules, const struct drawing *drawing) {
    for (int mirror = 0; mirror < 2; mirror++) {
        for (int cell = 0; cell < CELLS; cell++) {
            if (drawing->place[mirror][cell] == NO_PLACE &&
                (rules->left[mirror][cell] & bit_of(drawing->rule[mirror][cell])) == 0) {
                return false;
            }
        }
    }
    return true;
}

static bool find_set(const struct cell_rules *rules, const struct drawing *drawing, struct rule_set *set) {
    set->count = 0;
    for (int place = 0; place < EVERY_BITS; place++) {
        struct place_cells cells;
        find_place(rules, drawing, place, &cells);
        if (!add_place(set, drawing, place, &cells)) {
            return false;
        }
    }
    return stray_cells_fit(rules, drawing);
}

bool rule_set_plain(const struct cell_rules *rules, struct rule_set *set) {
    struct drawing drawing;
    draw_plainly(&drawing);
    set->cause = NULL;
    return find_set(rules, &drawing, set);
}

/* Causes that move bits, and data lines, which hold several; other stuck bits are parts. */
static bool is_wiring(const struct cause *cause) {
    return cause->kind != FINDING_BIT_STUCK_LOW && cause->kind != FINDING_BIT_STUCK_HIGH &&
           cause->kind != FINDING_UNCONNECTED_BITS_DRAWN && cause->shift % CELL_CLOCKS == 0;
}

bool rule_set_find(const struct judge *judge, const struct cell_rules *rules, struct rule_set *set) {
    bool found = rule_set_plain(rules, set);
    for (size_t i = 0; i < judge->cause_count; i++) {
        struct drawing drawing;
        struct rule_set other = {.cause = &judge->causes[i]};
        if (!is_wiring(other.cause)) {
            continue;
        }
        draw_under(other.cause, &drawing);
        if (find_set(rules, &drawing, &other) &&
            (!found || other.count + 1 < set->count + (set->cause != NULL))) {
            *set = other;
            found = true;
        }
    }
    return found;
}

static bool shows(const struct rule_part *part, bool mirror, uint32_t bits) {
    const int here = mirror ? DRAWN_MIRROR_LEFT | DRAWN_MIRROR_RIGHT : DRAWN_COPY_LEFT | DRAWN_COPY_RIGHT;
    return (part->drawn & here) != 0 &&
           rule_shows(part->rule, part->position, bits) != ((bits >> part->position & 1) != 0);
}

void rule_set_count(const struct every_state *every, struct rule_set *set) {
    for (uint32_t base = 0; base < every->total; base++) {
        const size_t first = (size_t)base * (size_t)every->plan->patterns;
        const int places = every->bases[base].wrong_visits > 0 ? every_places(every, base) : 0;
        const bool mirror = every_is_mirror(every, base);
        for (int place = 0; place < places; place++) {
            if ((every->state[first + (size_t)place] & SEEN_STATE) != SEEN_WRONG) {
                continue;
            }
            /* The left half's cells are the bits in serial order. */
            const uint64_t cells = every_expected(every, mirror, every_pattern(every, base, place));
            for (int i = 0; i < set->count; i++) {
                set->part[i].pictures += shows(&set->part[i], mirror, (uint32_t)(cells & (EVERY_VALUES - 1)));
            }
        }
    }
}

struct cause rule_part_cause(const struct rule_part *part) {
    static const enum joining how[RULE_KINDS] = {
        [RULE_COUPLED] = JOINED_COUPLED, [RULE_ANDED] = JOINED_ANDED, [RULE_ORED] = JOINED_ORED};
    if (part->rule.kind >= RULE_COUPLED) {
        return cause_join(how[part->rule.kind], part->position, part->rule.from);
    }
    const bool high = part->rule.kind == RULE_HIGH;
    struct cause cause = cause_none(high ? FINDING_BIT_STUCK_HIGH : FINDING_BIT_STUCK_LOW);
    cause.reg = expect_serial[part->position].reg;
    cause.bit = expect_serial[part->position].bit;
    cause.high = high;
    return cause;
}
