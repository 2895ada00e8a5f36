#include "expect/expect.h"

/* [H TIA 1A, "Playfield registers serial output"]: PF0 4..7, PF1 7..0, PF2 0..7. */
const struct pf_bit expect_serial[CELLS / 2] = {
    {REG_PF0, 4}, {REG_PF0, 5}, {REG_PF0, 6}, {REG_PF0, 7}, {REG_PF1, 7}, {REG_PF1, 6}, {REG_PF1, 5},
    {REG_PF1, 4}, {REG_PF1, 3}, {REG_PF1, 2}, {REG_PF1, 1}, {REG_PF1, 0}, {REG_PF2, 0}, {REG_PF2, 1},
    {REG_PF2, 2}, {REG_PF2, 3}, {REG_PF2, 4}, {REG_PF2, 5}, {REG_PF2, 6}, {REG_PF2, 7},
};

uint64_t expect_cells(uint8_t pf0, uint8_t pf1, uint8_t pf2, uint8_t ctrlpf) {
    const uint8_t registers[REG_COUNT] = {[REG_PF0] = pf0, [REG_PF1] = pf1, [REG_PF2] = pf2};
    const bool mirror = (ctrlpf & CTRLPF_REFLECT) != 0;
    uint64_t cells = 0;
    for (int i = 0; i < CELLS / 2; i++) {
        uint64_t lit = registers[expect_serial[i].reg] >> expect_serial[i].bit & 1;
        cells |= lit << i;
        cells |= lit << (mirror ? CELLS - 1 - i : CELLS / 2 + i);
    }
    return cells;
}

void cells_text(uint64_t lit, uint64_t unclear, char text[CELLS + 1]) {
    for (int i = 0; i < CELLS; i++) {
        text[i] = (lit >> i & 1) != 0 ? '1' : '0';
        if ((unclear >> i & 1) != 0) {
            text[i] = '?';
        }
    }
    text[CELLS] = '\0';
}
