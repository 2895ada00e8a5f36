/* Registers' names and addresses, and bytes as people write them. */
#include "plan/plan.h"

#include <string.h>
#include <strings.h>

static const struct {
    const char *name;
    uint8_t address; /* [H TIA 1A, write addresses] */
    uint8_t start;
} registers[REG_COUNT] = {
    [REG_CTRLPF] = {"CTRLPF", 0x0A, 0x00}, [REG_PF0] = {"PF0", 0x0D, 0x00},
    [REG_PF1] = {"PF1", 0x0E, 0x00},       [REG_PF2] = {"PF2", 0x0F, 0x00},
    [REG_COLUPF] = {"COLUPF", 0x08, 0x0E}, [REG_COLUBK] = {"COLUBK", 0x09, 0x00},
    [REG_COLUP0] = {"COLUP0", 0x06, 0x0E}, [REG_COLUP1] = {"COLUP1", 0x07, 0x0E},
};

uint8_t plan_default_colour(enum reg reg) {
    return registers[reg].start;
}

const char *reg_name(enum reg reg) {
    return registers[reg].name;
}

uint8_t reg_address(enum reg reg) {
    return registers[reg].address;
}

bool reg_from_name(const char *name, enum reg *reg) {
    for (int i = 0; i < REG_COUNT; i++) {
        if (strcasecmp(name, registers[i].name) == 0) {
            *reg = (enum reg)i;
            return true;
        }
    }
    return false;
}

static int digit_value(char digit) {
    if (digit >= '0' && digit <= '9') {
        return digit - '0';
    }
    if (digit >= 'a' && digit <= 'f') {
        return digit - 'a' + 10;
    }
    return digit >= 'A' && digit <= 'F' ? digit - 'A' + 10 : 99;
}

bool parse_byte(const char *text, uint8_t *value) {
    int base = 10;
    if (*text == '$') {
        base = 16;
        text++;
    } else if (*text == '%') {
        base = 2;
        text++;
    } else if (strncasecmp(text, "0x", 2) == 0) {
        base = 16;
        text += 2;
    }
    int sum = 0;
    const char *digit = text;
    for (; digit_value(*digit) < base; digit++) {
        sum = sum * base + digit_value(*digit);
        if (sum > 255) {
            return false;
        }
    }
    if (digit == text || *digit != '\0') {
        return false;
    }
    *value = (uint8_t)sum;
    return true;
}
