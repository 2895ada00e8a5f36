#include "plan/sketch.h"

#include <stdio.h>
#include <string.h>

/* splitmix64, Vigna's published constants. */
uint64_t sketch_random(uint64_t *state) {
    uint64_t z = (*state += UINT64_C(0x9E3779B97F4A7C15));
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

static uint64_t half(uint64_t *random) {
    return sketch_random(random) >> 44;
}

static uint64_t turned(uint64_t left) {
    uint64_t right = 0;
    for (int i = 0; i < CELLS / 2; i++) {
        right |= (left >> i & 1) << (CELLS / 2 - 1 - i);
    }
    return right;
}

static uint64_t row(enum sketch_kind kind, uint64_t *random) {
    static const uint64_t registers[] = {0x0000F, 0x00FF0, 0xFF000}; /* cells of PF0, PF1, PF2 */
    const uint64_t left = half(random);
    uint64_t right = half(random);
    switch (kind) {
    case SKETCH_REPEATED:
        right = left;
        break;
    case SKETCH_MIRRORED:
        right = turned(left);
        break;
    case SKETCH_SIMPLE: {
        const uint64_t kept = registers[sketch_random(random) % 3];
        right = (right & ~kept) | (left & kept);
        break;
    }
    default:
        switch (sketch_random(random) % 8) {
        case 0:
            return 0;
        case 1:
            return (UINT64_C(1) << CELLS) - 1;
        case 2:
            right = left;
            break;
        case 3:
            right = turned(left);
            break;
        default:
            break;
        }
    }
    return left | right << CELLS / 2;
}

void sketch_make(struct sketch *sketch, uint64_t seed, enum standard standard) {
    uint64_t random = seed;
    const int most = standard_plan_lines(standard);
    const enum sketch_kind kind = (enum sketch_kind)(sketch_random(&random) % SKETCH_KINDS);
    const bool coloured = sketch_random(&random) % 2 != 0, whole = sketch_random(&random) % 2 != 0;
    memset(sketch, 0, sizeof *sketch);
    sketch->rows = whole ? most : 1 + (int)(sketch_random(&random) % (uint64_t)most);
    for (int i = 0; i < sketch->rows; i++) {
        sketch->lit[i] = row(kind, &random);
        const uint8_t hues = (uint8_t)sketch_random(&random);
        sketch->lit_colour[i] =
            coloured ? (uint8_t)((hues & 0xF0) | (5 + sketch_random(&random) % 3) << 1) : 0x0E;
        sketch->dark_colour[i] =
            coloured ? (uint8_t)((hues & 0x0F) << 4 | (sketch_random(&random) % 3) << 1) : 0;
    }
}

/* Cells of PF0, PF1, PF2 in the left half [H TIA 1A]. */
static const uint64_t left_cells[3] = {0x0000F, 0x00FF0, 0xFF000};

void sketch_make_bad(struct sketch *sketch, bool bad[PICTURE_LINES_MAX], int reg, uint64_t seed) {
    uint64_t random = seed;
    memset(sketch, 0, sizeof *sketch);
    sketch->rows = 20 + (int)(sketch_random(&random) % 149);
    for (int i = 0; i < sketch->rows; i++) {
        const uint64_t left = half(&random);
        const uint64_t first = left_cells[reg] & -left_cells[reg];
        bad[i] = sketch_random(&random) % 5 == 0 || (i > 0 && bad[i - 1] && sketch_random(&random) % 2 == 0);
        const uint64_t right = bad[i] ? left ^ first << sketch_random(&random) % 4 : left;
        sketch->lit[i] = left | right << CELLS / 2;
        sketch->lit_colour[i] = 0x0E;
    }
}

void sketch_rows_text(const bool *rows, int count, char *text) {
    char *at = text;
    *at = '\0';
    for (int i = 0; i < count; i++) {
        if (!rows[i] || (i > 0 && rows[i - 1])) {
            continue;
        }
        int last = i;
        while (last + 1 < count && rows[last + 1]) {
            last++;
        }
        at += sprintf(at, "%s%d", at == text ? "" : ", ", i + 1);
        at += last > i ? sprintf(at, "-%d", last + 1) : 0;
    }
}

bool sketch_write(const struct sketch *sketch, const char *path) {
    FILE *out = fopen(path, "w");
    if (out == NULL) {
        return false;
    }
    for (int i = 0; i < sketch->rows; i++) {
        for (int cell = 0; cell < CELLS; cell++) {
            fputc((sketch->lit[i] >> cell & 1) != 0 ? '#' : '.', out);
        }
        fprintf(out, " COLUPF=$%02X COLUBK=$%02X\n", sketch->lit_colour[i], sketch->dark_colour[i]);
    }
    return fclose(out) == 0;
}

uint8_t sketch_pixel(const struct sketch *sketch, enum standard standard, int line, int cell) {
    const int at = line - (standard_plan_lines(standard) - sketch->rows) / 2;
    if (at < 0 || at >= sketch->rows) {
        return 0;
    }
    return (sketch->lit[at] >> cell & 1) != 0 ? sketch->lit_colour[at] : sketch->dark_colour[at];
}
