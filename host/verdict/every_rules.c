#include "verdict/every_rules.h"

#include <string.h>

enum { BLOCK = 64, HALF = CELLS / 2, FIRST_COUPLED = RULE_COUPLED };

int rule_index(struct rule rule) {
    return rule.kind < RULE_COUPLED
               ? (int)rule.kind
               : FIRST_COUPLED + ((int)rule.kind - RULE_COUPLED) * EVERY_BITS + rule.from;
}

struct rule rule_at(int index) {
    if (index < FIRST_COUPLED) {
        return (struct rule){(enum rule_kind)index, 0};
    }
    return (struct rule){(enum rule_kind)(RULE_COUPLED + (index - FIRST_COUPLED) / EVERY_BITS),
                         (index - FIRST_COUPLED) % EVERY_BITS};
}

int rule_position(bool mirror, int cell) {
    return cell < HALF ? cell : mirror ? CELLS - 1 - cell : cell - HALF;
}

/* Each rule but those of a cell with itself, which are its own bit. */
static uint64_t all_rules(int own) {
    uint64_t all = UINT64_MAX >> (BLOCK - RULES);
    for (enum rule_kind kind = RULE_COUPLED; kind < RULE_KINDS; kind++) {
        all &= ~(UINT64_C(1) << rule_index((struct rule){kind, own}));
    }
    return all;
}

/* Rows to columns: bit i of word j becomes bit j of word i, by halves, quarters and so on. */
static void transpose(uint64_t words[BLOCK]) {
    uint64_t mask = UINT64_C(0x00000000FFFFFFFF);
    for (int step = BLOCK / 2; step > 0; step /= 2, mask ^= mask << step) {
        for (int i = 0; i < BLOCK; i = ((i | step) + 1) & ~step) {
            const uint64_t swap = (words[i] >> step ^ words[i | step]) & mask;
            words[i] ^= swap << step;
            words[i | step] ^= swap;
        }
    }
}

/* Pictures of one mode, collected until there are 64. */
struct block {
    int count;
    bool mirror;
    uint64_t expected[BLOCK], seen[BLOCK];
};

static uint64_t shown_by(struct rule rule, uint64_t own, const uint64_t *bits) {
    switch (rule.kind) {
    case RULE_OWN:
        return own;
    case RULE_LOW:
        return 0;
    case RULE_HIGH:
        return UINT64_MAX;
    case RULE_COUPLED:
        return bits[rule.from];
    case RULE_ANDED:
        return own & bits[rule.from];
    default:
        return own | bits[rule.from];
    }
}

bool rule_shows(struct rule rule, int own, uint32_t bits) {
    const bool mine = (bits >> own & 1) != 0, other = (bits >> rule.from & 1) != 0;
    switch (rule.kind) {
    case RULE_OWN:
        return mine;
    case RULE_LOW:
        return false;
    case RULE_HIGH:
        return true;
    case RULE_COUPLED:
        return other;
    case RULE_ANDED:
        return mine && other;
    default:
        return mine || other;
    }
}

/* The left half's expected cells are the bits themselves. */
static void use_block(struct block *block, struct cell_rules *rules) {
    const uint64_t valid = block->count == 0 ? 0 : UINT64_MAX >> (BLOCK - block->count);
    for (int i = block->count; i < BLOCK; i++) {
        block->expected[i] = block->seen[i] = 0;
    }
    transpose(block->expected);
    transpose(block->seen);
    for (int cell = 0; cell < CELLS; cell++) {
        uint64_t *const left = &rules->left[block->mirror][cell];
        const uint64_t own = block->expected[rule_position(block->mirror, cell)];
        for (uint64_t rest = *left; rest != 0; rest &= rest - 1) {
            const int index = __builtin_ctzll(rest);
            if (((shown_by(rule_at(index), own, block->expected) ^ block->seen[cell]) & valid) != 0) {
                *left &= ~(UINT64_C(1) << index);
            }
        }
    }
    rules->pictures += (uint64_t)block->count;
    block->count = 0;
}

static void add_picture(struct block *block, uint64_t expected, uint64_t seen, struct cell_rules *rules) {
    block->expected[block->count] = expected;
    block->seen[block->count] = seen;
    if (++block->count == BLOCK) {
        use_block(block, rules);
    }
}

static void add_base(const struct every_state *every, uint32_t base, struct block *block,
                     struct cell_rules *rules) {
    const bool mirror = every_is_mirror(every, base);
    const size_t first = (size_t)base * (size_t)every->plan->patterns;
    const int places = every_places(every, base);
    uint32_t v = every_pattern(every, base, 0);
    for (int place = 0; place < places; place++, v = (v + EVERY_STEP) % EVERY_VALUES) {
        const int state = every->state[first + (size_t)place] & SEEN_STATE;
        const uint64_t expected = every_expected(every, mirror, v);
        if (state == SEEN_WRONG) {
            add_picture(block, expected, every->cells[first + (size_t)place], rules);
        } else if (state == SEEN_RIGHT) {
            add_picture(block, expected, expected, rules);
        }
    }
}

void rules_find(const struct every_state *every, struct cell_rules *rules) {
    rules->pictures = 0;
    for (int mirror = 0; mirror < 2; mirror++) {
        struct block block = {.mirror = mirror != 0};
        const uint32_t first = mirror != 0 ? every->plan->bases : 0;
        for (int cell = 0; cell < CELLS; cell++) {
            rules->left[mirror][cell] = all_rules(rule_position(block.mirror, cell));
        }
        for (uint32_t base = first; base < first + every->plan->bases; base++) {
            if (every->bases[base].seen) {
                add_base(every, base, &block, rules);
            }
        }
        use_block(&block, rules);
    }
}

bool rules_fail(const struct cell_rules *rules) {
    for (int mirror = 0; mirror < 2; mirror++) {
        for (int cell = 0; cell < CELLS; cell++) {
            if (rules->left[mirror][cell] == 0) {
                return true;
            }
        }
    }
    return false;
}

static uint64_t cells_under(const struct cause *cause, bool mirror, uint32_t bits, uint64_t *half) {
    uint8_t registers[REG_COUNT] = {[REG_CTRLPF] = mirror ? CTRLPF_REFLECT : 0};
    for (int position = 0; position < EVERY_BITS; position++) {
        if ((bits >> position & 1) != 0) {
            registers[expect_serial[position].reg] |= (uint8_t)(1u << expect_serial[position].bit);
        }
    }
    uint64_t halved;
    const uint64_t cells = cause_cells(cause, registers, &halved);
    *half |= halved;
    return cells;
}

/* A cause moves bits or holds them: a cell shows what it shows of nothing, but for the one bit that turns it.
 */
struct rule rule_under(const struct cause *cause, bool mirror, int cell) {
    uint64_t half = 0;
    const uint64_t nothing = cells_under(cause, mirror, 0, &half);
    for (int bit = 0; bit < EVERY_BITS; bit++) {
        const uint64_t turned = nothing ^ cells_under(cause, mirror, UINT32_C(1) << bit, &half);
        if ((turned >> cell & 1) != 0) {
            const bool own = bit == rule_position(mirror, cell);
            return (struct rule){own ? RULE_OWN : RULE_COUPLED, own ? 0 : bit};
        }
    }
    return (struct rule){(nothing >> cell & 1) != 0 ? RULE_HIGH : RULE_LOW, 0};
}

bool rules_allow(const struct cell_rules *rules, const struct cause *cause) {
    for (int mirror = 0; cause->shift % CELL_CLOCKS != 2 && mirror < 2; mirror++) {
        for (int cell = 0; cell < CELLS; cell++) {
            const int index = rule_index(rule_under(cause, mirror != 0, cell));
            if ((rules->left[mirror][cell] >> index & 1) == 0) {
                return false;
            }
        }
    }
    return cause->shift % CELL_CLOCKS != 2;
}
