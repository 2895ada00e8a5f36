#include "verdict/torn.h"

enum {
    RUN_LEAST = 6,  /* lines: fewer in a row may be noise's, or a comb filter's where the picture changes */
    SEAM_LINES = 2, /* neither of the one picture nor of the other */
    LINES_TELLING = 3, /* that only the one of two pictures has */
    MISREAD_SHARE = 20 /* one line in so many */
};

static uint64_t clearly_wrong(const struct expectation *expect, const struct reading *reading, int line) {
    return (reading->lit[line] ^ expect->lit[line]) & expect->sure[line] & ~reading->unclear[line];
}

/* Whether the band above is wrong too in its last lines, and in its first ones is not. */
static bool begins_above(const struct expectation *expect, const struct reading *reading, int first) {
    int line = first;
    while (line > 0 && clearly_wrong(expect, reading, line - 1) != 0) {
        line--;
    }
    return line > 0 && first - line > SEAM_LINES;
}

/* Whether one of the cells is right on some lines running. Noise does that to no cell that is wrong: with one
 * line in ten misread, 168 of them do it once in 6,000 times [A]. */
static bool has_right_run(const struct expectation *expect, const struct reading *reading, int first, int end,
                          uint64_t cells) {
    uint64_t runs[RUN_LEAST] = {0}; /* cells right on the last line, on the last two, ... */
    for (int line = first; line < end; line++) {
        uint64_t right =
            cells & expect->sure[line] & ~reading->unclear[line] & ~clearly_wrong(expect, reading, line);
        for (int i = RUN_LEAST - 1; i > 0; i--) {
            runs[i] = runs[i - 1] & right;
        }
        runs[0] = right;
        if (runs[RUN_LEAST - 1] != 0) {
            return true;
        }
    }
    return false;
}

bool torn_band(const struct expectation *expect, const struct reading *reading, int first, int end,
               uint64_t cells) {
    return has_right_run(expect, reading, first, end, cells) || begins_above(expect, reading, first);
}

static bool shows(const struct expectation *expect, const struct reading *reading, int line) {
    return clearly_wrong(expect, reading, line) == 0;
}

struct parts {
    int misread, telling; /* lines */
};

static void add_line(struct parts *parts, bool own, bool other) {
    parts->misread += !own;
    parts->telling += own && !other;
}

static bool is_whole(const struct parts *parts, int lines) {
    return parts->telling >= LINES_TELLING && parts->misread * MISREAD_SHARE <= lines;
}

/* Of one step above line `seam`, and of the other from there on. */
static bool is_torn_at(const struct expectation *above, const struct expectation *below,
                       const struct reading *reading, int seam, int lines) {
    struct parts upper = {0}, lower = {0};
    for (int line = 0; line < seam; line++) {
        add_line(&upper, shows(above, reading, line), shows(below, reading, line));
    }
    for (int line = seam + SEAM_LINES; line < lines; line++) {
        add_line(&lower, shows(below, reading, line), shows(above, reading, line));
    }
    return is_whole(&upper, seam) && is_whole(&lower, lines - seam);
}

static bool is_torn_from(const struct expectation *above, const struct expectation *below,
                         const struct reading *reading, int lines) {
    for (int seam = LINES_TELLING; seam < lines - SEAM_LINES; seam++) {
        if (!shows(above, reading, seam) && is_torn_at(above, below, reading, seam, lines)) {
            return true;
        }
    }
    return false;
}

bool torn_between_steps(const struct judge *judge, size_t step, const struct reading *reading, int lines) {
    const size_t count = judge->plan->step_count;
    const size_t others[] = {(step + 1) % count, (step + count - 1) % count};
    for (int i = 0; i < 2; i++) {
        if (is_torn_from(&judge->steps[step].expect, &judge->steps[others[i]].expect, reading, lines)) {
            return true;
        }
    }
    return false;
}
