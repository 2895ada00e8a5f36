#include "rom/proof.h"

static const struct claim *claim_at(const struct proof *proof, int at) {
    static const struct claim none = {.kind = CLAIM_NONE};
    return proof->counting || !in_image(proof, at) ? &none
                                                   : &proof->encoder->claims[at - proof->encoder->origin];
}

bool proof_counted(const struct proof *proof, int address) {
    const int offset = address - proof->encoder->origin;
    return !proof->counting && offset >= proof->encoder->counted_from && offset < proof->encoder->counted_to;
}

/* Which register a store goes to, for a message. */
static const char *stored_to(const uint8_t *bytes, enum mode mode) {
    for (int reg = 0; mode == MODE_ZERO || mode == MODE_ZERO_X ? reg < REG_COUNT : false; reg++) {
        if (reg_address((enum reg)reg) == bytes[1]) {
            return reg_name((enum reg)reg);
        }
    }
    return "what is marked";
}

static bool marked(const struct proof *proof, const struct machine *m, int cycle, const uint8_t *bytes,
                   enum mode mode) {
    const int now = proof_counted(proof, m->at) ? m->cycle % LINE_CYCLES : m->cycle;
    if (now == cycle && m->slack == 0) {
        return true;
    }
    return problem_set(proof->problem, PROBLEM_INPUT,
                       "image: at %s, line %d: the store to %s ends with cycle %d%s, not %d",
                       proof_where(proof, m), m->line, stored_to(bytes, mode), now,
                       m->slack == 0 ? "" : " or earlier", cycle);
}

bool proof_mark(const struct proof *proof, const struct machine *m, const uint8_t *bytes, enum mode mode) {
    const struct claim *claim = claim_at(proof, m->at);
    if (claim->kind == CLAIM_CYCLE) {
        return marked(proof, m, claim->value, bytes, mode);
    }
    if (claim->kind == CLAIM_CYCLE_IN) {
        const int cycle = m->ram[claim->value - RAM_FIRST];
        return cycle < 0
                   ? proof_refuse(proof, m, "a store marked with a cycle that is not known", claim->value)
                   : marked(proof, m, cycle, bytes, mode);
    }
    return true;
}

/* The machine goes on with 0. */
static bool each_value(struct proof *proof, struct machine *m, int16_t *reg) {
    if (*reg >= 0) {
        return true;
    }
    for (int value = 0xFF; value >= 0; value--) {
        proof_load(m, reg, value);
        if (value > 0 && !proof_add_path(proof, m)) {
            return false;
        }
    }
    return true;
}

static bool take_draws(const struct proof *proof, struct machine *m, int address) {
    if (!in_ram(address) || !proof_draws(m->ram[address - RAM_FIRST])) {
        return proof_refuse(proof, m, "what is stored is no address of a register that draws", address);
    }
    m->ram[address - RAM_FIRST] = DRAWS;
    return true;
}

/* The stack's pointer stays, and which of the slate's rows this frame has written. */
static void forget(const struct proof *proof, struct machine *m) {
    m->a = m->x = m->y = UNKNOWN;
    m->z = m->n = m->c = m->v = UNKNOWN;
    for (int i = 0; i < RAM_LAST + 1 - RAM_FIRST; i++) {
        const int address = RAM_FIRST + i;
        const bool slate = address >= proof->limits->slate_from && address < proof->limits->slate_to;
        if (m->ram[i] != DRAWS && (m->ram[i] >= 0 || !slate)) {
            m->ram[i] = slate ? UNKNOWN : STALE;
        }
    }
}

bool proof_claim(struct proof *proof, struct machine *m, int at, const struct opcode *op,
                 const uint8_t *bytes) {
    switch (claim_at(proof, at)->kind) {
    case CLAIM_EACH:
        return each_value(proof, m, op->mnemonic[2] == 'X' ? &m->x : op->mnemonic[2] == 'Y' ? &m->y : &m->a);
    case CLAIM_DRAWS:
        return take_draws(proof, m, op->mode == MODE_ZERO ? bytes[1] : UNKNOWN);
    case CLAIM_FORGET:
        forget(proof, m);
        return true;
    default:
        return true;
    }
}
