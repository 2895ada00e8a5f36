#include "rom/prove_work_step.h"

#include <string.h>

int work_refuse(const struct work_code *work, const struct way *way, const char *what, int figure) {
    problem_set(work->proof.problem, PROBLEM_INPUT, "image: the work at %s, $%04X: %s (%d)",
                in_ram(way->m.at) ? "a job" : proof_where(&work->proof, &way->m), way->m.at, what, figure);
    return WORK_REFUSED;
}

/* ---- the bus ---- */

static bool is_cartridge(int address) {
    return (address & 0x1000) != 0;
}

/* What an access does to the bank, at one of so many addresses from there on. */
static void touch(const struct work_code *work, struct way *way, int address, int range) {
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

static int16_t raw_byte(const struct work_code *work, const struct way *way, int address) {
    return in_ram(address) ? way->m.ram[address - RAM_FIRST]
                           : (int16_t)proof_fetch(&work->proof, &way->m, address);
}

bool work_decode(const struct work_code *work, const struct way *way, struct fetched *step) {
    const int code = raw_byte(work, way, way->m.at);
    if (code < 0) {
        work_refuse(work, way, "what is run is not known", way->m.at);
        return false;
    }
    step->op = &work->proof.opcodes[code];
    step->size = step->op->mode == MODE_NONE ? 1 : opcode_bytes(step->op->mode);
    if (step->op->mode == MODE_NONE) {
        work_refuse(work, way, "what is no instruction is run", code);
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

int16_t *work_register(struct machine *m, const char *name) {
    return name[2] == 'X' ? &m->x : name[2] == 'Y' ? &m->y : &m->a;
}

static void forget(int16_t *reg, struct machine *m, int value) {
    *reg = (int16_t)value;
    m->z = m->n = UNKNOWN;
}

/* Something is read of which nothing is known. */
static bool read_unknown(struct work_code *work, struct way *way, const struct fetched *step) {
    struct machine *m = &way->m;
    const char *name = step->op->mnemonic;
    if (is_store(step) || is_change(step)) {
        work_refuse(work, way, "a store to where is not known", m->at);
        return false;
    }
    if (proof_one_of(name, "CMP CPX CPY")) {
        m->z = m->n = m->c = UNKNOWN;
    } else {
        m->c = proof_one_of(name, "ADC SBC") ? UNKNOWN : m->c;
        forget(work_register(m, proof_one_of(name, "LDX LDY") ? name : "LDA"), m, UNKNOWN);
    }
    return true;
}

/* HOME, from where it is to where it selects. True: it was that. */
static bool follows_home(struct work_code *work, struct way *way, const struct fetched *step) {
    struct machine *m = &way->m;
    const char *name = step->op->mnemonic;
    const int at = step->bytes[1];
    const bool zero = step->op->mode == MODE_ZERO;
    if (zero && proof_one_of(name, "LDA LDX LDY") && in_ram(at) && m->ram[at - RAM_FIRST] <= HOME) {
        forget(work_register(m, name), m, m->ram[at - RAM_FIRST]);
        return true;
    }
    if (zero && is_store(step) && *work_register(m, name) <= HOME && may_store(at)) {
        m->ram[at - RAM_FIRST] = *work_register(m, name);
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
static void extra_cycle(const struct work_code *work, struct way *way, const struct fetched *step,
                        int address, bool crosses) {
    const enum mode mode = step->op->mode;
    if ((mode == MODE_ABSOLUTE_X || mode == MODE_ABSOLUTE_Y) && address != UNKNOWN &&
        (crosses || is_store(step))) {
        touch(work, way, step->bytes[2] << 8 | (address & 0xFF), 1);
    }
}

static bool operand(struct work_code *work, struct way *way, const struct fetched *step, int *cycles) {
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
        work_refuse(work, way, "a store to what is not the work's", address);
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
static bool jump_indirect(struct work_code *work, struct way *way, const struct fetched *step) {
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
        work_refuse(work, way, "a jump to where is not known", vector);
        return false;
    }
    m->at = (uint16_t)(low | high << 8);
    return true;
}

bool work_run(struct work_code *work, struct way *way, const struct fetched *step, int *cycles) {
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
            work_refuse(work, way, "an instruction that the proof does not follow", step->bytes[0]);
            return false;
        }
    } else if (!follows_home(work, way, step) && !operand(work, way, step, cycles)) {
        return false;
    }
    m->at = next;
    return true;
}
