#include "rom/opcodes.h"

#include <string.h>

/* Each row: a mnemonic and its opcode in each mode, -1 where it has none, in the order of `columns`. */
enum { COLUMNS = 12 };
static const enum mode columns[COLUMNS] = {
    MODE_IMPLIED,  MODE_ACCUMULATOR, MODE_IMMEDIATE,  MODE_ZERO,       MODE_ZERO_X,     MODE_ZERO_Y,
    MODE_ABSOLUTE, MODE_ABSOLUTE_X,  MODE_ABSOLUTE_Y, MODE_INDIRECT_X, MODE_INDIRECT_Y, MODE_RELATIVE};

static const struct {
    char mnemonic[4];
    int16_t codes[COLUMNS];
} rows[] = {
    {"ADC", {-1, -1, 0x69, 0x65, 0x75, -1, 0x6D, 0x7D, 0x79, 0x61, 0x71, -1}},
    {"AND", {-1, -1, 0x29, 0x25, 0x35, -1, 0x2D, 0x3D, 0x39, 0x21, 0x31, -1}},
    {"ASL", {-1, 0x0A, -1, 0x06, 0x16, -1, 0x0E, 0x1E, -1, -1, -1, -1}},
    {"BCC", {-1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, 0x90}},
    {"BCS", {-1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, 0xB0}},
    {"BEQ", {-1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, 0xF0}},
    {"BMI", {-1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, 0x30}},
    {"BNE", {-1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, 0xD0}},
    {"BPL", {-1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, 0x10}},
    {"BVC", {-1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, 0x50}},
    {"BVS", {-1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, 0x70}},
    {"BIT", {-1, -1, -1, 0x24, -1, -1, 0x2C, -1, -1, -1, -1, -1}},
    {"BRK", {0x00, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"CLC", {0x18, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"CLD", {0xD8, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"CLI", {0x58, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"CLV", {0xB8, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"CMP", {-1, -1, 0xC9, 0xC5, 0xD5, -1, 0xCD, 0xDD, 0xD9, 0xC1, 0xD1, -1}},
    {"CPX", {-1, -1, 0xE0, 0xE4, -1, -1, 0xEC, -1, -1, -1, -1, -1}},
    {"CPY", {-1, -1, 0xC0, 0xC4, -1, -1, 0xCC, -1, -1, -1, -1, -1}},
    {"DEC", {-1, -1, -1, 0xC6, 0xD6, -1, 0xCE, 0xDE, -1, -1, -1, -1}},
    {"DEX", {0xCA, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"DEY", {0x88, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"EOR", {-1, -1, 0x49, 0x45, 0x55, -1, 0x4D, 0x5D, 0x59, 0x41, 0x51, -1}},
    {"INC", {-1, -1, -1, 0xE6, 0xF6, -1, 0xEE, 0xFE, -1, -1, -1, -1}},
    {"INX", {0xE8, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"INY", {0xC8, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"JMP", {-1, -1, -1, -1, -1, -1, 0x4C, -1, -1, -1, -1, -1}},
    {"JSR", {-1, -1, -1, -1, -1, -1, 0x20, -1, -1, -1, -1, -1}},
    {"LDA", {-1, -1, 0xA9, 0xA5, 0xB5, -1, 0xAD, 0xBD, 0xB9, 0xA1, 0xB1, -1}},
    {"LDX", {-1, -1, 0xA2, 0xA6, -1, 0xB6, 0xAE, -1, 0xBE, -1, -1, -1}},
    {"LDY", {-1, -1, 0xA0, 0xA4, 0xB4, -1, 0xAC, 0xBC, -1, -1, -1, -1}},
    {"LSR", {-1, 0x4A, -1, 0x46, 0x56, -1, 0x4E, 0x5E, -1, -1, -1, -1}},
    {"NOP", {0xEA, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"ORA", {-1, -1, 0x09, 0x05, 0x15, -1, 0x0D, 0x1D, 0x19, 0x01, 0x11, -1}},
    {"PHA", {0x48, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"PHP", {0x08, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"PLA", {0x68, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"PLP", {0x28, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"ROL", {-1, 0x2A, -1, 0x26, 0x36, -1, 0x2E, 0x3E, -1, -1, -1, -1}},
    {"ROR", {-1, 0x6A, -1, 0x66, 0x76, -1, 0x6E, 0x7E, -1, -1, -1, -1}},
    {"RTI", {0x40, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"RTS", {0x60, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"SBC", {-1, -1, 0xE9, 0xE5, 0xF5, -1, 0xED, 0xFD, 0xF9, 0xE1, 0xF1, -1}},
    {"SEC", {0x38, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"SED", {0xF8, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"SEI", {0x78, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"STA", {-1, -1, -1, 0x85, 0x95, -1, 0x8D, 0x9D, 0x99, 0x81, 0x91, -1}},
    {"STX", {-1, -1, -1, 0x86, -1, 0x96, 0x8E, -1, -1, -1, -1, -1}},
    {"STY", {-1, -1, -1, 0x84, 0x94, -1, 0x8C, -1, -1, -1, -1, -1}},
    {"TAX", {0xAA, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"TAY", {0xA8, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"TSX", {0xBA, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"TXA", {0x8A, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"TXS", {0x9A, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
    {"TYA", {0x98, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1}},
};
enum { ROWS = sizeof rows / sizeof rows[0] };

static bool is_store(const char *mnemonic) {
    return mnemonic[0] == 'S' && mnemonic[1] == 'T';
}

static bool is_change(const char *mnemonic) { /* read, modify, write */
    static const char *const changes[] = {"ASL", "DEC", "INC", "LSR", "ROL", "ROR"};
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        if (strcmp(mnemonic, changes[i]) == 0) {
            return true;
        }
    }
    return false;
}

static uint8_t odd_cycles(const char *mnemonic) {
    static const struct {
        char mnemonic[4];
        uint8_t cycles;
    } odd[] = {{"BRK", 7}, {"JMP", 3}, {"JSR", 6}, {"PHA", 3}, {"PHP", 3},
               {"PLA", 4}, {"PLP", 4}, {"RTI", 6}, {"RTS", 6}};
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
        if (strcmp(mnemonic, odd[i].mnemonic) == 0) {
            return odd[i].cycles;
        }
    }
    return 0;
}

static uint8_t cycles_of(const char *mnemonic, enum mode mode) {
    static const uint8_t base[] = {
        [MODE_IMPLIED] = 2,    [MODE_ACCUMULATOR] = 2, [MODE_IMMEDIATE] = 2,  [MODE_ZERO] = 3,
        [MODE_ZERO_X] = 4,     [MODE_ZERO_Y] = 4,      [MODE_ABSOLUTE] = 4,   [MODE_ABSOLUTE_X] = 4,
        [MODE_ABSOLUTE_Y] = 4, [MODE_INDIRECT] = 5,    [MODE_INDIRECT_X] = 6, [MODE_INDIRECT_Y] = 5,
        [MODE_RELATIVE] = 2};
    uint8_t odd = odd_cycles(mnemonic);
    if (odd != 0 && mode != MODE_INDIRECT) {
        return odd;
    }
    bool indexed = mode == MODE_ABSOLUTE_X || mode == MODE_ABSOLUTE_Y || mode == MODE_INDIRECT_Y;
    uint8_t cycles = base[mode];
    if (is_change(mnemonic) && mode != MODE_ACCUMULATOR) {
        cycles = (uint8_t)(cycles + 2 + indexed);
    } else if (is_store(mnemonic) && indexed) {
        cycles++;
    }
    return cycles;
}

struct opcode opcode_facts(uint8_t code) {
    struct opcode facts = {.mode = MODE_NONE};
    if (code == 0x6C) {
        return (struct opcode){"JMP", MODE_INDIRECT, 5, false};
    }
    for (int row = 0; row < ROWS; row++) {
        for (int column = 0; column < COLUMNS; column++) {
            if (rows[row].codes[column] == code) {
                const char *mnemonic = rows[row].mnemonic;
                enum mode mode = columns[column];
                bool indexed = mode == MODE_ABSOLUTE_X || mode == MODE_ABSOLUTE_Y || mode == MODE_INDIRECT_Y;
                memcpy(facts.mnemonic, mnemonic, sizeof facts.mnemonic);
                facts.mode = mode;
                facts.cycles = cycles_of(mnemonic, mode);
                facts.cross_adds = indexed && !is_store(mnemonic) && !is_change(mnemonic);
                return facts;
            }
        }
    }
    return facts;
}

bool opcode_find(const char *mnemonic, enum mode mode, uint8_t *code) {
    if (mode == MODE_INDIRECT) {
        *code = 0x6C;
        return strcmp(mnemonic, "JMP") == 0;
    }
    for (int row = 0; row < ROWS; row++) {
        for (int column = 0; column < COLUMNS; column++) {
            if (columns[column] == mode && rows[row].codes[column] >= 0 &&
                strcmp(rows[row].mnemonic, mnemonic) == 0) {
                *code = (uint8_t)rows[row].codes[column];
                return true;
            }
        }
    }
    return false;
}

int opcode_bytes(enum mode mode) {
    switch (mode) {
    case MODE_NONE:
    case MODE_IMPLIED:
    case MODE_ACCUMULATOR:
        return 1;
    case MODE_ABSOLUTE:
    case MODE_ABSOLUTE_X:
    case MODE_ABSOLUTE_Y:
    case MODE_INDIRECT:
        return 3;
    default:
        return 2;
    }
}
