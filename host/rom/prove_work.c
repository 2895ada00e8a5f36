/*
 * The longest way from `work` to `work_done`: every instruction is run (prove_work_step.h), and what is
 * worked out is kept by the state in which a label is passed, so that ways that meet are followed once.
 * Nothing is known when it begins but the stack's pointer and that the bank which came up is there.
 */
#include "rom/prove_work_step.h"

#include <stdlib.h>
#include <string.h>

enum {
    STACK_AT = 0xFF,
    UNSEEN = -1,
    OPEN = -2, /* its longest way is being worked out: a way that comes to it again has no end */
    MEMO = 1 << 17,
    DEPTH_MAX = 4096, /* branches that a way hangs on */
    PASSED_MAX = 1 << 16
};

struct passed {
    uint32_t slot;
    int cycles; /* of its walk, so far */
};

struct search {
    struct work_code code;
    uint16_t done, cold;
    bool *label;    /* by offset */
    uint64_t *hash; /* 0: free */
    int *longest;
    int used;
    struct passed *passed;
    int passed_count;
    struct way *ways; /* by depth */
};

/* ---- what was met ---- */

static uint64_t hash_of(const struct way *way) {
    const struct machine *m = &way->m;
    const int16_t head[] = {(int16_t)m->at, m->a, m->x, m->y, m->s, m->z, m->n, m->c, way->bank};
    uint64_t hash = UINT64_C(0xcbf29ce484222325), words[sizeof m->ram / 8];
    memcpy(words, m->ram, sizeof words);
    for (size_t i = 0; i < sizeof head / sizeof head[0]; i++) {
        hash = (hash ^ (uint16_t)head[i]) * UINT64_C(0xBF58476D1CE4E5B9);
        hash ^= hash >> 32;
    }
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        hash = (hash ^ words[i]) * UINT64_C(0x94D049BB133111EB);
        hash ^= hash >> 32;
    }
    return hash == 0 ? 1 : hash;
}

static uint32_t slot_of(struct search *search, const struct way *way) {
    const uint64_t hash = hash_of(way);
    uint32_t slot = (uint32_t)(hash % MEMO);
    while (search->hash[slot] != 0 && search->hash[slot] != hash) {
        slot = (slot + 1) % MEMO;
    }
    if (search->hash[slot] == 0) {
        search->hash[slot] = hash;
        search->longest[slot] = UNSEEN;
        search->used++;
    }
    return slot;
}

/* ---- ways ---- */

static int walk(struct search *search, int depth);

/* The longer of `best` and the way on from `next`, which comes there after so many cycles. */
static int longer(struct search *search, int depth, const struct way *next, int cycles, int best) {
    if (depth + 1 == DEPTH_MAX) {
        return work_refuse(&search->code, next, "more branches than the proof can follow", DEPTH_MAX);
    }
    search->ways[depth + 1] = *next;
    const int there = walk(search, depth + 1);
    return there == WORK_REFUSED ? WORK_REFUSED : there + cycles > best ? there + cycles : best;
}

static int16_t flag_of(const struct machine *m, const char *name) {
    return proof_one_of(name, "BEQ BNE") ? m->z : proof_one_of(name, "BMI BPL") ? m->n : m->c;
}

/* Goes on along a branch that is known; else *longest is that of both ways. */
static bool branch(struct search *search, int depth, const struct fetched *step, int *cycles, int *longest) {
    struct way *way = &search->ways[depth];
    struct machine *m = &way->m;
    const char *name = step->op->mnemonic;
    const int flag = flag_of(m, name), wanted = proof_one_of(name, "BEQ BMI BCS");
    const int next = m->at + 2, target = next + (int8_t)step->bytes[1];
    const int taken = 1 + (next >> 8 != target >> 8);
    if (step->raw[1] < 0) {
        *longest = work_refuse(&search->code, way, "a branch to where is not known", m->at);
        return false;
    }
    if (flag != UNKNOWN) {
        *cycles += flag == wanted ? taken : 0;
        way->turned = flag == wanted && target < next;
        m->at = (uint16_t)(flag == wanted ? target : next);
        return true;
    }
    m->at = (uint16_t)next;
    way->turned = false;
    int best = longer(search, depth, way, 0, 0);
    m->at = (uint16_t)target;
    way->turned = target < next;
    best = best == WORK_REFUSED ? WORK_REFUSED : longer(search, depth, way, taken, best);
    *longest = best == WORK_REFUSED ? WORK_REFUSED : best + *cycles;
    return false;
}

/* CLAIM_EACH: a way with each value. True where there is nothing to do. */
static bool each(struct search *search, int depth, int at, const struct fetched *step, int cycles,
                 int *longest) {
    struct way *way = &search->ways[depth];
    const int offset = at - search->code.encoder->origin;
    int16_t *reg = work_register(&way->m, step->op->mnemonic);
    if (in_ram(at) || search->code.encoder->claims[offset].kind != CLAIM_EACH || *reg >= 0) {
        return true;
    }
    int best = 0;
    for (int value = 0; value < 256 && best != WORK_REFUSED; value++) {
        proof_load(&way->m, reg, value);
        best = longer(search, depth, way, 0, best);
    }
    *longest = best == WORK_REFUSED ? WORK_REFUSED : best + cycles;
    return false;
}

/* Where the longest way from here is known, *longest with it; else it is being worked out from here on. */
static bool is_new(struct search *search, const struct way *way, int cycles, int *longest) {
    const uint32_t slot = slot_of(search, way);
    if (search->longest[slot] >= 0) {
        *longest = cycles + search->longest[slot];
        return false;
    }
    if (search->longest[slot] == OPEN || search->used > MEMO / 2 || search->passed_count == PASSED_MAX) {
        *longest = work_refuse(&search->code, way, "no end of the work is in sight", cycles);
        return false;
    }
    search->longest[slot] = OPEN;
    search->passed[search->passed_count++] = (struct passed){slot, cycles};
    return true;
}

/* What may be run here; a label that is passed. False: *longest is known. */
static bool arrive(struct search *search, int depth, int cycles, int *longest) {
    const struct way *way = &search->ways[depth];
    const int at = way->m.at, offset = at - search->code.encoder->origin;
    if (in_ram(at)) {
        const bool fits = at >= CHECK_JOB_AT && at < CHECK_JOB_AT + CHECK_JOB_MAX;
        *longest = fits ? 0 : work_refuse(&search->code, way, "a job that runs out of its RAM", at);
        return fits && (!way->turned || is_new(search, way, cycles, longest));
    }
    if (offset < 0 || offset >= (int)search->code.encoder->size) {
        *longest = work_refuse(&search->code, way, "the work runs out of the image", at);
        return false;
    }
    if (way->bank == BANK_OTHER) {
        *longest =
            work_refuse(&search->code, way, "code from a bank that need not be the one that came up", at);
        return false;
    }
    if (at == search->done) {
        *longest =
            way->m.s == STACK_AT ? cycles : work_refuse(&search->code, way, "a stack left behind", way->m.s);
        return false;
    }
    if (at == search->cold) {
        *longest = work_refuse(&search->code, way, "a start that is taken for power-on", at);
        return false;
    }
    return !search->label[offset] || is_new(search, way, cycles, longest);
}

static int follow(struct search *search, int depth) {
    struct way *way = &search->ways[depth];
    int cycles = 0, longest = 0;
    for (;;) {
        struct fetched step = {0};
        const int at = way->m.at;
        if (!arrive(search, depth, cycles, &longest)) {
            return longest;
        }
        way->turned = false;
        if (!work_decode(&search->code, way, &step)) {
            return WORK_REFUSED;
        }
        cycles += step.op->cycles;
        if (cycles > INT16_MAX) {
            return work_refuse(&search->code, way, "no end of the work is in sight", cycles);
        }
        if (step.op->mode == MODE_RELATIVE) {
            if (!branch(search, depth, &step, &cycles, &longest)) {
                return longest;
            }
        } else if (!work_run(&search->code, way, &step, &cycles)) {
            return WORK_REFUSED;
        } else if (!each(search, depth, at, &step, cycles, &longest)) {
            return longest;
        }
    }
}

/* The longest way from the machine at this depth. */
static int walk(struct search *search, int depth) {
    const int from = search->passed_count;
    const int longest = follow(search, depth);
    for (int i = from; i < search->passed_count; i++) {
        search->longest[search->passed[i].slot] =
            longest == WORK_REFUSED ? 0 : longest - search->passed[i].cycles;
    }
    search->passed_count = from;
    return longest;
}

static uint16_t label_at(const struct encoder *encoder, const char *name) {
    for (int i = 0; i < encoder->label_count; i++) {
        if (strcmp(encoder->labels[i].name, name) == 0) {
            return (uint16_t)(encoder->origin + encoder->labels[i].offset);
        }
    }
    return 0;
}

static void begin(struct search *search) {
    struct machine *m = &search->ways[0].m;
    memset(&search->ways[0], 0, sizeof search->ways[0]);
    m->at = label_at(search->code.encoder, "work");
    m->a = m->x = m->y = UNKNOWN;
    m->z = m->n = m->c = m->v = UNKNOWN;
    m->s = STACK_AT;
    for (int i = 0; i < RAM_LAST + 1 - RAM_FIRST; i++) {
        m->ram[i] = UNKNOWN;
    }
    m->ram[RAM_HOME - RAM_FIRST] = HOME;
    for (int i = 0; i < search->code.encoder->label_count; i++) {
        if (search->code.encoder->labels[i].offset >= 0) {
            search->label[search->code.encoder->labels[i].offset] = true;
        }
    }
    for (int i = 0; i < 256; i++) {
        search->code.proof.opcodes[i] = opcode_facts((uint8_t)i);
    }
}

static bool make(struct search *search) {
    search->label = calloc(IMAGE_MAX + 1, sizeof *search->label);
    search->hash = calloc(MEMO, sizeof *search->hash);
    search->longest = malloc(MEMO * sizeof *search->longest);
    search->passed = malloc(PASSED_MAX * sizeof *search->passed);
    search->ways = malloc(DEPTH_MAX * sizeof *search->ways);
    return search->label != NULL && search->hash != NULL && search->longest != NULL &&
           search->passed != NULL && search->ways != NULL;
}

static void unmake(struct search *search) {
    free(search->label);
    free(search->hash);
    free(search->longest);
    free(search->passed);
    free(search->ways);
}

bool prove_work(const struct encoder *encoder, const struct cart_check *check, int window, int *worst,
                struct problem *problem) {
    const struct prove_limits limits = {0};
    struct rom_account account = {0};
    struct search search = {.code = {.proof = {.encoder = encoder,
                                               .limits = &limits,
                                               .account = &account,
                                               .problem = problem,
                                               .counting = true},
                                     .encoder = encoder,
                                     .first = scheme_hotspot(check->scheme, 0) & 0xFF,
                                     .banks = scheme_banks(check->scheme)},
                            .done = label_at(encoder, "work_done"),
                            .cold = label_at(encoder, "cold")};
    if (!make(&search)) {
        unmake(&search);
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the proof of an image");
    }
    begin(&search);
    *worst = walk(&search, 0);
    unmake(&search);
    if (*worst == WORK_REFUSED) {
        return false;
    }
    return *worst <= window ||
           problem_set(problem, PROBLEM_INPUT, "image: the work takes up to %d cycles; a field has %d",
                       *worst, window);
}
