#include "rom/proof.h"

#include "slotjig/mailbox.h"

#include <string.h>

static void set_zn(struct machine *m, int value) {
    m->z = (int8_t)(value == UNKNOWN ? UNKNOWN : value == 0);
    m->n = (int8_t)(value == UNKNOWN ? UNKNOWN : value >> 7);
}

/* A value, or that it is not known. */
static int plain(int value) {
    return value < 0 ? UNKNOWN : value;
}

int proof_ram_read(struct proof *proof, struct machine *m, int address) {
    if (address < RAM_FIRST) {
        return UNKNOWN;
    }
    proof->used[address - RAM_FIRST] = true;
    int value = m->ram[address - RAM_FIRST];
    if (value == STALE && address >= proof->limits->slate_from && address < proof->limits->slate_to) {
        proof->stale = address;
    }
    return plain(value);
}

/* A board changes what the mailbox holds; a plain cartridge does not. */
static int image_read(const struct proof *proof, int address) {
    const int slot = address & SLOT;
    if (!in_image(proof, address) || (slot >= MAILBOX_MODE && slot < MAILBOX_IN_RAM && !proof->counting)) {
        return UNKNOWN;
    }
    return proof->encoder->bytes[address - proof->encoder->origin];
}

int proof_fetch(const struct proof *proof, const struct machine *m, int address) {
    if (!in_ram(address)) {
        return image_read(proof, address);
    }
    return plain(m->ram[address - RAM_FIRST]);
}

static int wrapped(int base, int index) {
    return index == UNKNOWN ? UNKNOWN : (base + index) & 0xFF;
}

int proof_address(const struct machine *m, const uint8_t *bytes, enum mode mode, bool *crosses) {
    int word = opcode_bytes(mode) == 3 ? bytes[1] | bytes[2] << 8 : bytes[1];
    int index = plain(mode == MODE_ABSOLUTE_X || mode == MODE_ZERO_X ? m->x : m->y);
    *crosses = false;
    if (mode == MODE_ZERO_X && m->x == DRAWS && word == 0) {
        return DRAWS;
    }
    switch (mode) {
    case MODE_ZERO:
    case MODE_ABSOLUTE:
        return word;
    case MODE_ZERO_X:
    case MODE_ZERO_Y:
        return wrapped(word, index);
    case MODE_ABSOLUTE_X:
    case MODE_ABSOLUTE_Y:
        *crosses = (word & 0xFF) + (index == UNKNOWN ? 0xFF : index) > 0xFF;
        return index == UNKNOWN ? UNKNOWN : word + index;
    case MODE_INDIRECT_Y: /* the pointer is not followed, so neither is the page known */
        *crosses = true;
        return UNKNOWN;
    default:
        return UNKNOWN;
    }
}

/* What such a load reads could not be accounted. Of (zp),Y the pointer is taken to lie in the image. */
static bool reads_ram_unseen(const uint8_t *bytes, enum mode mode, int address) {
    bool absolute = mode == MODE_ABSOLUTE_X || mode == MODE_ABSOLUTE_Y;
    return address == UNKNOWN && mode != MODE_INDIRECT_Y && !(absolute && bytes[2] != 0);
}

/* The board takes some reads for messages and some for a change of bank: they happen when they are meant. */
static bool is_meant(const struct proof *proof, const struct machine *m, const struct opcode *op,
                     int address) {
    const int slot = address & SLOT;
    if (proof->counting || !in_image(proof, address)) {
        return true;
    }
    if (slot == MAILBOX_IN_RAM) {
        return in_ram(m->at);
    }
    if (slot < MAILBOX_VECTOR_LOW || slot > MAILBOX_STEP_SHOWN) {
        return slot < HOTSPOT_FIRST || slot > HOTSPOT_LAST;
    }
    const int echo = m->at + opcode_bytes(op->mode);
    uint8_t code = 0;
    return opcode_find("LDA", MODE_ABSOLUTE_X, &code) && op->mode == MODE_ABSOLUTE &&
           strcmp(op->mnemonic, "LDA") == 0 && proof_fetch(proof, m, echo) == code &&
           proof_fetch(proof, m, echo + 1) == (MAILBOX_ECHO & 0xFF) &&
           (proof_fetch(proof, m, echo + 2) * 0x100 & SLOT) == MAILBOX_ECHO;
}

static int operand_of(struct proof *proof, struct machine *m, const uint8_t *bytes, enum mode mode,
                      int address) {
    if (mode == MODE_IMMEDIATE) {
        return bytes[1];
    }
    if (mode == MODE_INDIRECT_Y) {
        proof_ram_read(proof, m, bytes[1]);
        proof_ram_read(proof, m, (bytes[1] + 1) & 0xFF);
    }
    if (address == UNKNOWN) {
        return UNKNOWN;
    }
    return address <= 0xFF ? proof_ram_read(proof, m, address) : image_read(proof, address);
}

static int shifted(struct machine *m, const char *mnemonic, int value) {
    int in = mnemonic[0] == 'R' ? m->c : 0;
    bool left = strcmp(mnemonic, "ASL") == 0 || strcmp(mnemonic, "ROL") == 0;
    if (value == UNKNOWN) {
        m->c = UNKNOWN;
        return UNKNOWN;
    }
    m->c = (int8_t)(left ? value >> 7 : value & 1);
    if (in == UNKNOWN) {
        return UNKNOWN;
    }
    return left ? (value << 1 & 0xFF) | in : value >> 1 | in << 7;
}

static int sum(struct machine *m, int a, int b, int carry) {
    m->v = UNKNOWN;
    if (a == UNKNOWN || b == UNKNOWN || carry == UNKNOWN) {
        m->c = UNKNOWN;
        return UNKNOWN;
    }
    int total = a + b + carry;
    m->c = (int8_t)(total > 0xFF);
    return total & 0xFF;
}

static void compare(struct machine *m, int reg, int value) {
    set_zn(m, reg == UNKNOWN || value == UNKNOWN ? UNKNOWN : (reg - value) & 0xFF);
    m->c = (int8_t)(reg == UNKNOWN || value == UNKNOWN ? UNKNOWN : reg >= value);
}

static int logic(const char *mnemonic, int a, int b) {
    if (strcmp(mnemonic, "AND") == 0) {
        return a == 0 || b == 0 ? 0 : a == UNKNOWN || b == UNKNOWN ? UNKNOWN : (a & b);
    }
    if (a == UNKNOWN || b == UNKNOWN) {
        return UNKNOWN;
    }
    return mnemonic[0] == 'O' ? (a | b) : (a ^ b);
}

static int stepped(int value, int by) {
    return value == UNKNOWN ? UNKNOWN : (value + by) & 0xFF;
}

void proof_load(struct machine *m, int16_t *reg, int value) {
    *reg = (int16_t)value;
    set_zn(m, value);
}

bool proof_implied(struct machine *m, const char *name) {
    struct {
        const char *name;
        int16_t *to;
        int value;
    } moves[] = {{"TAX", &m->x, m->a},
                 {"TAY", &m->y, m->a},
                 {"TXA", &m->a, plain(m->x)},
                 {"TYA", &m->a, m->y},
                 {"TSX", &m->x, m->s},
                 {"INX", &m->x, stepped(plain(m->x), 1)},
                 {"DEX", &m->x, stepped(plain(m->x), -1)},
                 {"INY", &m->y, stepped(m->y, 1)},
                 {"DEY", &m->y, stepped(m->y, -1)}};
    for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++) {
        if (strcmp(name, moves[i].name) == 0) {
            proof_load(m, moves[i].to, moves[i].value);
            return true;
        }
    }
    if (strcmp(name, "CLC") == 0 || strcmp(name, "SEC") == 0) {
        m->c = name[0] == 'S';
        return true;
    }
    if (strcmp(name, "CLV") == 0) {
        m->v = 0;
        return true;
    }
    if (strcmp(name, "TXS") == 0) { /* sets no flags */
        m->s = (int16_t)plain(m->x);
        return true;
    }
    static const char *const idle[] = {"NOP", "SEI", "CLD"};
    for (size_t i = 0; i < sizeof idle / sizeof idle[0]; i++) {
        if (strcmp(name, idle[i]) == 0) {
            return true;
        }
    }
    return false;
}

static bool run_change(struct proof *proof, struct machine *m, const char *name, enum mode mode,
                       int address) {
    if (mode != MODE_ACCUMULATOR && address != UNKNOWN && address < RAM_FIRST) {
        return proof_refuse(proof, m, "an instruction that stores twice, to a TIA register", address);
    }
    int before = mode == MODE_ACCUMULATOR ? m->a
                 : address == UNKNOWN     ? UNKNOWN
                                          : proof_ram_read(proof, m, address);
    int after = strcmp(name, "INC") == 0   ? stepped(before, 1)
                : strcmp(name, "DEC") == 0 ? stepped(before, -1)
                                           : shifted(m, name, before);
    set_zn(m, after);
    if (mode == MODE_ACCUMULATOR) {
        m->a = (int16_t)after;
        return true;
    }
    return proof_store(proof, m, address, after);
}

bool proof_one_of(const char *name, const char *list) {
    return strstr(list, name) != NULL;
}

bool proof_operand(struct proof *proof, struct machine *m, const struct opcode *op, const uint8_t *bytes,
                   int address) {
    const char *name = op->mnemonic;
    int16_t *reg = name[2] == 'X' ? &m->x : name[2] == 'Y' ? &m->y : &m->a;
    if (proof_one_of(name, "STA STX STY")) {
        return proof_store(proof, m, address, plain(*reg));
    }
    if (address == DRAWS) {
        return proof_refuse(proof, m, "a register that draws is read", bytes[1]);
    }
    if (proof_one_of(name, "ASL LSR ROL ROR INC DEC")) {
        return run_change(proof, m, name, op->mode, address);
    }
    if (op->mode != MODE_IMMEDIATE && reads_ram_unseen(bytes, op->mode, address)) {
        return proof_refuse(proof, m, "a load from RAM at an unknown address", bytes[1]);
    }
    if (op->mode != MODE_IMMEDIATE && !is_meant(proof, m, op, address)) {
        return proof_refuse(proof, m, "a read that a board would take for a message or a change of bank",
                            address);
    }
    int value = operand_of(proof, m, bytes, op->mode, address);
    if (proof_one_of(name, "LDA LDX LDY")) {
        proof_load(m, reg, value);
        if (reg == &m->x && in_ram(address) && m->ram[address - RAM_FIRST] == DRAWS) {
            m->x = DRAWS;
        }
    } else if (proof_one_of(name, "AND ORA EOR")) {
        proof_load(m, &m->a, logic(name, m->a, value));
    } else if (proof_one_of(name, "CMP CPX CPY")) {
        compare(m, strcmp(name, "CMP") == 0 ? m->a : plain(*reg), value);
    } else if (strcmp(name, "ADC") == 0) {
        proof_load(m, &m->a, sum(m, m->a, value, m->c));
    } else if (strcmp(name, "SBC") == 0) {
        proof_load(m, &m->a, sum(m, m->a, value == UNKNOWN ? UNKNOWN : value ^ 0xFF, m->c));
    } else if (strcmp(name, "BIT") == 0) {
        m->z = m->n = m->v = UNKNOWN;
    } else {
        return proof_refuse(proof, m, "an instruction that the proof does not follow", bytes[0]);
    }
    return true;
}
