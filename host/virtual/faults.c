#include "virtual/bench.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LATE_MAX = 16, DELAY_MAX = 12 };

const struct fault_spelling virtual_fault_spellings[] = {
    {"bit-low=PF1.3", "playfield bit (register.bit; PF0 has 4 to 7) never lights its cells"},
    {"bit-high=PF0.4", "playfield bit always lights its cells"},
    {"flaky=PF2.0:low:0.2", "playfield bit fails (low or high) in that share of the fields"},
    {"order=PF1", "a register is drawn in the wrong order"},
    {"swap=PF0,PF1", "two registers are swapped"},
    {"mirror-ignored", "the right half is always a copy"},
    {"copy-ignored", "the right half is always mirrored"},
    {"late=4", "the playfield is 1 to 16 colour clocks late against the background"},
    {"unconnected=0", "an unconnected bit of PF0 (0 to 3, or all) draws the cells of the bit four above it"},
    {"tia-data=5:low", "a data input of the TIA (0 to 7) is stuck low or high: the program runs"},
    {"cart-data=5:high", "a data line of the cartridge is stuck: the processor runs garbage"},
    {"no-video", "the grabber sees nothing"},
    {"frozen", "the grabber shows its first picture for ever; frozen=N: after N fields"},
    {"delay=PF1:3", "no fault, a property of the chip: 0 to 12 colour clocks from a store to its effect"},
    {NULL, NULL},
};

static bool refuse(const char *text, const char *want, struct problem *problem) {
    return problem_set(problem, PROBLEM_INPUT, "--fault %s: %s; `slotjig run --help` lists every fault", text, want);
}

/* Serial position of a register's bit, -1 for one that is not drawn [H TIA 1A, serial output table]. */
static int serial_position(int reg, int bit) {
    switch (reg) {
    case 0:
        return bit >= 4 && bit <= 7 ? bit - 4 : -1;
    case 1:
        return bit >= 0 && bit <= 7 ? 11 - bit : -1;
    case 2:
        return bit >= 0 && bit <= 7 ? 12 + bit : -1;
    default:
        return -1;
    }
}

/* `PF1.3`, up to the end or a colon. *rest is what follows. */
static int parse_position(const char *value, const char **rest) {
    int reg = 0, bit = 0, used = 0;
    if (sscanf(value, "PF%1d.%1d%n", &reg, &bit, &used) != 2) {
        return -1;
    }
    *rest = value + used;
    return serial_position(reg, bit);
}

static bool parse_number(const char *text, long least, long most, long *number) {
    char *end = NULL;
    *number = strtol(text, &end, 10);
    return end != text && *end == '\0' && *number >= least && *number <= most;
}

static bool add_bit(struct virtual_options *options, const char *value, bool high) {
    const char *rest = "";
    int position = parse_position(value, &rest);
    if (position < 0 || *rest != '\0') {
        return false;
    }
    uint32_t *mask = high ? &options->faults.chip.stuck_high : &options->faults.chip.stuck_low;
    *mask |= UINT32_C(1) << position;
    return true;
}

static bool add_bit_low(struct virtual_options *options, const char *value) {
    return add_bit(options, value, false);
}

static bool add_bit_high(struct virtual_options *options, const char *value) {
    return add_bit(options, value, true);
}

static bool level_of(const char *text, size_t length, bool *high) {
    *high = length == 4 && strncmp(text, "high", 4) == 0;
    return *high || (length == 3 && strncmp(text, "low", 3) == 0);
}

static bool add_flaky(struct virtual_options *options, const char *value) {
    const char *rest = "";
    char *end = NULL;
    bool high = false;
    int position = parse_position(value, &rest);
    const char *colon = position < 0 || *rest != ':' ? NULL : strchr(rest + 1, ':');
    if (colon == NULL || !level_of(rest + 1, (size_t)(colon - rest - 1), &high)) {
        return false;
    }
    double rate = strtod(colon + 1, &end);
    if (end == colon + 1 || *end != '\0' || !(rate > 0 && rate < 1)) {
        return false;
    }
    uint32_t *mask = high ? &options->faults.chip.flaky_high : &options->faults.chip.flaky_low;
    *mask |= UINT32_C(1) << position;
    options->faults.chip.flaky_rate = (uint32_t)(rate * 4294967295.0);
    return true;
}

static int parse_register(const char *text) {
    return strlen(text) == 3 && strncmp(text, "PF", 2) == 0 && text[2] >= '0' && text[2] <= '2' ? text[2] - '0' : -1;
}

static bool add_order(struct virtual_options *options, const char *value) {
    int reg = parse_register(value);
    if (reg >= 0) {
        options->faults.chip.order_reversed |= (uint8_t)(1 << reg);
    }
    return reg >= 0;
}

static bool add_swap(struct virtual_options *options, const char *value) {
    int one = 0, other = 0, used = 0;
    uint8_t *swap = options->faults.chip.swap;
    if (sscanf(value, "PF%1d,PF%1d%n", &one, &other, &used) != 2 || value[used] != '\0' || one < 0 || one > 2 ||
        other < 0 || other > 2 || one == other) {
        return false;
    }
    for (int i = 0; i < 3; i++) {
        swap[i] = (uint8_t)i;
    }
    swap[one] = (uint8_t)other;
    swap[other] = (uint8_t)one;
    return true;
}

static bool add_mirror_ignored(struct virtual_options *options, const char *value) {
    (void)value;
    options->faults.chip.mirror_ignored = true;
    return true;
}

static bool add_copy_ignored(struct virtual_options *options, const char *value) {
    (void)value;
    options->faults.chip.copy_ignored = true;
    return true;
}

static bool add_late(struct virtual_options *options, const char *value) {
    long clocks = 0;
    if (!parse_number(value, 1, LATE_MAX, &clocks)) {
        return false;
    }
    options->faults.chip.late = (uint8_t)clocks;
    return true;
}

static bool add_unconnected(struct virtual_options *options, const char *value) {
    long bit = 0;
    if (strcmp(value, "all") == 0) {
        options->faults.chip.unconnected = 0x0F;
        return true;
    }
    if (!parse_number(value, 0, 3, &bit)) {
        return false;
    }
    options->faults.chip.unconnected |= (uint8_t)(1 << bit);
    return true;
}

static bool parse_line(const char *value, uint8_t *low, uint8_t *high) {
    bool is_high = false;
    if (value[0] < '0' || value[0] > '7' || value[1] != ':' || !level_of(value + 2, strlen(value + 2), &is_high)) {
        return false;
    }
    *(is_high ? high : low) |= (uint8_t)(1 << (value[0] - '0'));
    return true;
}

static bool add_tia_data(struct virtual_options *options, const char *value) {
    return parse_line(value, &options->faults.chip.data_low, &options->faults.chip.data_high);
}

static bool add_cart_data(struct virtual_options *options, const char *value) {
    return parse_line(value, &options->faults.cart_low, &options->faults.cart_high);
}

static bool add_no_video(struct virtual_options *options, const char *value) {
    (void)value;
    options->faults.no_video = true;
    return true;
}

static bool add_frozen(struct virtual_options *options, const char *value) {
    options->faults.frozen_after = 0;
    return value == NULL || parse_number(value, 0, 1000000000, &options->faults.frozen_after);
}

static bool add_delay(struct virtual_options *options, const char *value) {
    static const char *const names[TIA_REGS] = {"CTRLPF", "PF0", "PF1", "PF2", "COLUPF", "COLUBK", "COLUP0", "COLUP1"};
    const char *colon = strchr(value, ':');
    long clocks = 0;
    if (colon == NULL || !parse_number(colon + 1, 0, DELAY_MAX, &clocks)) {
        return false;
    }
    for (int reg = 0; reg < TIA_REGS; reg++) {
        if (strlen(names[reg]) == (size_t)(colon - value) && strncmp(names[reg], value, strlen(names[reg])) == 0) {
            memset(options->faults.chip.delay[reg], (int)clocks, sizeof options->faults.chip.delay[reg]);
            return true;
        }
    }
    return false;
}

enum takes { VALUE_NONE, VALUE_NEEDED, VALUE_MAY };

static const struct {
    const char *name;
    enum takes takes;
    bool (*add)(struct virtual_options *options, const char *value);
    const char *want;
} faults[] = {
    {"bit-low", VALUE_NEEDED, add_bit_low, "say bit-low=PF1.3 (PF0.4 to PF0.7, PF1.0 to PF2.7)"},
    {"bit-high", VALUE_NEEDED, add_bit_high, "say bit-high=PF1.3 (PF0.4 to PF0.7, PF1.0 to PF2.7)"},
    {"flaky", VALUE_NEEDED, add_flaky, "say flaky=PF1.3:low:0.2 (low or high, a rate between 0 and 1)"},
    {"order", VALUE_NEEDED, add_order, "say order=PF0, PF1 or PF2"},
    {"swap", VALUE_NEEDED, add_swap, "say swap=PF0,PF1 with two different registers"},
    {"mirror-ignored", VALUE_NONE, add_mirror_ignored, "say mirror-ignored"},
    {"copy-ignored", VALUE_NONE, add_copy_ignored, "say copy-ignored"},
    {"late", VALUE_NEEDED, add_late, "say late=N with 1 to 16 colour clocks"},
    {"unconnected", VALUE_NEEDED, add_unconnected, "say unconnected=K with 0 to 3, or all"},
    {"tia-data", VALUE_NEEDED, add_tia_data, "say tia-data=K:low or K:high with 0 to 7"},
    {"cart-data", VALUE_NEEDED, add_cart_data, "say cart-data=K:low or K:high with 0 to 7"},
    {"no-video", VALUE_NONE, add_no_video, "say no-video"},
    {"frozen", VALUE_MAY, add_frozen, "say frozen, or frozen=N with a number of fields"},
    {"delay", VALUE_NEEDED, add_delay, "say delay=PF1:3 with a register and 0 to 12 colour clocks"},
};

bool virtual_add_fault(struct virtual_options *options, const char *text, struct problem *problem) {
    const char *equals = strchr(text, '=');
    size_t length = equals == NULL ? strlen(text) : (size_t)(equals - text);
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        if (strlen(faults[i].name) != length || strncmp(faults[i].name, text, length) != 0) {
            continue;
        }
        bool fits = faults[i].takes == VALUE_MAY || (equals != NULL) == (faults[i].takes == VALUE_NEEDED);
        struct virtual_options changed = *options;
        if (!fits || !faults[i].add(&changed, equals == NULL ? NULL : equals + 1)) {
            return refuse(text, faults[i].want, problem);
        }
        *options = changed;
        return true;
    }
    return refuse(text, "no such fault", problem);
}

/* Families of faults for virtual_fault_text(): how many positions each has, and the text of one. */
static void bit_text(const char *before, size_t index, const char *after, char *text, size_t size) {
    static const char *const bits[] = {"PF0.4", "PF0.5", "PF0.6", "PF0.7", "PF1.0", "PF1.1", "PF1.2",
                                       "PF1.3", "PF1.4", "PF1.5", "PF1.6", "PF1.7", "PF2.0", "PF2.1",
                                       "PF2.2", "PF2.3", "PF2.4", "PF2.5", "PF2.6", "PF2.7"};
    snprintf(text, size, "%s=%s%s", before, bits[index], after);
}

static bool listed_text(size_t index, char *text, size_t size) {
    static const char *const listed[] = {
        "order=PF0",      "order=PF1",    "order=PF2",     "swap=PF0,PF1", "swap=PF0,PF2",    "swap=PF1,PF2",
        "mirror-ignored", "copy-ignored", "unconnected=0", "unconnected=1", "unconnected=2", "unconnected=3",
        "unconnected=all", "no-video",    "frozen",        "frozen=10"};
    if (index >= sizeof listed / sizeof listed[0]) {
        return false;
    }
    snprintf(text, size, "%s", listed[index]);
    return true;
}

bool virtual_fault_text(size_t index, char *text, size_t size) {
    enum { BITS = 20, LINES = 16 };
    static const struct {
        const char *name, *after;
    } families[] = {{"bit-low", ""}, {"bit-high", ""}, {"flaky", ":low:0.3"}, {"flaky", ":high:0.3"}};
    enum { FAMILIES = sizeof families / sizeof families[0] };
    if (index < FAMILIES * BITS) {
        bit_text(families[index / BITS].name, index % BITS, families[index / BITS].after, text, size);
        return true;
    }
    index -= FAMILIES * BITS;
    if (index < LATE_MAX) {
        snprintf(text, size, "late=%zu", index + 1);
        return true;
    }
    index -= LATE_MAX;
    if (index < 2 * LINES) {
        snprintf(text, size, "%s=%zu:%s", index < LINES ? "tia-data" : "cart-data", index % 8,
                 index % LINES < 8 ? "low" : "high");
        return true;
    }
    return listed_text(index - 2 * LINES, text, size);
}
