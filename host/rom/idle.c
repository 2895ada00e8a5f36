#include "rom/idle.h"

#include <string.h>

enum { HALF = 20, ROWS_MAX = 8 };

/* A cartridge with its contacts below. The left half; the right one mirrors it. */
static const struct row {
    uint16_t lines;
    const char *cells; /* in the order of the serial output: PF0 D4-D7, PF1 D7-D0, PF2 D0-D7 [H TIA 1A] */
} rows[] = {
    {24, "...................."}, {8, "......##############"},  {16, "......##............"},
    {48, "......##..##########"}, {16, "......##............"}, {8, "......##############"},
    {20, ".........##..##..##."}, {28, "...................."},
};

static void pack(const char *cells, uint8_t bytes[3]) {
    memset(bytes, 0, 3);
    for (int i = 0; i < HALF; i++) {
        const int bit = i < 4 ? 4 + i : i < 12 ? 11 - i : i - 12;
        if (cells[i] == '#') {
            bytes[i < 4 ? 0 : i < 12 ? 1 : 2] |= (uint8_t)(1 << bit);
        }
    }
}

struct plan *idle_plan(struct problem *problem) {
    struct band bands[ROWS_MAX];
    const size_t count = sizeof rows / sizeof rows[0];
    for (size_t i = 0; i < count; i++) {
        uint8_t bytes[3];
        pack(rows[i].cells, bytes);
        bands[i] = (struct band){.lines = rows[i].lines,
                                 .count = 4,
                                 .writes = {{REG_CTRLPF, CTRLPF_REFLECT, WRITE_BEFORE},
                                            {REG_PF0, bytes[0], WRITE_BEFORE},
                                            {REG_PF1, bytes[1], WRITE_BEFORE},
                                            {REG_PF2, bytes[2], WRITE_BEFORE}}};
    }
    struct plan *plan = plan_new("idle", STANDARD_NTSC);
    if (plan == NULL) {
        problem_set(problem, PROBLEM_BENCH, "out of memory for the idle picture");
    } else if (!plan_add_step(plan, "idle", bands, count, problem)) {
        plan_free(plan);
        plan = NULL;
    }
    return plan;
}
