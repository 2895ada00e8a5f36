#include "rom/proof.h"

#include <stdlib.h>
#include <string.h>

/* The bytes of the instruction at m->at; its opcode, or NULL after a refusal. */
static const struct opcode *decode(const struct proof *proof, const struct machine *m,
                                   uint8_t bytes[BYTES_MAX]) {
    const int code = proof_fetch(proof, m, m->at);
    if (code == UNKNOWN) {
        proof_refuse(proof, m,
                     in_ram(m->at) ? "what is run was not copied" : "the program runs out of the image",
                     m->at);
        return NULL;
    }
    const struct opcode *op = &proof->opcodes[code];
    const int size = op->mode == MODE_NONE ? 1 : opcode_bytes(op->mode);
    const int loop_end = proof->limits->slate_from + proof->limits->handover;
    if (in_ram(m->at) && (m->at < proof->limits->slate_from || m->at + size > loop_end)) {
        proof_refuse(proof, m, "the loop in RAM does not fit over the slate's rows", m->at + size);
        return NULL;
    }
    bool whole = op->mode != MODE_NONE;
    for (int i = 0; i < size; i++) {
        const int value = proof_fetch(proof, m, m->at + i);
        whole = whole && value != UNKNOWN;
        bytes[i] = (uint8_t)value;
    }
    if (!whole) {
        proof_refuse(proof, m, "what is no instruction is run", code);
        return NULL;
    }
    return op;
}

static bool one_instruction(struct proof *proof, struct machine *m) {
    uint8_t bytes[BYTES_MAX] = {0};
    const struct opcode *op = decode(proof, m, bytes);
    bool crosses = false, done = false;
    if (op == NULL) {
        return false;
    }
    if (!proof_window(proof, m, bytes, &done)) {
        return false;
    }
    if (done) {
        return true;
    }
    m->cycle = (int16_t)(m->cycle + op->cycles);
    if (op->mode == MODE_RELATIVE) {
        return proof_branch(proof, m, op->mnemonic, bytes);
    }
    if (op->mnemonic[0] == 'J') {
        return proof_jump(proof, m, op, bytes);
    }
    if (strcmp(op->mnemonic, "RTS") == 0) {
        return proof_return(proof, m);
    }
    if (op->mode == MODE_IMPLIED) {
        if (!proof_stack(proof, m, op->mnemonic, &done)) {
            return false;
        }
        if (!done && !proof_implied(m, op->mnemonic)) {
            return proof_refuse(proof, m, "an instruction that the proof does not follow", bytes[0]);
        }
    } else {
        int address = proof_address(m, bytes, op->mode, &crosses);
        const bool adds = crosses && op->cross_adds;
        m->cycle = (int16_t)(m->cycle + adds);
        m->slack = (int16_t)(m->slack + (adds && address == UNKNOWN));
        if (!proof_mark(proof, m, bytes, op->mode)) {
            return false;
        }
        if (!proof_operand(proof, m, op, bytes, address)) {
            return false;
        }
        if (proof->stale != 0) {
            return proof_refuse(proof, m,
                                "the hand-over would spoil a byte of the slate that outlives its frame",
                                proof->stale);
        }
    }
    const int at = m->at;
    m->at = (uint16_t)(at + opcode_bytes(op->mode));
    return proof_claim(proof, m, at, op, bytes);
}

/* Follows one path until it meets a state that is known. */
static bool follow(struct proof *proof, struct machine *m) {
    for (;;) {
        int line = m->line;
        if (++proof->steps > STEPS_MAX || proof->account->states > STATES_MAX / 2) {
            return proof_refuse(proof, m, "no end of the program's paths is in sight",
                                (int)(proof->steps / 1000));
        }
        if (m->line != NOT_YET && m->cycle > LINE_CYCLES) {
            return proof_refuse(proof, m, "a line of more than 76 cycles", m->cycle);
        }
        const bool counted = proof_counted(proof, m->at);
        if (!one_instruction(proof, m) || (counted && !proof_count_lines(proof, m))) {
            return false;
        }
        if (m->left || (m->line != line && !proof_remember(proof, m))) {
            return true;
        }
    }
}

static void power_on(const struct proof *proof, struct machine *m) {
    const struct encoder *encoder = proof->encoder;
    size_t reset = encoder->size - 4;
    memset(m, 0, sizeof *m);
    m->at = (uint16_t)(encoder->bytes[reset] | encoder->bytes[reset + 1] << 8);
    m->a = m->x = m->y = m->s = UNKNOWN;
    m->z = m->n = m->c = m->v = UNKNOWN;
    m->line = NOT_YET;
    m->timer = UNKNOWN;
    for (int i = 0; i < 128; i++) {
        m->ram[i] = UNKNOWN;
    }
}

static bool account_ram(const struct proof *proof, const struct machine *m) {
    int ram = 0, stack = 0, both = 0;
    for (int i = 0; i < 128; i++) {
        ram += proof->used[i];
        stack += proof->stacked[i];
        both += proof->used[i] && proof->stacked[i];
    }
    proof->account->ram_bytes = ram;
    proof->account->stack_bytes = stack;
    if (both > 0) {
        return proof_refuse(proof, m, "the stack reaches into RAM that is used; bytes that both want", both);
    }
    int rows = proof->limits->slate_to - proof->limits->slate_from;
    if (proof->limits->handover > rows) {
        return proof_refuse(proof, m, "the hand-over does not fit over the slate's rows",
                            proof->limits->handover);
    }
    return true;
}

static bool follow_all(struct proof *proof) {
    struct machine m;
    power_on(proof, &m);
    if (!in_image(proof, m.at)) {
        return proof_refuse(proof, &m, "the reset vector points out of the image", m.at);
    }
    proof->waiting[proof->waiting_count++] = m;
    while (proof->waiting_count > 0) {
        m = proof->waiting[--proof->waiting_count];
        if (!follow(proof, &m)) {
            return false;
        }
    }
    return account_ram(proof, &m);
}

static void know_opcodes(struct proof *proof) {
    for (int i = 0; i < 256; i++) {
        proof->opcodes[i] = opcode_facts((uint8_t)i);
    }
}

bool prove(const struct encoder *encoder, const struct prove_limits *limits, struct rom_account *account,
           struct problem *problem) {
    struct proof *proof = calloc(1, sizeof *proof);
    bool good = proof != NULL;
    if (good) {
        *proof = (struct proof){.encoder = encoder, .limits = limits, .account = account, .problem = problem};
        proof->seen = calloc(STATES_MAX, sizeof *proof->seen);
        proof->waiting = malloc(PATHS_MAX * sizeof *proof->waiting);
        good = proof->seen != NULL && proof->waiting != NULL;
    }
    if (!good) {
        problem_set(problem, PROBLEM_BENCH, "out of memory for the proof of an image");
    } else {
        account->line_cycles = 0;
        account->states = 0;
        account->line_where = "start";
        know_opcodes(proof);
        good = follow_all(proof);
    }
    if (proof != NULL) {
        free(proof->seen);
        free(proof->waiting);
        free(proof);
    }
    return good;
}

bool prove_count(const struct encoder *encoder, uint16_t end, long *cycles, struct problem *problem) {
    const struct prove_limits limits = {0};
    struct rom_account account = {0};
    struct proof proof = {
        .encoder = encoder, .limits = &limits, .account = &account, .problem = problem, .counting = true};
    struct machine m;
    know_opcodes(&proof);
    power_on(&proof, &m);
    *cycles = 0;
    while (m.at != end) {
        m.cycle = 0;
        if (++proof.steps > STEPS_MAX) {
            return proof_refuse(&proof, &m, "no end of the program in sight", STEPS_MAX);
        }
        if (!one_instruction(&proof, &m)) {
            return false;
        }
        *cycles += m.cycle;
    }
    return true;
}
