/* Reads a fault's text. What each does is told by virtual_fault_spellings, what it breaks by tia.h. */
#include "virtual/bench.h"
#include "virtual/faults_cart.h"
#include "virtual/words.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    LATE_MAX = 16,
    DELAY_MAX = 12,
    DELAY_PHASES = 4,
    FROZEN_AFTER = 60 /* fields; a second of real pictures comes first */
};

/* What is wrong with a value and what would be right, or NULL. */
typedef const char *(*taker)(struct virtual_faults *faults, char *value);

/* ---- words ---- */

static bool take_level(const char *text, bool *high) {
    *high = text != NULL && strcmp(text, "high") == 0;
    return *high || (text != NULL && strcmp(text, "low") == 0);
}

static bool take_register(const char *text, int *reg) {
    static const char *const names[] = {"PF0", "PF1", "PF2"};
    for (int i = 0; i < 3; i++) {
        if (text != NULL && strcmp(text, names[i]) == 0) {
            *reg = i;
            return true;
        }
    }
    return false;
}

/* Serial output: PF0 D4..D7 are 0..3, PF1 D7..D0 4..11, PF2 D0..D7 12..19 [H TIA 1A, serial output table]. */
static int serial_position(int reg, int bit) {
    return reg == 0 ? bit - 4 : reg == 1 ? 4 + (7 - bit) : 12 + bit;
}

static const char *take_bit(char *text, uint32_t *mask) {
    int reg;
    long bit;
    const char *number = word_cut(text, '.');
    if (!take_register(text, &reg)) {
        return "the register must be PF0, PF1 or PF2";
    }
    if (number == NULL || !word_whole(number, 0, 7, &bit)) {
        return "after the register goes a dot and its bit, 0 to 7";
    }
    if (reg == 0 && bit < 4) {
        return "PF0 draws its bits 4 to 7 only; for 0 to 3 there is unconnected=0 to unconnected=3";
    }
    *mask = UINT32_C(1) << serial_position(reg, (int)bit);
    return NULL;
}

/* ---- faults of the chip ---- */

static const char *stick(uint32_t mask, uint32_t *stuck, uint32_t against) {
    if (against & mask) {
        return "an earlier fault holds the same bit at the other level; give one of them";
    }
    *stuck |= mask;
    return NULL;
}

static uint32_t joined_bits(const struct tia_chip *chip) {
    uint32_t mask = 0;
    for (int i = 0; i < chip->joints; i++) {
        mask |= UINT32_C(1) << chip->joint[i].at;
    }
    return mask;
}

static const char *take_stuck(struct tia_chip *chip, char *value, uint32_t *stuck, uint32_t against) {
    uint32_t mask = 0;
    const char *wrong = take_bit(value, &mask);
    if (wrong != NULL) {
        return wrong;
    }
    if (joined_bits(chip) & mask) {
        return "an earlier fault holds the same bit, or joins it with another; give one of them";
    }
    return stick(mask, stuck, against);
}

static const char *take_bit_low(struct virtual_faults *faults, char *value) {
    return take_stuck(&faults->chip, value, &faults->chip.stuck_low, faults->chip.stuck_high);
}

static const char *take_bit_high(struct virtual_faults *faults, char *value) {
    return take_stuck(&faults->chip, value, &faults->chip.stuck_high, faults->chip.stuck_low);
}

static const char *join(struct tia_chip *chip, char *value, enum tia_joining how) {
    char *other = word_cut(value, ':');
    uint32_t at = 0, from = 0;
    const char *wrong = take_bit(value, &at);
    if (wrong == NULL) {
        wrong = other != NULL ? take_bit(other, &from) : "after the bit goes a colon and the other bit";
    }
    if (wrong != NULL) {
        return wrong;
    }
    if (at == from) {
        return "it takes two different bits";
    }
    if ((joined_bits(chip) | chip->stuck_low | chip->stuck_high) & at) {
        return "an earlier fault holds the same bit, or joins it with another; give one of them";
    }
    if (chip->joints == TIA_JOINTS_MAX) {
        return "that is one too many: a chip has at most 8 of them";
    }
    chip->joint[chip->joints++] = (struct tia_joint){
        .at = (uint8_t)__builtin_ctz(at), .from = (uint8_t)__builtin_ctz(from), .how = (uint8_t)how};
    return NULL;
}

static const char *take_couple(struct virtual_faults *faults, char *value) {
    return join(&faults->chip, value, TIA_COUPLED);
}

static const char *take_and(struct virtual_faults *faults, char *value) {
    return join(&faults->chip, value, TIA_ANDED);
}

static const char *take_or(struct virtual_faults *faults, char *value) {
    return join(&faults->chip, value, TIA_ORED);
}

static const char *take_rate(struct tia_chip *chip, const char *text) {
    char *end;
    double rate = strtod(text, &end);
    if (end == text || *end != '\0' || !(rate > 0 && rate < 1)) {
        return "the fraction of fields must be more than 0 and less than 1, such as 0.3";
    }
    uint32_t share = (uint32_t)(rate * 4294967296.0);
    share = share == 0 ? 1 : share;
    if ((chip->flaky_low | chip->flaky_high) != 0 && chip->flaky_rate != share) {
        return "flaky bits of one chip fail together; give all of them the same fraction";
    }
    chip->flaky_rate = share;
    return NULL;
}

static const char *take_flaky(struct virtual_faults *faults, char *value) {
    struct tia_chip *chip = &faults->chip;
    bool high;
    uint32_t mask = 0;
    char *level = word_cut(value, ':'), *rate = level == NULL ? NULL : word_cut(level, ':');
    const char *wrong = take_bit(value, &mask);
    if (wrong != NULL) {
        return wrong;
    }
    if (!take_level(level, &high)) {
        return "after the bit goes :low or :high";
    }
    wrong = take_rate(chip, rate == NULL ? "" : rate);
    if (wrong != NULL) {
        return wrong;
    }
    return high ? stick(mask, &chip->flaky_high, chip->flaky_low)
                : stick(mask, &chip->flaky_low, chip->flaky_high);
}

static const char *take_order(struct virtual_faults *faults, char *value) {
    int reg;
    if (!take_register(value, &reg)) {
        return "the register must be PF0, PF1 or PF2";
    }
    faults->chip.order_reversed |= (uint8_t)(1 << reg);
    return NULL;
}

static const char *take_swap(struct virtual_faults *faults, char *value) {
    uint8_t *swap = faults->chip.swap;
    int one, other;
    const char *second = word_cut(value, ',');
    if (!take_register(value, &one) || !take_register(second, &other) || one == other) {
        return "it takes two different registers of PF0, PF1 and PF2 with a comma between them";
    }
    if ((swap[0] | swap[1] | swap[2]) == 0) {
        memcpy(swap, (uint8_t[]){0, 1, 2}, 3);
    }
    uint8_t kept = swap[one];
    swap[one] = swap[other];
    swap[other] = kept;
    return NULL;
}

static const char *take_mirror_ignored(struct virtual_faults *faults, char *value) {
    (void)value;
    if (faults->chip.copy_ignored) {
        return "copy-ignored was given already; a chip ignores one of them";
    }
    faults->chip.mirror_ignored = true;
    return NULL;
}

static const char *take_copy_ignored(struct virtual_faults *faults, char *value) {
    (void)value;
    if (faults->chip.mirror_ignored) {
        return "mirror-ignored was given already; a chip ignores one of them";
    }
    faults->chip.copy_ignored = true;
    return NULL;
}

static const char *take_late(struct virtual_faults *faults, char *value) {
    long clocks;
    if (!word_whole(value, 1, LATE_MAX, &clocks)) {
        return "it takes 1 to 16 colour clocks";
    }
    faults->chip.late = (uint8_t)clocks;
    return NULL;
}

static const char *take_unconnected(struct virtual_faults *faults, char *value) {
    long bit;
    if (strcmp(value, "all") == 0) {
        faults->chip.unconnected = 0x0F;
        return NULL;
    }
    if (!word_whole(value, 0, 3, &bit)) {
        return "it takes a bit of PF0, 0 to 3, or all";
    }
    faults->chip.unconnected |= (uint8_t)(1 << bit);
    return NULL;
}

static const char *take_colour(char *value, uint8_t stuck[2], const uint8_t against[2]) {
    static const char *const names[2] = {"COLUPF", "COLUBK"};
    long bit;
    const char *number = word_cut(value, '.');
    int which = strcmp(value, names[0]) == 0 ? 0 : 1;
    if (strcmp(value, names[which]) != 0) {
        return "the register must be COLUPF or COLUBK";
    }
    if (number == NULL || !word_whole(number, 1, 7, &bit)) {
        return "after the register goes a dot and its bit, 1 to 7; bit 0 has no storage";
    }
    if (against[which] & 1 << bit) {
        return "an earlier fault holds the same bit at the other level; give one of them";
    }
    stuck[which] |= (uint8_t)(1 << bit);
    return NULL;
}

static const char *take_colour_low(struct virtual_faults *faults, char *value) {
    return take_colour(value, faults->chip.colour_low, faults->chip.colour_high);
}

static const char *take_colour_high(struct virtual_faults *faults, char *value) {
    return take_colour(value, faults->chip.colour_high, faults->chip.colour_low);
}

static const char *take_delay(struct virtual_faults *faults, char *value) {
    static const char *const names[TIA_REGS] = {"CTRLPF", "PF0",    "PF1",    "PF2",
                                                "COLUPF", "COLUBK", "COLUP0", "COLUP1"};
    long clocks, phase = -1;
    const char *number = word_cut(value, ':'), *one = word_cut(value, '.');
    if (number == NULL || !word_whole(number, 0, DELAY_MAX, &clocks)) {
        return "after the register goes a colon and 0 to 12 colour clocks";
    }
    if (one != NULL && !word_whole(one, 0, DELAY_PHASES - 1, &phase)) {
        return "after the register's point goes the write's phase, 0 to 3: its clock less 68, modulo 4";
    }
    for (int reg = 0; reg < TIA_REGS; reg++) {
        if (strcmp(value, names[reg]) == 0) {
            for (int i = 0; i < DELAY_PHASES; i++) {
                faults->chip.delay[reg][i] =
                    phase < 0 || phase == i ? (uint8_t)clocks : faults->chip.delay[reg][i];
            }
            return NULL;
        }
    }
    return "the register must be CTRLPF, PF0, PF1, PF2, COLUPF, COLUBK, COLUP0 or COLUP1";
}

/* ---- faults of the bus and the video ---- */

static const char *take_line(char *value, long last, const char *wrong, uint16_t *low, uint16_t *high) {
    long line;
    bool level;
    const char *text = word_cut(value, ':');
    if (!word_whole(value, 0, last, &line)) {
        return wrong;
    }
    if (!take_level(text, &level)) {
        return "after the line goes :low or :high";
    }
    uint16_t mask = (uint16_t)(1 << line);
    if ((level ? *low : *high) & mask) {
        return "an earlier fault holds the same line at the other level; give one of them";
    }
    *(level ? high : low) |= mask;
    return NULL;
}

static const char *take_data_line(char *value, uint8_t *low, uint8_t *high) {
    uint16_t lows = *low, highs = *high;
    const char *wrong = take_line(value, 7, "the data line must be 0 to 7", &lows, &highs);
    *low = (uint8_t)lows;
    *high = (uint8_t)highs;
    return wrong;
}

static const char *take_tia_data(struct virtual_faults *faults, char *value) {
    return take_data_line(value, &faults->chip.data_low, &faults->chip.data_high);
}

static const char *take_cart_data(struct virtual_faults *faults, char *value) {
    const char *wrong = take_data_line(value, &faults->cart_low, &faults->cart_high);
    return wrong != NULL ? wrong : cart_lines_clash(faults);
}

static const char *take_cart_address(struct virtual_faults *faults, char *value) {
    const char *wrong =
        take_line(value, 12, "the address line must be 0 to 12", &faults->address_low, &faults->address_high);
    if (wrong == NULL && (faults->address_high & 0x1000)) {
        return "with A12 high cartridge and chips would drive the bus at once, which is not modelled";
    }
    return wrong != NULL ? wrong : cart_lines_clash(faults);
}

static const char *take_no_console(struct virtual_faults *faults, char *value) {
    (void)value;
    faults->no_console = true;
    return NULL;
}

static const char *take_no_supply(struct virtual_faults *faults, char *value) {
    (void)value;
    faults->no_supply = true;
    return NULL;
}

static const char *take_no_video(struct virtual_faults *faults, char *value) {
    (void)value;
    faults->no_video = true;
    return NULL;
}

static const char *take_frozen(struct virtual_faults *faults, char *value) {
    long fields = FROZEN_AFTER;
    if (value != NULL && !word_whole(value, 3, 1000000000, &fields)) {
        return "it takes a number of fields, 3 (it needs two to lock) to 1000000000, or none";
    }
    faults->frozen_after = fields;
    return NULL;
}

/* ---- which one ---- */

enum need { ALWAYS, NEVER, EITHER };

static const struct {
    const char *key;
    enum need value;
    taker take;
} kinds[] = {
    {"bit-low", ALWAYS, take_bit_low},
    {"bit-high", ALWAYS, take_bit_high},
    {"flaky", ALWAYS, take_flaky},
    {"couple", ALWAYS, take_couple},
    {"and", ALWAYS, take_and},
    {"or", ALWAYS, take_or},
    {"order", ALWAYS, take_order},
    {"swap", ALWAYS, take_swap},
    {"mirror-ignored", NEVER, take_mirror_ignored},
    {"copy-ignored", NEVER, take_copy_ignored},
    {"late", ALWAYS, take_late},
    {"unconnected", ALWAYS, take_unconnected},
    {"colour-low", ALWAYS, take_colour_low},
    {"colour-high", ALWAYS, take_colour_high},
    {"tia-data", ALWAYS, take_tia_data},
    {"cart-data", ALWAYS, take_cart_data},
    {"cart-address", ALWAYS, take_cart_address},
    {"no-console", NEVER, take_no_console},
    {"no-supply", NEVER, take_no_supply},
    {"no-video", NEVER, take_no_video},
    {"frozen", EITHER, take_frozen},
    {"delay", ALWAYS, take_delay},
    {"cart-open", ALWAYS, take_cart_open},
    {"cart-short", ALWAYS, take_cart_short},
    {"cart-slow", ALWAYS, take_cart_slow},
    {"cart-byte", ALWAYS, take_cart_byte},
    {"cart-hotspot", ALWAYS, take_cart_hotspot},
    {"cart-also", ALWAYS, take_cart_also},
    {"cart-no-ram", NEVER, take_cart_no_ram},
    {"cart-ram", ALWAYS, take_cart_ram},
    {"cart-hold", ALWAYS, take_cart_hold},
    {"cart-release", ALWAYS, take_cart_release},
    {"cart-late", ALWAYS, take_cart_late},
    {"cart-loose", ALWAYS, take_cart_loose},
    {"cart-first", ALWAYS, take_cart_first},
    {"cart-pulled", ALWAYS, take_cart_pulled},
};

enum { KINDS = sizeof kinds / sizeof kinds[0] };

static int nearest_kind(const char *key) {
    int best = 0;
    for (int i = 1; i < KINDS; i++) {
        if (word_distance(key, kinds[i].key) < word_distance(key, kinds[best].key)) {
            best = i;
        }
    }
    return best;
}

static bool refuse(const char *text, const char *wrong, const char *key, struct problem *problem) {
    const char *spelling = word_spelling(virtual_fault_spellings, key);
    char shown[WORD_SHOWN];
    word_shown(text, shown);
    return problem_set(problem, PROBLEM_INPUT,
                       "fault '%s: %s; spelled like %s; `slotjig run --help` lists them all", shown, wrong,
                       spelling);
}

static const char *take_value(int kind, struct virtual_faults *faults, char *value) {
    if (value == NULL && kinds[kind].value == ALWAYS) {
        return "its value is missing";
    }
    if (value != NULL && kinds[kind].value == NEVER) {
        return "it takes no value";
    }
    return kinds[kind].take(faults, value);
}

bool virtual_add_fault(struct virtual_options *options, const char *text, struct problem *problem) {
    char copy[WORD_MAX];
    struct virtual_faults faults = options->faults;
    snprintf(copy, sizeof copy, "%s", text);
    char *value = word_cut(copy, '=');
    int kind = nearest_kind(copy);
    if (strcmp(copy, kinds[kind].key) != 0 || strlen(text) >= sizeof copy) {
        return refuse(text, "there is no such fault", kinds[kind].key, problem);
    }
    const char *wrong = take_value(kind, &faults, value);
    if (wrong != NULL) {
        return refuse(text, wrong, kinds[kind].key, problem);
    }
    options->faults = faults;
    return true;
}
