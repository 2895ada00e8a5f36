#include "rom/proof.h"

#include "slotjig/mailbox.h"

#include <string.h>

/* Each step can be undone, so that states which differ in one word alone never meet; else two states with one
 * hash would be taken for the same: at 131,072 states that is one in 2^31. The factor is splitmix64's
 * (Steele, Lea, Flood). */
static uint64_t mixed(uint64_t hash, uint64_t word) {
    hash = (hash ^ word) * UINT64_C(0xBF58476D1CE4E5B9);
    return hash ^ hash >> 32;
}

static uint64_t hash_of(const struct machine *m) {
    const int16_t head[] = {(int16_t)m->at, m->a,     m->x,     m->y,     m->s,    m->z,     m->n, m->c,
                            m->v,           m->timer, m->cycle, m->slack, m->line, m->vsync, 0,    0};
    uint64_t words[sizeof head / 8 + sizeof m->ram / 8], hash = UINT64_C(0xcbf29ce484222325);
    memcpy(words, head, sizeof head);
    memcpy(words + sizeof head / 8, m->ram, sizeof m->ram);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        hash = mixed(hash, words[i]);
    }
    return hash == 0 ? 1 : hash;
}

/* True when the state is new. */
bool proof_remember(struct proof *proof, const struct machine *m) {
    uint64_t hash = hash_of(m);
    size_t at = hash % STATES_MAX;
    while (proof->seen[at] != 0 && proof->seen[at] != hash) {
        at = (at + 1) % STATES_MAX;
    }
    if (proof->seen[at] == hash) {
        return false;
    }
    proof->seen[at] = hash;
    proof->account->states++;
    return true;
}

bool proof_add_path(struct proof *proof, const struct machine *m) {
    if (!proof_remember(proof, m)) {
        return true;
    }
    if (proof->waiting_count == PATHS_MAX) {
        return proof_refuse(proof, m, "more paths than the proof can follow", PATHS_MAX);
    }
    proof->waiting[proof->waiting_count++] = *m;
    return true;
}

/* The stack's page is the RAM once more, $80 to $FF; below that it would be the TIA. */
static bool push(struct proof *proof, struct machine *m, int value) {
    if (m->s < RAM_FIRST) {
        return proof_refuse(proof, m, "a stack that nobody set, or that has run out of RAM", m->s);
    }
    proof->stacked[m->s - RAM_FIRST] = true;
    m->ram[m->s - RAM_FIRST] = (int16_t)value;
    m->s--;
    return true;
}

static bool pull(struct proof *proof, struct machine *m, int *value) {
    if (m->s < RAM_FIRST - 1 || m->s >= 0xFF) {
        return proof_refuse(proof, m, "a pull from an empty stack", m->s);
    }
    m->s++;
    *value = m->ram[m->s - RAM_FIRST] < 0 ? UNKNOWN : m->ram[m->s - RAM_FIRST];
    return true;
}

/* PHA, PLA. *done: it was one of them. */
bool proof_stack(struct proof *proof, struct machine *m, const char *name, bool *done) {
    int value = UNKNOWN;
    *done = strcmp(name, "PHA") == 0 || strcmp(name, "PLA") == 0;
    if (!*done) {
        return true;
    }
    if (name[2] == 'A' && name[1] == 'H') {
        return push(proof, m, m->a);
    }
    if (!pull(proof, m, &value)) {
        return false;
    }
    proof_load(m, &m->a, value);
    return true;
}

/* Both ways where the flag is not known. The machine goes on along one of them. */
bool proof_branch(struct proof *proof, struct machine *m, const char *name, const uint8_t *bytes) {
    int flag = proof_one_of(name, "BEQ BNE")   ? m->z
               : proof_one_of(name, "BMI BPL") ? m->n
               : proof_one_of(name, "BCS BCC") ? m->c
                                               : m->v;
    int wanted = proof_one_of(name, "BEQ BMI BCS BVS");
    int next = m->at + 2, target = next + (int8_t)bytes[1];
    if (!in_image(proof, target) && !(in_ram(m->at) && in_ram(target))) {
        return proof_refuse(proof, m, "a branch out of the image", target);
    }
    struct machine taken = *m;
    taken.at = (uint16_t)target;
    taken.cycle = (int16_t)(m->cycle + 1 + (next >> 8 != target >> 8));
    m->at = (uint16_t)next;
    if (flag == UNKNOWN && (proof->counting || proof_counted(proof, next))) {
        return proof_refuse(proof, m, "a branch on what is not known", bytes[0]);
    }
    if (flag == UNKNOWN) {
        return proof_add_path(proof, &taken);
    }
    if (flag == wanted) {
        *m = taken;
    }
    return true;
}

bool proof_return(struct proof *proof, struct machine *m) {
    int low = UNKNOWN, high = UNKNOWN;
    if (!pull(proof, m, &low) || !pull(proof, m, &high)) {
        return false;
    }
    int target = low == UNKNOWN || high == UNKNOWN ? UNKNOWN : (high << 8 | low) + 1;
    if (!in_image(proof, target)) {
        return proof_refuse(proof, m, "a return to nobody knows where", target);
    }
    m->at = (uint16_t)target;
    return true;
}

/* Which row the vector was loaded from is not known: the path goes on at the last one's address, and another
 * at each of the rest. */
static bool run_indirect(struct proof *proof, struct machine *m, int vector) {
    const struct encoder *encoder = proof->encoder;
    const uint8_t *low = encoder->bytes + encoder->labels[encoder->target_low].offset;
    const uint8_t *high = encoder->bytes + encoder->labels[encoder->target_high].offset;
    const struct machine from = *m;
    if (vector < RAM_FIRST || vector >= RAM_LAST) {
        return proof_refuse(proof, m, "an indirect jump by what is not in RAM", vector);
    }
    if (m->ram[vector - RAM_FIRST] == STALE || m->ram[vector + 1 - RAM_FIRST] == STALE) {
        return proof_refuse(proof, m, "an indirect jump by what this frame has not loaded", vector);
    }
    proof_ram_read(proof, m, vector);
    proof_ram_read(proof, m, vector + 1);
    for (int i = 0; i < encoder->target_count; i++) {
        int target = low[i] | high[i] << 8;
        if (!in_image(proof, target)) {
            return proof_refuse(proof, &from, "a jump out of the image", target);
        }
        m->at = (uint16_t)target;
        if (i < encoder->target_count - 1 && !proof_add_path(proof, m)) {
            return false;
        }
    }
    return true;
}

/* Into the image that is there now: its own proof starts from its reset vector with nothing known. */
static bool leave(const struct proof *proof, struct machine *m) {
    if (m->vsync != 0) {
        return proof_refuse(proof, m, "the hand-over leaves vertical sync on", m->vsync);
    }
    m->left = true;
    return true;
}

bool proof_jump(struct proof *proof, struct machine *m, const struct opcode *op, const uint8_t *bytes) {
    int target = bytes[1] | bytes[2] << 8;
    if (op->mode == MODE_INDIRECT && in_ram(m->at) && (target & SLOT) == RESET_VECTOR) {
        return leave(proof, m);
    }
    if (op->mode == MODE_INDIRECT && proof->encoder->target_count > 0 && !proof->counting) {
        return run_indirect(proof, m, target);
    }
    if (op->mode != MODE_ABSOLUTE) {
        return proof_refuse(proof, m, "an instruction that the proof does not follow", bytes[0]);
    }
    int last = m->at + 2; /* what JSR leaves for RTS: the address of its own last byte */
    if (strcmp(op->mnemonic, "JSR") == 0 && !(push(proof, m, last >> 8) && push(proof, m, last & 0xFF))) {
        return false;
    }
    if (!in_image(proof, target) && !in_ram(target)) {
        return proof_refuse(proof, m, "a jump out of the image", target);
    }
    m->at = (uint16_t)target;
    return true;
}
