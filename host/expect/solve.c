/* The inverse: which registers draw a row of cells. */
#include "expect/expect.h"

enum { HALF = CELLS / 2 };

/* The sequence position that cell n of the right half shows. */
static int shown_at(int cell, bool mirror) {
    return mirror ? CELLS - 1 - cell : cell - HALF;
}

/* The first cell of the right half that contradicts the left half, or 0 when none does. */
static int contradiction(const uint8_t *cells, bool mirror) {
    for (int cell = HALF; cell < CELLS; cell++) {
        if (cells[cell] != cells[shown_at(cell, mirror)]) {
            return cell;
        }
    }
    return 0;
}

static const char *state(uint8_t cell) {
    return cell != 0 ? "lit" : "dark";
}

static bool refuse(const uint8_t *cells, int copy, int mirror, struct problem *problem) {
    const struct pf_bit *in_copy = &expect_serial[shown_at(copy, false)];
    const struct pf_bit *in_mirror = &expect_serial[shown_at(mirror, true)];
    return problem_set(
        problem, PROBLEM_INPUT,
        "no register setting draws these 40 cells: in copy mode cells %d (%s) and %d (%s) are both "
        "%s.%d, in mirror mode cells %d (%s) and %d (%s) are both %s.%d; change one of each pair, or "
        "write registers in mid-line",
        shown_at(copy, false), state(cells[shown_at(copy, false)]), copy, state(cells[copy]),
        reg_name(in_copy->reg), in_copy->bit, shown_at(mirror, true), state(cells[shown_at(mirror, true)]),
        mirror, state(cells[mirror]), reg_name(in_mirror->reg), in_mirror->bit);
}

/* Both modes fit a row that is the same either way: then the wanted one is taken. */
static bool choose_mode(const uint8_t *cells, bool mirror_wanted, bool *mirror, struct problem *problem) {
    const int copy_fails = contradiction(cells, false);
    const int mirror_fails = contradiction(cells, true);
    if (copy_fails != 0 && mirror_fails != 0) {
        return refuse(cells, copy_fails, mirror_fails, problem);
    }
    *mirror = copy_fails != 0 || (mirror_wanted && mirror_fails == 0);
    return true;
}

bool expect_solve(const uint8_t *cells, int count, bool mirror_wanted, struct solved *out,
                  struct problem *problem) {
    if (count != HALF && count != CELLS) {
        return problem_set(problem, PROBLEM_INPUT, "a row of %d cells; give %d (the left half) or %d", count,
                           HALF, CELLS);
    }
    bool mirror = mirror_wanted;
    if (count == CELLS && !choose_mode(cells, mirror_wanted, &mirror, problem)) {
        return false;
    }
    uint8_t pf[REG_COUNT] = {0};
    for (int i = 0; i < HALF; i++) {
        if (cells[i] != 0) {
            pf[expect_serial[i].reg] |= (uint8_t)(1 << expect_serial[i].bit);
        }
    }
    *out = (struct solved){.pf0 = pf[REG_PF0], .pf1 = pf[REG_PF1], .pf2 = pf[REG_PF2], .mirror = mirror};
    return true;
}
