/*
 * The longest way from `work` to `work_done`. The abstract machine is that of the frame's proof (proof.h);
 * what is worked out is kept by the state in which a label is passed, so that ways that meet are followed
 * once. Nothing is known when it begins but the stack's pointer and that the bank which came up is there. The
 * number of that bank is not known, but what selects it is followed as such.
 */
#include "rom/check.h"
#include "rom/proof.h"

#include <stdlib.h>
#include <string.h>

enum {
    /* Values beside proof.h's. */
    HOME = -10,      /* what RAM_HOME holds */
    HOME_SPOT = -11, /* the low byte of the address that selects it */
    /* Banks. */
    BANK_HOME = 0,
    BANK_OTHER,
    BANK_STARTED, /* another one, whose start was jumped to */
    STACK_AT = 0xFF,
    UNSEEN = -1,
    OPEN = -2, /* its longest way is being worked out: a way that comes to it again has no end */
    MEMO = 1 << 17,
    DEPTH_MAX = 4096, /* branches that a way hangs on */
    PASSED_MAX = 1 << 16,
    REFUSED = -3
};

struct passed {
    uint32_t slot;
    int cycles; /* of its walk, so far */
};

struct way {
    struct machine m;
    bool turned; /* came by a branch back: a loop of a job, which has no label to be known by */
    uint8_t bank;
};

struct work_proof {
    struct proof proof;
    const struct encoder *encoder;
    int first, banks; /* hotspots: low byte of the first, how many; 0: none */
    uint16_t done, cold;
    bool *label;    /* by offset */
    uint64_t *hash; /* 0: free */
    int *longest;
    int used;
    struct passed *passed;
    int passed_count;
    struct way *ways; /* by depth */
};

static int refuse(const struct work_proof *work, const struct way *way, const char *what, int figure) {
    problem_set(work->proof.problem, PROBLEM_INPUT, "image: the work at %s, $%04X: %s (%d)",
                in_ram(way->m.at) ? "a job" : proof_where(&work->proof, &way->m), way->m.at, what, figure);
    return REFUSED;
}

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

static uint32_t slot_of(struct work_proof *work, const struct way *way) {
    const uint64_t hash = hash_of(way);
    uint32_t slot = (uint32_t)(hash % MEMO);
    while (work->hash[slot] != 0 && work->hash[slot] != hash) {
        slot = (slot + 1) % MEMO;
    }
    if (work->hash[slot] == 0) {
        work->hash[slot] = hash;
        work->longest[slot] = UNSEEN;
        work->used++;
    }
    return slot;
}

/* ---- the bus ---- */

static bool is_cartridge(int address) {
    return (address & 0x1000) != 0;
}

/* What an access does to the bank, at one of so many addresses from there on. */
static void touch(const struct work_proof *work, struct way *way, int address, int range) {
    const int spot = (address & SLOT) - (0x1F00 | work->first);
    if (work->banks > 1 && spot < work->banks && spot + range > 0) {
        way->bank = BANK_OTHER;
    }
}

static bool may_store(int address) {
    static const struct {
        int from, to;
    } allowed[] = {{RAM_SLATE, RAM_SLATE_END},
                   {RAM_VALUE, RAM_VALUE + 3},
                   {RAM_SHOWN_FOR, RAM_HOME},
                   {RAM_JOBS, RAM_JOBS_END},
                   {RAM_WARM, RAM_WARM + 1},
                   {RAM_SPOILT, RAM_SPOILT + 8},
                   {0x280, 0x284}};
    for (size_t i = 0; i < sizeof allowed / sizeof allowed[0]; i++) {
        if (address >= allowed[i].from && address < allowed[i].to) {
            return true;
        }
    }
    return is_cartridge(address);
}

/* ---- one instruction ---- */

struct fetched {
    const struct opcode *op;
    uint8_t bytes[BYTES_MAX];
    int16_t raw[BYTES_MAX]; /* as they are known */
    int size;
};

static int16_t raw_byte(const struct work_proof *work, const struct way *way, int address) {
    return in_ram(address) ? way->m.ram[address - RAM_FIRST]
                           : (int16_t)proof_fetch(&work->proof, &way->m, address);
}

static bool decode(const struct work_proof *work, const struct way *way, struct fetched *step) {
    const int code = raw_byte(work, way, way->m.at);
    if (code < 0) {
        refuse(work, way, "what is run is not known", way->m.at);
        return false;
    }
    step->op = &work->proof.opcodes[code];
    step->size = step->op->mode == MODE_NONE ? 1 : opcode_bytes(step->op->mode);
    if (step->op->mode == MODE_NONE) {
        refuse(work, way, "what is no instruction is run", code);
        return false;
    }
    for (int i = 0; i < step->size; i++) {
        step->raw[i] = raw_byte(work, way, way->m.at + i);
        step->bytes[i] = (uint8_t)step->raw[i];
    }
    return true;
}

static bool is_store(const struct fetched *step) {
    return proof_one_of(step->op->mnemonic, "STA STX STY");
}

static bool is_change(const struct fetched *step) {
    return proof_one_of(step->op->mnemonic, "ASL LSR ROL ROR INC DEC");
}

static int16_t *register_of(struct machine *m, const char *name) {
    return name[2] == 'X' ? &m->x : name[2] == 'Y' ? &m->y : &m->a;
}

static void forget(int16_t *reg, struct machine *m, int value) {
    *reg = (int16_t)value;
    m->z = m->n = UNKNOWN;
}

/* Something is read of which nothing is known. */
static bool read_unknown(struct work_proof *work, struct way *way, const struct fetched *step) {
    struct machine *m = &way->m;
    const char *name = step->op->mnemonic;
    if (is_store(step) || is_change(step)) {
        refuse(work, way, "a store to where is not known", m->at);
        return false;
    }
    if (proof_one_of(name, "CMP CPX CPY")) {
        m->z = m->n = m->c = UNKNOWN;
    } else {
        m->c = proof_one_of(name, "ADC SBC") ? UNKNOWN : m->c;
        forget(register_of(m, proof_one_of(name, "LDX LDY") ? name : "LDA"), m, UNKNOWN);
    }
    return true;
}

/* HOME, from where it is to where it selects. True: it was that. */
static bool follows_home(struct work_proof *work, struct way *way, const struct fetched *step) {
    struct machine *m = &way->m;
    const char *name = step->op->mnemonic;
    const int at = step->bytes[1];
    const bool zero = step->op->mode == MODE_ZERO;
    if (zero && proof_one_of(name, "LDA LDX LDY") && in_ram(at) && m->ram[at - RAM_FIRST] <= HOME) {
        forget(register_of(m, name), m, m->ram[at - RAM_FIRST]);
        return true;
    }
    if (zero && is_store(step) && *register_of(m, name) <= HOME && may_store(at)) {
        m->ram[at - RAM_FIRST] = *register_of(m, name);
        return true;
    }
    if (strcmp(name, "ADC") == 0 && step->op->mode == MODE_IMMEDIATE && m->a == HOME) {
        forget(&m->a, m, m->c == 0 && at == work->first ? HOME_SPOT : UNKNOWN);
        m->c = UNKNOWN;
        return true;
    }
    const bool there = step->size == 3 && step->raw[2] == 0xFF;
    if (strcmp(name, "LDA") == 0 && there &&
        ((step->op->mode == MODE_ABSOLUTE && step->raw[1] == HOME_SPOT) ||
         (step->op->mode == MODE_ABSOLUTE_X && step->raw[1] == work->first && m->x == HOME))) {
        way->bank = BANK_HOME;
        forget(&m->a, m, UNKNOWN);
        return true;
    }
    return false;
}

/* A cycle of an indexed access at the address without its carry: of a store always, of a read where it
 * crosses. */
static void extra_cycle(const struct work_proof *work, struct way *way, const struct fetched *step,
                        int address, bool crosses) {
    const enum mode mode = step->op->mode;
    if ((mode == MODE_ABSOLUTE_X || mode == MODE_ABSOLUTE_Y) && address != UNKNOWN &&
        (crosses || is_store(step))) {
        touch(work, way, step->bytes[2] << 8 | (address & 0xFF), 1);
    }
}

static bool operand(struct work_proof *work, struct way *way, const struct fetched *step, int *cycles) {
    struct machine *m = &way->m;
    const enum mode mode = step->op->mode;
    bool crosses = false;
    const bool known = step->raw[step->size - 1] >= 0 && step->raw[1] >= 0;
    if (mode == MODE_ACCUMULATOR || mode == MODE_IMMEDIATE) {
        return known || mode == MODE_ACCUMULATOR
                   ? proof_operand(&work->proof, m, step->op, step->bytes, UNKNOWN)
                   : read_unknown(work, way, step);
    }
    int address = known ? proof_address(m, step->bytes, mode, &crosses) : UNKNOWN;
    address = address == UNKNOWN ? UNKNOWN : address & 0xFFFF;
    if (!known) {
        crosses = mode == MODE_ABSOLUTE_X || mode == MODE_ABSOLUTE_Y;
    }
    *cycles += crosses && step->op->cross_adds;
    extra_cycle(work, way, step, address, crosses);
    if (!known || mode == MODE_INDIRECT_Y) {
        touch(work, way, 0x1F00, SCHEME_PAGE);
    } else if (step->size == 3) {
        touch(work, way, address == UNKNOWN ? step->bytes[1] | step->bytes[2] << 8 : address,
              address == UNKNOWN ? SCHEME_PAGE : 1);
    }
    if ((is_store(step) || is_change(step)) && (address == UNKNOWN || !may_store(address))) {
        refuse(work, way, "a store to what is not the work's", address);
        return false;
    }
    if (is_store(step) && address >= 0x100) {
        return true;
    }
    /* Tables are the program's; what is checked is not known. */
    if (address == UNKNOWN || (address >= 0x100 && (in_ram(m->at) || address >= (0xE000 | CHECK_BANK_AT)))) {
        return read_unknown(work, way, step);
    }
    const bool good = proof_operand(&work->proof, m, step->op, step->bytes, address);
    if (good && is_store(step) && in_ram(m->at)) {
        m->ram[address - RAM_FIRST] = UNKNOWN; /* so that ways join again */
    }
    return good;
}

/* The start of whichever bank is there, and by a table. */
static bool jump_indirect(struct work_proof *work, struct way *way, const struct fetched *step) {
    struct machine *m = &way->m;
    const int vector = step->bytes[1] | step->bytes[2] << 8;
    if ((vector & SLOT) == 0x1FFC) {
        const uint8_t *reset = work->encoder->bytes + work->encoder->size - 4;
        way->bank = way->bank == BANK_OTHER ? BANK_STARTED : way->bank;
        m->at = (uint16_t)(reset[0] | reset[1] << 8);
        return true;
    }
    const int low = raw_byte(work, way, vector), high = raw_byte(work, way, vector + 1);
    if (low < 0 || high < 0) {
        refuse(work, way, "a jump to where is not known", vector);
        return false;
    }
    m->at = (uint16_t)(low | high << 8);
    return true;
}

static bool run(struct work_proof *work, struct way *way, const struct fetched *step, int *cycles) {
    struct machine *m = &way->m;
    const char *name = step->op->mnemonic;
    m->cycle = 0;
    if (step->op->mode == MODE_INDIRECT) {
        return jump_indirect(work, way, step);
    }
    if (name[0] == 'J') {
        return proof_jump(&work->proof, m, step->op, step->bytes);
    }
    if (strcmp(name, "RTS") == 0) {
        return proof_return(&work->proof, m);
    }
    const uint16_t next = (uint16_t)(m->at + step->size);
    if (step->op->mode == MODE_IMPLIED) {
        if (!proof_implied(m, name)) {
            refuse(work, way, "an instruction that the proof does not follow", step->bytes[0]);
            return false;
        }
    } else if (!follows_home(work, way, step) && !operand(work, way, step, cycles)) {
        return false;
    }
    m->at = next;
    return true;
}

/* ---- ways ---- */

static int walk(struct work_proof *work, int depth);

/* The longer of `best` and the way on from `next`, which comes there after so many cycles. */
static int longer(struct work_proof *work, int depth, const struct way *next, int cycles, int best) {
    if (depth + 1 == DEPTH_MAX) {
        return refuse(work, next, "more branches than the proof can follow", DEPTH_MAX);
    }
    work->ways[depth + 1] = *next;
    const int there = walk(work, depth + 1);
    return there == REFUSED ? REFUSED : there + cycles > best ? there + cycles : best;
}

static int16_t flag_of(const struct machine *m, const char *name) {
    return proof_one_of(name, "BEQ BNE") ? m->z : proof_one_of(name, "BMI BPL") ? m->n : m->c;
}

/* Goes on along a branch that is known; else *longest is that of both ways. */
static bool branch(struct work_proof *work, int depth, const struct fetched *step, int *cycles,
                   int *longest) {
    struct way *way = &work->ways[depth];
    struct machine *m = &way->m;
    const char *name = step->op->mnemonic;
    const int flag = flag_of(m, name), wanted = proof_one_of(name, "BEQ BMI BCS");
    const int next = m->at + 2, target = next + (int8_t)step->bytes[1];
    const int taken = 1 + (next >> 8 != target >> 8);
    if (step->raw[1] < 0) {
        *longest = refuse(work, way, "a branch to where is not known", m->at);
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
    int best = longer(work, depth, way, 0, 0);
    m->at = (uint16_t)target;
    way->turned = target < next;
    best = best == REFUSED ? REFUSED : longer(work, depth, way, taken, best);
    *longest = best == REFUSED ? REFUSED : best + *cycles;
    return false;
}

/* CLAIM_EACH: a way with each value. True where there is nothing to do. */
static bool each(struct work_proof *work, int depth, int at, const struct fetched *step, int cycles,
                 int *longest) {
    struct way *way = &work->ways[depth];
    const int offset = at - work->encoder->origin;
    int16_t *reg = register_of(&way->m, step->op->mnemonic);
    if (in_ram(at) || work->encoder->claims[offset].kind != CLAIM_EACH || *reg >= 0) {
        return true;
    }
    int best = 0;
    for (int value = 0; value < 256 && best != REFUSED; value++) {
        proof_load(&way->m, reg, value);
        best = longer(work, depth, way, 0, best);
    }
    *longest = best == REFUSED ? REFUSED : best + cycles;
    return false;
}

/* Where the longest way from here is known, *longest with it; else it is being worked out from here on. */
static bool is_new(struct work_proof *work, const struct way *way, int cycles, int *longest) {
    const uint32_t slot = slot_of(work, way);
    if (work->longest[slot] >= 0) {
        *longest = cycles + work->longest[slot];
        return false;
    }
    if (work->longest[slot] == OPEN || work->used > MEMO / 2 || work->passed_count == PASSED_MAX) {
        *longest = refuse(work, way, "no end of the work is in sight", cycles);
        return false;
    }
    work->longest[slot] = OPEN;
    work->passed[work->passed_count++] = (struct passed){slot, cycles};
    return true;
}

/* What may be run here; a label that is passed. False: *longest is known. */
static bool arrive(struct work_proof *work, int depth, int cycles, int *longest) {
    const struct way *way = &work->ways[depth];
    const int at = way->m.at, offset = at - work->encoder->origin;
    if (in_ram(at)) {
        const bool fits = at >= CHECK_JOB_AT && at < CHECK_JOB_AT + CHECK_JOB_MAX;
        *longest = fits ? 0 : refuse(work, way, "a job that runs out of its RAM", at);
        return fits && (!way->turned || is_new(work, way, cycles, longest));
    }
    if (offset < 0 || offset >= (int)work->encoder->size) {
        *longest = refuse(work, way, "the work runs out of the image", at);
        return false;
    }
    if (way->bank == BANK_OTHER) {
        *longest = refuse(work, way, "code from a bank that need not be the one that came up", at);
        return false;
    }
    if (at == work->done) {
        *longest = way->m.s == STACK_AT ? cycles : refuse(work, way, "a stack left behind", way->m.s);
        return false;
    }
    if (at == work->cold) {
        *longest = refuse(work, way, "a start that is taken for power-on", at);
        return false;
    }
    return !work->label[offset] || is_new(work, way, cycles, longest);
}

static int follow(struct work_proof *work, int depth) {
    struct way *way = &work->ways[depth];
    int cycles = 0, longest = 0;
    for (;;) {
        struct fetched step = {0};
        const int at = way->m.at;
        if (!arrive(work, depth, cycles, &longest)) {
            return longest;
        }
        way->turned = false;
        if (!decode(work, way, &step)) {
            return REFUSED;
        }
        cycles += step.op->cycles;
        if (cycles > INT16_MAX) {
            return refuse(work, way, "no end of the work is in sight", cycles);
        }
        if (step.op->mode == MODE_RELATIVE) {
            if (!branch(work, depth, &step, &cycles, &longest)) {
                return longest;
            }
        } else if (!run(work, way, &step, &cycles)) {
            return REFUSED;
        } else if (!each(work, depth, at, &step, cycles, &longest)) {
            return longest;
        }
    }
}

/* The longest way from the machine at this depth. */
static int walk(struct work_proof *work, int depth) {
    const int from = work->passed_count;
    const int longest = follow(work, depth);
    for (int i = from; i < work->passed_count; i++) {
        work->longest[work->passed[i].slot] = longest == REFUSED ? 0 : longest - work->passed[i].cycles;
    }
    work->passed_count = from;
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

static void begin(struct work_proof *work) {
    struct machine *m = &work->ways[0].m;
    memset(&work->ways[0], 0, sizeof work->ways[0]);
    m->at = label_at(work->encoder, "work");
    m->a = m->x = m->y = UNKNOWN;
    m->z = m->n = m->c = m->v = UNKNOWN;
    m->s = STACK_AT;
    for (int i = 0; i < RAM_LAST + 1 - RAM_FIRST; i++) {
        m->ram[i] = UNKNOWN;
    }
    m->ram[RAM_HOME - RAM_FIRST] = HOME;
    for (int i = 0; i < work->encoder->label_count; i++) {
        if (work->encoder->labels[i].offset >= 0) {
            work->label[work->encoder->labels[i].offset] = true;
        }
    }
    for (int i = 0; i < 256; i++) {
        work->proof.opcodes[i] = opcode_facts((uint8_t)i);
    }
}

static bool make(struct work_proof *work) {
    work->label = calloc(IMAGE_MAX + 1, sizeof *work->label);
    work->hash = calloc(MEMO, sizeof *work->hash);
    work->longest = malloc(MEMO * sizeof *work->longest);
    work->passed = malloc(PASSED_MAX * sizeof *work->passed);
    work->ways = malloc(DEPTH_MAX * sizeof *work->ways);
    return work->label != NULL && work->hash != NULL && work->longest != NULL && work->passed != NULL &&
           work->ways != NULL;
}

static void unmake(struct work_proof *work) {
    free(work->label);
    free(work->hash);
    free(work->longest);
    free(work->passed);
    free(work->ways);
}

bool prove_work(const struct encoder *encoder, const struct cart_check *check, int window, int *worst,
                struct problem *problem) {
    const struct prove_limits limits = {0};
    struct rom_account account = {0};
    struct work_proof work = {.proof = {.encoder = encoder,
                                        .limits = &limits,
                                        .account = &account,
                                        .problem = problem,
                                        .counting = true},
                              .encoder = encoder,
                              .first = scheme_hotspot(check->scheme, 0) & 0xFF,
                              .banks = scheme_banks(check->scheme),
                              .done = label_at(encoder, "work_done"),
                              .cold = label_at(encoder, "cold")};
    if (!make(&work)) {
        unmake(&work);
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the proof of an image");
    }
    begin(&work);
    *worst = walk(&work, 0);
    unmake(&work);
    if (*worst == REFUSED) {
        return false;
    }
    return *worst <= window ||
           problem_set(problem, PROBLEM_INPUT, "image: the work takes up to %d cycles; a field has %d",
                       *worst, window);
}
