#include "rom/prove.h"

#include "base/standard.h"
#include "plan/plan.h"
#include "rom/kernel.h"

#include "slotjig/mailbox.h"

#include <stdlib.h>
#include <string.h>

enum {
    UNKNOWN = -1,
    STALE = -2,   /* RAM: as UNKNOWN, and not written since the frame began */
    NOT_YET = -1, /* the line, before the first vertical sync */
    STATES_MAX = 1 << 18,
    STEPS_MAX = 20000000,
    PATHS_MAX = 4096,
    RAM_FIRST = 0x80,
    RAM_LAST = 0xFF,
    SLOT = 0x1FFF, /* the address lines that a cartridge has */
    HOTSPOT_FIRST = 0x1FF4,
    HOTSPOT_LAST = 0x1FFB,
    BYTES_MAX = 3 /* of an instruction */
};

/* A machine at an instruction. Values: 0..255 known, UNKNOWN else; flags 0, 1 or UNKNOWN. */
struct machine {
    uint16_t at; /* address */
    bool left;   /* went on into whatever image is there now */
    int16_t a, x, y, s;
    int8_t z, n, c, v;
    int16_t cycle; /* of the line, worst case */
    int16_t slack; /* it may also be up to so many fewer */
    int16_t line;  /* of the frame */
    int8_t vsync;
    int16_t ram[128];
};

struct proof {
    const struct encoder *encoder;
    const struct prove_limits *limits;
    struct rom_account *account;
    struct problem *problem;
    struct opcode opcodes[256];
    bool counting;  /* prove_count(): no lines, no frames, one path */
    uint64_t *seen; /* hashes of the states that were met at line ends and branches; 0 is a free place */
    struct machine *waiting;
    int waiting_count;
    size_t steps;
    bool used[128], stacked[128]; /* by the program's own addresses; by the stack */
    int stale;                    /* a slate's row that was read before it was written; 0: none */
};

static bool in_ram(int address) {
    return address >= RAM_FIRST && address <= RAM_LAST;
}

static bool in_image(const struct proof *proof, int address) {
    return address >= proof->encoder->origin && address < proof->encoder->origin + (int)proof->encoder->size;
}

static const char *where(const struct proof *proof, const struct machine *m) {
    return in_image(proof, m->at) ? encoder_where(proof->encoder, (size_t)(m->at - proof->encoder->origin))
           : in_ram(m->at)        ? "the loop in RAM"
                                  : "nowhere";
}

static bool refuse(const struct proof *proof, const struct machine *m, const char *what, int figure) {
    return problem_set(proof->problem, PROBLEM_INPUT, "image: at %s, line %d: %s (%d)", where(proof, m),
                       m->line, what, figure);
}

/* FNV-1a, 64 bits (Fowler, Noll, Vo): two states with one hash would be taken for the same; at 131,072 states
 * that is one in 2^31. */
static uint64_t hash_of(const struct machine *m) {
    struct machine plain;
    uint64_t hash = UINT64_C(0xcbf29ce484222325);
    memset(&plain, 0, sizeof plain);
    plain.at = m->at, plain.a = m->a, plain.x = m->x, plain.y = m->y, plain.s = m->s;
    plain.z = m->z, plain.n = m->n, plain.c = m->c, plain.v = m->v;
    plain.cycle = m->cycle, plain.slack = m->slack, plain.line = m->line, plain.vsync = m->vsync;
    memcpy(plain.ram, m->ram, sizeof plain.ram);
    const unsigned char *bytes = (const unsigned char *)&plain;
    for (size_t i = 0; i < sizeof plain; i++) {
        hash = (hash ^ bytes[i]) * UINT64_C(0x100000001b3);
    }
    return hash == 0 ? 1 : hash;
}

/* True when the state is new. */
static bool remember(struct proof *proof, const struct machine *m) {
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

static void set_zn(struct machine *m, int value) {
    m->z = (int8_t)(value == UNKNOWN ? UNKNOWN : value == 0);
    m->n = (int8_t)(value == UNKNOWN ? UNKNOWN : value >> 7);
}

static int ram_read(struct proof *proof, struct machine *m, int address) {
    if (address < RAM_FIRST) {
        return UNKNOWN;
    }
    proof->used[address - RAM_FIRST] = true;
    int value = m->ram[address - RAM_FIRST];
    if (value == STALE && address >= proof->limits->slate_from && address < proof->limits->slate_to) {
        proof->stale = address;
    }
    return value == STALE ? UNKNOWN : value;
}

/* A board changes what the mailbox holds; a plain cartridge does not. */
static int image_read(const struct proof *proof, int address) {
    const int slot = address & SLOT;
    if (!in_image(proof, address) || (slot >= MAILBOX_MODE && slot < MAILBOX_IN_RAM && !proof->counting)) {
        return UNKNOWN;
    }
    return proof->encoder->bytes[address - proof->encoder->origin];
}

/* A byte of the program; UNKNOWN where there is none. */
static int fetch(const struct proof *proof, const struct machine *m, int address) {
    if (!in_ram(address)) {
        return image_read(proof, address);
    }
    return m->ram[address - RAM_FIRST] == STALE ? UNKNOWN : m->ram[address - RAM_FIRST];
}

static bool end_line(struct proof *proof, struct machine *m) {
    if (m->line != NOT_YET) {
        if (m->cycle > LINE_CYCLES) {
            return refuse(proof, m, "a line of more than 76 cycles", m->cycle);
        }
        if (m->cycle > proof->account->line_cycles) {
            proof->account->line_cycles = m->cycle;
            proof->account->line_where = where(proof, m);
        }
        if (++m->line > proof->limits->frame_lines) {
            return refuse(proof, m, "a frame of too many lines", m->line);
        }
    }
    m->cycle = m->slack = 0;
    return true;
}

/* Nothing that a field leaves behind is known when the next begins: so the first frame stands for all. Only a
 * loop that runs from RAM is still there. */
static bool start_frame(struct proof *proof, struct machine *m) {
    if (m->line != NOT_YET && m->line != proof->limits->frame_lines) {
        return refuse(proof, m, "a frame of another number of lines", m->line);
    }
    m->line = 0;
    proof->account->frame_lines = proof->limits->frame_lines;
    const int loop = proof->limits->slate_from - RAM_FIRST;
    for (int i = 0; i < 128; i++) {
        if (!in_ram(m->at) || i < loop || i >= loop + proof->limits->handover) {
            m->ram[i] = STALE;
        }
    }
    m->x = m->y = UNKNOWN;
    m->z = m->n = m->c = m->v = UNKNOWN;
    return true;
}

/* RSYNC would start a line anew, HMOVE lengthen its blank: what the proof counts on is not touched. */
static bool is_known_register(int address) {
    return address == TIA_VBLANK || (address >= 0x06 && address <= 0x0A) || /* COLUP0 to CTRLPF */
           (address >= 0x0D && address <= 0x0F) ||                          /* PF0 to PF2 */
           (address >= TIA_AUDV0 && address <= TIA_ENABL);
}

static bool tia_write(struct proof *proof, struct machine *m, int address, int value) {
    if (proof->counting) {
        return true;
    }
    if (address == TIA_WSYNC) {
        return end_line(proof, m);
    }
    if (address != TIA_VSYNC) {
        return is_known_register(address) || refuse(proof, m,
                                                    "a store to what is neither RAM nor a register of "
                                                    "sync, blank, playfield, objects or sound",
                                                    address);
    }
    if (value == UNKNOWN) {
        return refuse(proof, m, "a store of an unknown value to VSYNC", address);
    }
    bool starts = (value & 2) != 0 && m->vsync == 0;
    m->vsync = (value & 2) != 0;
    return !starts || start_frame(proof, m);
}

static bool store(struct proof *proof, struct machine *m, int address, int value) {
    if (address == UNKNOWN) {
        return refuse(proof, m, "a store to an unknown address", address);
    }
    if (in_ram(address)) {
        m->ram[address - RAM_FIRST] = (int16_t)value;
        if (m->line != NOT_YET) { /* the cold start clears what is not used, too */
            proof->used[address - RAM_FIRST] = true;
        }
        return true;
    }
    return tia_write(proof, m, address, value);
}

static int wrapped(int base, int index) {
    return index == UNKNOWN ? UNKNOWN : (base + index) & 0xFF;
}

/* The operand's address, UNKNOWN where the index is; *crosses: the index may pass a page. */
static int address_of(const struct machine *m, const uint8_t *bytes, enum mode mode, bool *crosses) {
    int word = opcode_bytes(mode) == 3 ? bytes[1] | bytes[2] << 8 : bytes[1];
    int index = mode == MODE_ABSOLUTE_X || mode == MODE_ZERO_X ? m->x : m->y;
    *crosses = false;
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
           strcmp(op->mnemonic, "LDA") == 0 && fetch(proof, m, echo) == code &&
           fetch(proof, m, echo + 1) == (MAILBOX_ECHO & 0xFF) &&
           (fetch(proof, m, echo + 2) << 8 & SLOT) == MAILBOX_ECHO;
}

static int operand_of(struct proof *proof, struct machine *m, const uint8_t *bytes, enum mode mode,
                      int address) {
    if (mode == MODE_IMMEDIATE) {
        return bytes[1];
    }
    if (mode == MODE_INDIRECT_Y) {
        ram_read(proof, m, bytes[1]);
        ram_read(proof, m, (bytes[1] + 1) & 0xFF);
    }
    if (address == UNKNOWN) {
        return UNKNOWN;
    }
    return address <= 0xFF ? ram_read(proof, m, address) : image_read(proof, address);
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

static void load(struct machine *m, int16_t *reg, int value) {
    *reg = (int16_t)value;
    set_zn(m, value);
}

/* The stack's page is the RAM once more, $80 to $FF; below that it would be the TIA. */
static bool push(struct proof *proof, struct machine *m, int value) {
    if (m->s < RAM_FIRST) {
        return refuse(proof, m, "a stack that nobody set, or that has run out of RAM", m->s);
    }
    proof->stacked[m->s - RAM_FIRST] = true;
    m->ram[m->s - RAM_FIRST] = (int16_t)value;
    m->s--;
    return true;
}

static bool pull(struct proof *proof, struct machine *m, int *value) {
    if (m->s < RAM_FIRST - 1 || m->s >= 0xFF) {
        return refuse(proof, m, "a pull from an empty stack", m->s);
    }
    m->s++;
    *value = m->ram[m->s - RAM_FIRST] == STALE ? UNKNOWN : m->ram[m->s - RAM_FIRST];
    return true;
}

/* PHA, PLA. *done: it was one of them. */
static bool run_stack(struct proof *proof, struct machine *m, const char *name, bool *done) {
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
    load(m, &m->a, value);
    return true;
}

/* Instructions without an operand. False: not one of them. */
static bool run_implied(struct machine *m, const char *name) {
    struct {
        const char *name;
        int16_t *to;
        int value;
    } moves[] = {{"TAX", &m->x, m->a},
                 {"TAY", &m->y, m->a},
                 {"TXA", &m->a, m->x},
                 {"TYA", &m->a, m->y},
                 {"TSX", &m->x, m->s},
                 {"INX", &m->x, stepped(m->x, 1)},
                 {"DEX", &m->x, stepped(m->x, -1)},
                 {"INY", &m->y, stepped(m->y, 1)},
                 {"DEY", &m->y, stepped(m->y, -1)}};
    for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++) {
        if (strcmp(name, moves[i].name) == 0) {
            load(m, moves[i].to, moves[i].value);
            return true;
        }
    }
    if (strcmp(name, "CLC") == 0 || strcmp(name, "SEC") == 0) {
        m->c = name[0] == 'S';
        return true;
    }
    if (strcmp(name, "TXS") == 0) { /* sets no flags */
        m->s = m->x;
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
        return refuse(proof, m, "an instruction that stores twice, to a TIA register", address);
    }
    int before = mode == MODE_ACCUMULATOR ? m->a : address == UNKNOWN ? UNKNOWN : ram_read(proof, m, address);
    int after = strcmp(name, "INC") == 0   ? stepped(before, 1)
                : strcmp(name, "DEC") == 0 ? stepped(before, -1)
                                           : shifted(m, name, before);
    set_zn(m, after);
    if (mode == MODE_ACCUMULATOR) {
        m->a = (int16_t)after;
        return true;
    }
    return store(proof, m, address, after);
}

static bool is_one_of(const char *name, const char *list) {
    return strstr(list, name) != NULL;
}

static bool run_operand(struct proof *proof, struct machine *m, const struct opcode *op, const uint8_t *bytes,
                        int address) {
    const char *name = op->mnemonic;
    int16_t *reg = name[2] == 'X' ? &m->x : name[2] == 'Y' ? &m->y : &m->a;
    if (is_one_of(name, "STA STX STY")) {
        return store(proof, m, address, *reg);
    }
    if (is_one_of(name, "ASL LSR ROL ROR INC DEC")) {
        return run_change(proof, m, name, op->mode, address);
    }
    if (op->mode != MODE_IMMEDIATE && reads_ram_unseen(bytes, op->mode, address)) {
        return refuse(proof, m, "a load from RAM at an unknown address", bytes[1]);
    }
    if (op->mode != MODE_IMMEDIATE && !is_meant(proof, m, op, address)) {
        return refuse(proof, m, "a read that a board would take for a message or a change of bank", address);
    }
    int value = operand_of(proof, m, bytes, op->mode, address);
    if (is_one_of(name, "LDA LDX LDY")) {
        load(m, reg, value);
    } else if (is_one_of(name, "AND ORA EOR")) {
        load(m, &m->a, logic(name, m->a, value));
    } else if (is_one_of(name, "CMP CPX CPY")) {
        compare(m, strcmp(name, "CMP") == 0 ? m->a : *reg, value);
    } else if (strcmp(name, "ADC") == 0) {
        load(m, &m->a, sum(m, m->a, value, m->c));
    } else if (strcmp(name, "SBC") == 0) {
        load(m, &m->a, sum(m, m->a, value == UNKNOWN ? UNKNOWN : value ^ 0xFF, m->c));
    } else if (strcmp(name, "BIT") == 0) {
        m->z = m->n = m->v = UNKNOWN;
    } else {
        return refuse(proof, m, "an instruction that the proof does not follow", bytes[0]);
    }
    return true;
}

static bool add_path(struct proof *proof, const struct machine *m) {
    if (!remember(proof, m)) {
        return true;
    }
    if (proof->waiting_count == PATHS_MAX) {
        return refuse(proof, m, "more paths than the proof can follow", PATHS_MAX);
    }
    proof->waiting[proof->waiting_count++] = *m;
    return true;
}

/* Both ways where the flag is not known. The machine goes on along one of them. */
static bool run_branch(struct proof *proof, struct machine *m, const char *name, const uint8_t *bytes) {
    int flag = is_one_of(name, "BEQ BNE")   ? m->z
               : is_one_of(name, "BMI BPL") ? m->n
               : is_one_of(name, "BCS BCC") ? m->c
                                            : m->v;
    int wanted = is_one_of(name, "BEQ BMI BCS BVS");
    int next = m->at + 2, target = next + (int8_t)bytes[1];
    if (!in_image(proof, target) && !(in_ram(m->at) && in_ram(target))) {
        return refuse(proof, m, "a branch out of the image", target);
    }
    struct machine taken = *m;
    taken.at = (uint16_t)target;
    taken.cycle = (int16_t)(m->cycle + 1 + (next >> 8 != target >> 8));
    m->at = (uint16_t)next;
    if (flag == UNKNOWN && proof->counting) {
        return refuse(proof, m, "a branch on what is not known", bytes[0]);
    }
    if (flag == UNKNOWN) {
        return add_path(proof, &taken);
    }
    if (flag == wanted) {
        *m = taken;
    }
    return true;
}

static bool run_return(struct proof *proof, struct machine *m) {
    int low = UNKNOWN, high = UNKNOWN;
    if (!pull(proof, m, &low) || !pull(proof, m, &high)) {
        return false;
    }
    int target = low == UNKNOWN || high == UNKNOWN ? UNKNOWN : (high << 8 | low) + 1;
    if (!in_image(proof, target)) {
        return refuse(proof, m, "a return to nobody knows where", target);
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
        return refuse(proof, m, "an indirect jump by what is not in RAM", vector);
    }
    if (m->ram[vector - RAM_FIRST] == STALE || m->ram[vector + 1 - RAM_FIRST] == STALE) {
        return refuse(proof, m, "an indirect jump by what this frame has not loaded", vector);
    }
    ram_read(proof, m, vector);
    ram_read(proof, m, vector + 1);
    for (int i = 0; i < encoder->target_count; i++) {
        int target = low[i] | high[i] << 8;
        if (!in_image(proof, target)) {
            return refuse(proof, &from, "a jump out of the image", target);
        }
        m->at = (uint16_t)target;
        if (i < encoder->target_count - 1 && !add_path(proof, m)) {
            return false;
        }
    }
    return true;
}

/* Into the image that is there now: its own proof starts from its reset vector with nothing known. */
static bool leave(const struct proof *proof, struct machine *m) {
    if (m->vsync != 0) {
        return refuse(proof, m, "the hand-over leaves vertical sync on", m->vsync);
    }
    m->left = true;
    return true;
}

static bool run_jump(struct proof *proof, struct machine *m, const struct opcode *op, const uint8_t *bytes) {
    int target = bytes[1] | bytes[2] << 8;
    if (op->mode == MODE_INDIRECT && in_ram(m->at) && (target & SLOT) == RESET_VECTOR) {
        return leave(proof, m);
    }
    if (op->mode == MODE_INDIRECT && proof->encoder->target_count > 0 && !proof->counting) {
        return run_indirect(proof, m, target);
    }
    if (op->mode != MODE_ABSOLUTE) {
        return refuse(proof, m, "an instruction that the proof does not follow", bytes[0]);
    }
    int last = m->at + 2; /* what JSR leaves for RTS: the address of its own last byte */
    if (strcmp(op->mnemonic, "JSR") == 0 && !(push(proof, m, last >> 8) && push(proof, m, last & 0xFF))) {
        return false;
    }
    if (!in_image(proof, target) && !in_ram(target)) {
        return refuse(proof, m, "a jump out of the image", target);
    }
    m->at = (uint16_t)target;
    return true;
}

/* The bytes of the instruction at m->at; its opcode, or NULL after a refusal. */
static const struct opcode *decode(const struct proof *proof, const struct machine *m,
                                   uint8_t bytes[BYTES_MAX]) {
    const int code = fetch(proof, m, m->at);
    if (code == UNKNOWN) {
        refuse(proof, m, in_ram(m->at) ? "what is run was not copied" : "the program runs out of the image",
               m->at);
        return NULL;
    }
    const struct opcode *op = &proof->opcodes[code];
    const int size = op->mode == MODE_NONE ? 1 : opcode_bytes(op->mode);
    const int loop_end = proof->limits->slate_from + proof->limits->handover;
    if (in_ram(m->at) && (m->at < proof->limits->slate_from || m->at + size > loop_end)) {
        refuse(proof, m, "the loop in RAM does not fit over the slate's rows", m->at + size);
        return NULL;
    }
    bool whole = op->mode != MODE_NONE;
    for (int i = 0; i < size; i++) {
        const int value = fetch(proof, m, m->at + i);
        whole = whole && value != UNKNOWN;
        bytes[i] = (uint8_t)value;
    }
    if (!whole) {
        refuse(proof, m, "what is no instruction is run", code);
        return NULL;
    }
    return op;
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

/* Of the instruction at m->at; m->cycle counts it already. */
static bool keeps_mark(const struct proof *proof, const struct machine *m, const uint8_t *bytes,
                       enum mode mode) {
    if (proof->counting || !in_image(proof, m->at)) {
        return true;
    }
    const struct claim *claim = &proof->encoder->claims[m->at - proof->encoder->origin];
    if (claim->kind != CLAIM_CYCLE || (m->cycle == claim->value && m->slack == 0)) {
        return true;
    }
    return problem_set(proof->problem, PROBLEM_INPUT,
                       "image: at %s, line %d: the store to %s ends with cycle %d%s, not %d", where(proof, m),
                       m->line, stored_to(bytes, mode), m->cycle, m->slack == 0 ? "" : " or earlier",
                       claim->value);
}

static bool one_instruction(struct proof *proof, struct machine *m) {
    uint8_t bytes[BYTES_MAX] = {0};
    const struct opcode *op = decode(proof, m, bytes);
    bool crosses = false;
    if (op == NULL) {
        return false;
    }
    m->cycle = (int16_t)(m->cycle + op->cycles);
    if (op->mode == MODE_RELATIVE) {
        return run_branch(proof, m, op->mnemonic, bytes);
    }
    if (op->mnemonic[0] == 'J') {
        return run_jump(proof, m, op, bytes);
    }
    if (strcmp(op->mnemonic, "RTS") == 0) {
        return run_return(proof, m);
    }
    if (op->mode == MODE_IMPLIED) {
        bool done = false;
        if (!run_stack(proof, m, op->mnemonic, &done)) {
            return false;
        }
        if (!done && !run_implied(m, op->mnemonic)) {
            return refuse(proof, m, "an instruction that the proof does not follow", bytes[0]);
        }
    } else {
        int address = address_of(m, bytes, op->mode, &crosses);
        const bool adds = crosses && op->cross_adds;
        m->cycle = (int16_t)(m->cycle + adds);
        m->slack = (int16_t)(m->slack + (adds && address == UNKNOWN));
        if (!keeps_mark(proof, m, bytes, op->mode)) {
            return false;
        }
        if (!run_operand(proof, m, op, bytes, address)) {
            return false;
        }
        if (proof->stale != 0) {
            return refuse(proof, m, "the hand-over would spoil a byte of the slate that outlives its frame",
                          proof->stale);
        }
    }
    m->at = (uint16_t)(m->at + opcode_bytes(op->mode));
    return true;
}

/* Follows one path until it meets a state that is known. */
static bool follow(struct proof *proof, struct machine *m) {
    for (;;) {
        int line = m->line;
        if (++proof->steps > STEPS_MAX || proof->account->states > STATES_MAX / 2) {
            return refuse(proof, m, "no end of the program's paths is in sight", (int)(proof->steps / 1000));
        }
        if (m->line != NOT_YET && m->cycle > LINE_CYCLES) {
            return refuse(proof, m, "a line of more than 76 cycles", m->cycle);
        }
        if (!one_instruction(proof, m)) {
            return false;
        }
        if (m->left || (m->line != line && !remember(proof, m))) {
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
        return refuse(proof, m, "the stack reaches into RAM that is used; bytes that both want", both);
    }
    int rows = proof->limits->slate_to - proof->limits->slate_from;
    if (proof->limits->handover > rows) {
        return refuse(proof, m, "the hand-over does not fit over the slate's rows", proof->limits->handover);
    }
    return true;
}

static bool follow_all(struct proof *proof) {
    struct machine m;
    power_on(proof, &m);
    if (!in_image(proof, m.at)) {
        return refuse(proof, &m, "the reset vector points out of the image", m.at);
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
            return refuse(&proof, &m, "no end of the program in sight", STEPS_MAX);
        }
        if (!one_instruction(&proof, &m)) {
            return false;
        }
        *cycles += m.cycle;
    }
    return true;
}
