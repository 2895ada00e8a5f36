#include "virtual/cart_lines.h"

uint16_t cart_lines_address(const struct cart_faults *faults, uint16_t loose, uint16_t address) {
    unsigned seen = address & 0x1FFF;
    /* As often as there are pairs, since a line may be in several. */
    for (int pass = 0; pass < faults->address_shorts; pass++) {
        for (int i = 0; i < faults->address_shorts; i++) {
            const unsigned pair = 1u << faults->address_short[i][0] | 1u << faults->address_short[i][1];
            seen = (seen & pair) == pair ? seen : seen & ~pair;
        }
    }
    seen = (seen & ~faults->address_low) | faults->address_high;
    return (uint16_t)(seen | faults->address_open | loose);
}

/* A node is driven by whoever is on it; low wins. */
static struct cart_drive join(struct cart_drive one, struct cart_drive other) {
    const unsigned low = (one.lines & ~one.level) | (other.lines & ~other.level);
    const unsigned lines = one.lines | other.lines;
    return (struct cart_drive){(uint8_t)lines, (uint8_t)(lines & ~low)};
}

static uint8_t settled(struct cart_drive node, uint8_t floating) {
    return (uint8_t)((floating & ~node.lines) | (node.level & node.lines));
}

/* Two lines are one: driven where either is, low where either is driven low. */
static struct cart_drive short_lines(const struct cart_faults *faults, struct cart_drive node) {
    for (int pass = 0; pass < faults->data_shorts; pass++) {
        for (int i = 0; i < faults->data_shorts; i++) {
            const unsigned pair = 1u << faults->data_short[i][0] | 1u << faults->data_short[i][1];
            const bool low = (node.lines & ~node.level & pair) != 0;
            if (node.lines & pair) {
                node.lines |= (uint8_t)pair;
                node.level = (uint8_t)(low ? node.level & ~pair : node.level | pair);
            }
        }
    }
    return node;
}

struct cart_lines cart_lines_data(const struct cart_faults *faults, uint8_t loose, struct cart_drive outside,
                                  struct cart_drive inside, uint8_t floating) {
    const uint8_t open = faults->data_open | loose;
    struct cart_drive reaches = {outside.lines & (uint8_t)~open, outside.level};
    struct cart_drive node = short_lines(faults, join(reaches, inside));
    node.lines |= faults->data_low | faults->data_high;
    node.level = (uint8_t)((node.level & ~faults->data_low) | faults->data_high);
    struct cart_drive leaves = {node.lines & (uint8_t)~open, node.level};
    /* A stuck line is stuck for the outside as well, whatever it drives. */
    const struct cart_drive shown = {outside.lines & (uint8_t)~leaves.lines, outside.level};
    return (struct cart_lines){settled(join(shown, leaves), floating),
                               settled(node, (uint8_t)(floating | open))};
}

uint8_t cart_lines_idle(const struct cart_faults *faults, uint8_t loose, struct cart_drive outside,
                        struct cart_drive inside, uint8_t floating) {
    inside.lines &= (uint8_t) ~(faults->data_open | loose);
    return settled(join(outside, inside), floating);
}
