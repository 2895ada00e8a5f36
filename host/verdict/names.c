/* Spellings of verdicts and findings, as JSON and terminal show them, and exit statuses. */
#include "verdict/verdict.h"

#include <stdio.h>
#include <string.h>

static const char *const finding_names[FINDING_KINDS] = {
    [FINDING_BIT_STUCK_LOW] = "bit_stuck_low",
    [FINDING_BIT_STUCK_HIGH] = "bit_stuck_high",
    [FINDING_REGISTER_ORDER_REVERSED] = "register_order_reversed",
    [FINDING_REGISTERS_SWAPPED] = "registers_swapped",
    [FINDING_MIRROR_IGNORED] = "mirror_ignored",
    [FINDING_COPY_IGNORED] = "copy_ignored",
    [FINDING_SHIFTED] = "shifted",
    [FINDING_UNCONNECTED_BITS_DRAWN] = "unconnected_bits_drawn",
    [FINDING_DATA_LINE_STUCK] = "data_line_stuck",
    [FINDING_INTERMITTENT] = "intermittent",
    [FINDING_FROZEN_VIDEO] = "frozen_video",
    [FINDING_NO_VIDEO] = "no_video",
    [FINDING_NO_SLATE] = "no_slate",
    [FINDING_UNEXPLAINED] = "unexplained",
    [FINDING_NO_SUPPLY] = "no_supply",
    [FINDING_NO_BUS] = "no_bus_activity",
    [FINDING_ADDRESS_LINE_STUCK] = "address_line_stuck",
    [FINDING_SLOT_DATA_LINE_STUCK] = "slot_data_line_stuck",
    [FINDING_RUNS_GARBAGE] = "runs_garbage",
    [FINDING_OTHER_PROGRAM] = "other_program",
    [FINDING_RUNS_WITHOUT_PICTURE] = "runs_without_picture",
    [FINDING_CAPTURE_LOST] = "capture_lost_picture",
    [FINDING_COLOUR_WRONG] = "colour_wrong",
    [FINDING_DEVICE_LOST] = "device_lost",
    [FINDING_FIELDS_LOST] = "fields_lost",
    [FINDING_FIELDS_SWAPPED] = "fields_swapped",
    [FINDING_FIELDS_BLENDED] = "fields_blended",
    [FINDING_HALF_BLACK] = "half_black",
    [FINDING_BROKEN_BUFFERS] = "broken_buffers",
    [FINDING_COMB_FILTER] = "comb_filter",
    [FINDING_CLIPPING] = "clipping",
    [FINDING_GAIN_HUNTING] = "gain_hunting",
    [FINDING_NOISY] = "noisy",
    [FINDING_NO_COLOUR] = "no_colour",
    [FINDING_BIT_COUPLED] = "bit_coupled",
    [FINDING_BITS_ANDED] = "bits_anded",
    [FINDING_BITS_ORED] = "bits_ored",
    [FINDING_MOMENT_MISSING] = "moment_missing",
    [FINDING_MOMENT_CELLS] = "moment_cells",
    [FINDING_MOMENT_EARLY] = "moment_early",
    [FINDING_MOMENT_VARIES] = "moment_varies",
    [FINDING_CART_BYTE_WRONG] = "cartridge_byte_wrong",
    [FINDING_CART_PAGE_WRONG] = "cartridge_page_wrong",
    [FINDING_CART_HOTSPOT_WRONG] = "cartridge_hotspot_wrong",
    [FINDING_CART_NOT_SWITCHING] = "cartridge_not_switching",
    [FINDING_CART_SWITCHES_TOO] = "cartridge_switches_too",
    [FINDING_CART_VECTOR_WRONG] = "cartridge_vector_wrong",
    [FINDING_CART_RAM_MISSING] = "cartridge_ram_missing",
    [FINDING_CART_RAM_STUCK] = "cartridge_ram_stuck",
    [FINDING_CART_RAM_TRANSITION] = "cartridge_ram_transition",
    [FINDING_CART_RAM_COUPLED] = "cartridge_ram_coupled",
    [FINDING_CART_RAM_DECODER] = "cartridge_ram_decoder",
    [FINDING_CART_RAM_FAULTY] = "cartridge_ram_faulty",
    [FINDING_CART_BUS_HELD] = "cartridge_bus_held",
    [FINDING_CART_ADDRESS_OPEN] = "cartridge_address_open",
    [FINDING_CART_ADDRESS_SHORTED] = "cartridge_address_shorted",
    [FINDING_CART_ADDRESS_STUCK] = "cartridge_address_stuck",
    [FINDING_CART_DATA_STUCK] = "cartridge_data_stuck",
    [FINDING_CART_DATA_OPEN] = "cartridge_data_open",
    [FINDING_CART_DATA_SHORTED] = "cartridge_data_shorted",
    [FINDING_CART_SLOW] = "cartridge_slow",
    [FINDING_CART_RELEASE_SLOW] = "cartridge_release_slow",
    [FINDING_CART_WAKES_LATE] = "cartridge_wakes_late",
    [FINDING_CART_CONTACT] = "cartridge_contact",
    [FINDING_CART_DEAD] = "cartridge_dead",
    [FINDING_CART_OTHER_IMAGE] = "cartridge_other_image",
    [FINDING_CART_OVERLOAD] = "cartridge_overload",
};

const char *finding_name(enum finding_kind kind) {
    return (unsigned)kind < FINDING_KINDS ? finding_names[kind] : "unexplained";
}

bool finding_from_name(const char *name, enum finding_kind *kind) {
    for (int i = 0; i < FINDING_KINDS; i++) {
        if (strcmp(finding_names[i], name) == 0) {
            *kind = (enum finding_kind)i;
            return true;
        }
    }
    return false;
}

bool finding_is_cartridge(enum finding_kind kind) {
    return kind >= FINDING_CART_BYTE_WRONG && kind <= FINDING_CART_OVERLOAD;
}

static const char *const line_numbers[] = {"0", "1", "2", "3",  "4",  "5", "6",
                                           "7", "8", "9", "10", "11", "12"};
enum { LINE_NUMBERS = sizeof line_numbers / sizeof line_numbers[0] };

const char *finding_reg(const struct finding *finding) {
    const int most = finding_is_cartridge(finding->kind) ? (int)LINE_NUMBERS : (int)REG_COUNT;
    return finding->reg < 0 || finding->reg >= most ? ""
           : finding_is_cartridge(finding->kind)    ? line_numbers[finding->reg]
                                                    : reg_name((enum reg)finding->reg);
}

int finding_reg_from(enum finding_kind kind, const char *text) {
    enum reg named = REG_COUNT;
    for (int i = 0; i < LINE_NUMBERS && finding_is_cartridge(kind); i++) {
        if (strcmp(line_numbers[i], text) == 0) {
            return i;
        }
    }
    return !finding_is_cartridge(kind) && reg_from_name(text, &named) ? (int)named : -1;
}

/* Which lines a cartridge's finding counts: "A", "D", or "" where it may be either. */
static const char *lines_of(enum finding_kind kind) {
    switch (kind) {
    case FINDING_CART_ADDRESS_OPEN:
    case FINDING_CART_ADDRESS_SHORTED:
    case FINDING_CART_ADDRESS_STUCK:
    case FINDING_CART_SWITCHES_TOO:
        return "A";
    case FINDING_CART_DATA_OPEN:
    case FINDING_CART_DATA_SHORTED:
    case FINDING_CART_DATA_STUCK:
    case FINDING_CART_BUS_HELD:
    case FINDING_CART_RAM_STUCK: /* a cell's bit */
    case FINDING_CART_RAM_TRANSITION:
    case FINDING_CART_RAM_COUPLED:
    case FINDING_CART_RAM_DECODER:
    case FINDING_CART_RAM_FAULTY:
        return "D";
    default:
        return "";
    }
}

const char *finding_place(const struct finding *finding, char text[FINDING_PLACE_MAX]) {
    const char *reg = finding_reg(finding), *lines = lines_of(finding->kind);
    text[0] = '\0';
    if (finding->kind == FINDING_CART_CONTACT) { /* of an address line, or of a data line */
        if (finding->bit >= 0 || finding->reg >= 0) {
            snprintf(text, FINDING_PLACE_MAX, "%s%d", finding->bit >= 0 ? "A" : "D",
                     finding->bit >= 0 ? finding->bit : finding->reg);
        }
        return text;
    }
    if (finding_is_cartridge(finding->kind) && finding->bit >= 0) {
        snprintf(text, FINDING_PLACE_MAX, "%s%d%s%s%s", lines, finding->bit, reg[0] != '\0' ? " " : "",
                 reg[0] != '\0' ? lines : "", reg);
    } else if (reg[0] != '\0' && finding->bit >= 0) {
        snprintf(text, FINDING_PLACE_MAX, "%s D%d", reg, finding->bit);
    } else if (reg[0] != '\0') {
        snprintf(text, FINDING_PLACE_MAX, "%s", reg);
    } else if (finding->bit >= 0) {
        snprintf(text, FINDING_PLACE_MAX, "%d", finding->bit);
    }
    return text;
}

const char *verdict_name(enum verdict verdict) {
    switch (verdict) {
    case VERDICT_PASS:
        return "pass";
    case VERDICT_FAIL:
        return "fail";
    default:
        return "inconclusive";
    }
}

int verdict_exit(enum verdict verdict) {
    switch (verdict) {
    case VERDICT_PASS:
        return 0;
    case VERDICT_FAIL:
        return 1;
    default:
        return 4;
    }
}
