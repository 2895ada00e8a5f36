#include "verdict/thin.h"

#include <string.h>

enum {
    COLUMN_LEAST = 8,  /* lines on which a cell is wrong before one field is enough */
    RUN_LEAST = 6,     /* lines running on which it is right: then its column is not at fault throughout */
    DARK_LEAST = 3,    /* lines that lack something, of a strip that is black */
    MOVED_MOST = 2,    /* lines */
    MOVED_LEAST = 3,   /* lines that only a moved picture explains */
    PATCH_LEAST = 6,   /* lines of a patch that something else covers */
    MISREAD_SHARE = 20 /* one line in so many */
};
/* Share of each neighbour in a line, from which on a cell that differs from the one above or below it may be
 * misread: with the least contrast a plan may have, levels 5 and 2 of 7, a tenth of each neighbour moves a
 * cell by 0.1 of 0.21 that it has [A]. */
#define MIXING_MOST 0.05

bool thin_step(const struct step *step) {
    for (size_t i = 0; i < step->band_count; i++) {
        if (step->band_count > 1 && step->bands[i].lines < THIN_BAND) {
            return true;
        }
    }
    return false;
}

enum { IN_BLANK = 22 }; /* the last whole cycle before the picture's left edge [A] */

static bool is_dim(const uint8_t colour[REG_COUNT]) {
    return (colour[REG_COLUPF] >> 1 & 7) < 7 || (colour[REG_COLUBK] >> 1 & 7) > 0;
}

void thin_begin(struct thin *thin, const struct step *step) {
    uint8_t now[REG_COUNT];
    int line = 0;
    thin->line = -1;
    for (int reg = 0; reg < REG_COUNT; reg++) {
        now[reg] = plan_default_colour((enum reg)reg);
    }
    for (size_t i = 0; i < step->band_count; i++) {
        const struct band *band = &step->bands[i];
        for (int n = 0; n < band->lines && line < PICTURE_LINES_MAX; n++, line++) {
            for (int w = 0; w < band->count; w++) {
                if (band->writes[w].cycle <= IN_BLANK) {
                    now[band->writes[w].reg] = band->writes[w].value;
                }
            }
            thin->dim[line] = is_dim(now);
            for (int w = 0; w < band->count; w++) {
                now[band->writes[w].reg] = band->writes[w].value;
            }
        }
    }
}

static uint64_t clearly_wrong(const struct expectation *expect, const struct reading *reading, int line) {
    return (reading->lit[line] ^ expect->lit[line]) & expect->sure[line] & ~reading->unclear[line];
}

/* Cells that lie between cells like them, so that a grabber that mixes lines does them no harm. */
static uint64_t unmixed(const struct expectation *expect, const struct reading *reading, int lines,
                        int line) {
    const uint64_t here = expect->lit[line];
    if (reading->mixing <= MIXING_MOST) {
        return CELLS_ALL;
    }
    const uint64_t above = line > 0 ? here ^ expect->lit[line - 1] : 0;
    const uint64_t below = line + 1 < lines ? here ^ expect->lit[line + 1] : 0;
    return CELLS_ALL & ~above & ~below;
}

/* ---- what a capture chain does ---- */

static bool is_lit_anywhere(const struct expectation *expect, const struct reading *reading, int line) {
    return (reading->lit[line] & ~reading->unclear[line] & expect->sure[line]) != 0;
}

/* Black from the first wrong line on, to the end or to where all is right again, while something lit is shown
 * elsewhere. */
static bool has_black_strip(const struct expectation *expect, const struct reading *reading, int lines,
                            int first) {
    int lacking = 0, line = first;
    bool any = false;
    while (line < lines && !is_lit_anywhere(expect, reading, line)) {
        lacking += clearly_wrong(expect, reading, line) != 0;
        line++;
    }
    for (; line < lines; line++) {
        if (clearly_wrong(expect, reading, line) != 0) {
            return false;
        }
        any = any || is_lit_anywhere(expect, reading, line);
    }
    for (line = 0; line < first && !any; line++) {
        any = is_lit_anywhere(expect, reading, line);
    }
    return any && lacking >= DARK_LEAST;
}

static bool shows_line(const struct expectation *expect, const struct reading *reading, int line, int of) {
    return ((reading->lit[line] ^ expect->lit[of]) & expect->sure[of] & ~reading->unclear[line]) == 0;
}

/* The lines from the first wrong one on stand some lines above or below their places: a console that draws
 * its own slate and counts its own lines cannot do that. */
static bool is_moved_by(const struct expectation *expect, const struct reading *reading, int lines, int first,
                        int by) {
    int telling = 0, misread = 0, compared = 0;
    for (int line = first; line < lines; line++) {
        const int of = line + by;
        if (of < 0 || of >= lines) {
            continue;
        }
        const bool moved = shows_line(expect, reading, line, of);
        compared++;
        misread += !moved;
        telling += moved && !shows_line(expect, reading, line, line);
    }
    return telling >= MOVED_LEAST && misread * MISREAD_SHARE <= compared;
}

static bool is_moved(const struct expectation *expect, const struct reading *reading, int lines, int first) {
    for (int by = 1; by <= MOVED_MOST; by++) {
        if (is_moved_by(expect, reading, lines, first, by) ||
            is_moved_by(expect, reading, lines, first, -by)) {
            return true;
        }
    }
    return false;
}

struct patch {
    int first, last; /* lines */
    uint64_t columns;
};

static struct patch patch_of(const uint64_t *wrong, int lines, int first) {
    struct patch patch = {first, first, 0};
    uint64_t cells = 0;
    for (int line = first; line < lines; line++) {
        patch.last = wrong[line] != 0 ? line : patch.last;
        cells |= wrong[line];
    }
    for (int cell = __builtin_ctzll(cells); cell < 64 - __builtin_clzll(cells); cell++) {
        patch.columns |= UINT64_C(1) << cell;
    }
    return patch;
}

/* Something lies over the video: all of a rectangle is lit, or all dark, and above or below it each of its
 * columns is drawn the other way where it should be. No bit, store or table does that. */
static bool is_covered(const struct expectation *expect, const struct reading *reading, int lines,
                       const uint64_t *wrong, int first) {
    const struct patch patch = patch_of(wrong, lines, first);
    const bool lit = (reading->lit[first] & wrong[first]) != 0;
    int alike = 0, other = 0, drawn[CELLS] = {0};
    for (int line = 0; line < lines; line++) {
        const uint64_t known = expect->sure[line] & ~reading->unclear[line] & patch.columns;
        const uint64_t as_patch = lit ? reading->lit[line] : ~reading->lit[line];
        const bool within = line >= patch.first && line <= patch.last;
        alike += within ? __builtin_popcountll(known & as_patch) : 0;
        other += within ? __builtin_popcountll(known & ~as_patch) : 0;
        for (int cell = 0; cell < CELLS && !within; cell++) {
            drawn[cell] += (int)((known & ~as_patch) >> cell & 1);
        }
    }
    for (int cell = 0; cell < CELLS; cell++) {
        if ((patch.columns >> cell & 1) != 0 && drawn[cell] < RUN_LEAST) {
            return false;
        }
    }
    return patch.last - patch.first + 1 >= PATCH_LEAST && other * MISREAD_SHARE <= alike;
}

/* ---- what a console does ---- */

struct column {
    int wrong, of; /* lines on which the cell should be as it should here */
    int run;       /* of them, right ones running */
    bool has_run;
};

static void add_cell(struct column *column, bool wrong) {
    column->of++;
    column->wrong += wrong;
    column->run = wrong ? 0 : column->run + 1;
    column->has_run = column->has_run || column->run >= RUN_LEAST;
}

static bool is_at_fault(const struct column *column) {
    return column->wrong >= COLUMN_LEAST && column->wrong * 4 > column->of && !column->has_run;
}

/* A cell that should be lit (or dark) and is wrong throughout. */
static bool has_wrong_column(const struct expectation *expect, const struct reading *reading, int lines,
                             const uint64_t *wrong) {
    struct column columns[CELLS][2];
    memset(columns, 0, sizeof columns);
    for (int line = 0; line < lines; line++) {
        const uint64_t known =
            expect->sure[line] & ~reading->unclear[line] & unmixed(expect, reading, lines, line);
        for (int cell = 0; cell < CELLS; cell++) {
            if ((known >> cell & 1) != 0) {
                add_cell(&columns[cell][expect->lit[line] >> cell & 1], (wrong[line] >> cell & 1) != 0);
            }
        }
    }
    for (int cell = 0; cell < CELLS; cell++) {
        if (is_at_fault(&columns[cell][0]) || is_at_fault(&columns[cell][1])) {
            return true;
        }
    }
    return false;
}

/* More cells lie between black and white than are clearly wrong: what moved those may have moved these a
 * little further. */
static bool is_blurred(const struct expectation *expect, const struct reading *reading, int lines,
                       const uint64_t *wrong) {
    int unclear = 0, all = 0;
    for (int line = 0; line < lines; line++) {
        unclear += __builtin_popcountll(reading->unclear[line] & expect->sure[line]);
        all += __builtin_popcountll(wrong[line]);
    }
    return unclear > all;
}

/* Most of what is wrong was wrong in the field before that had something wrong. */
static bool says_the_same(const struct thin *thin, const uint64_t *wrong, int lines) {
    int all = 0, same = 0;
    for (int line = 0; line < lines; line++) {
        all += __builtin_popcountll(wrong[line]);
        same += __builtin_popcountll(wrong[line] & thin->suspect[line]);
    }
    return same > 0 && 2 * same >= all;
}

/* Dim cells that lie between cells unlike them: a comb filter that takes half of the line that is more alike
 * can turn them over, and the slate, whose rows are all alike, does not show it. */
static uint64_t alone(const struct thin *thin, const struct expectation *expect, int lines, int line) {
    const uint64_t here = expect->lit[line];
    const uint64_t above = line > 0 ? here ^ expect->lit[line - 1] : CELLS_ALL;
    const uint64_t below = line + 1 < lines ? here ^ expect->lit[line + 1] : CELLS_ALL;
    return thin->dim[line] ? above & below & expect->sure[line] : 0;
}

/* Where most of them are wrong, it was the filter. */
static void forgive_alone(const struct thin *thin, const struct expectation *expect, int lines,
                          uint64_t *wrong) {
    int all = 0, of_them = 0;
    for (int line = 0; line < lines; line++) {
        const uint64_t cells = alone(thin, expect, lines, line) & expect->lit[line];
        all += __builtin_popcountll(cells);
        of_them += __builtin_popcountll(cells & wrong[line]);
    }
    for (int line = 0; line < lines && of_them >= COLUMN_LEAST && 2 * of_them > all; line++) {
        wrong[line] &= ~alone(thin, expect, lines, line);
    }
}

int thin_wrong(struct thin *thin, const struct expectation *expect, const struct reading *reading, int lines,
               bool *torn) {
    uint64_t wrong[PICTURE_LINES_MAX];
    int first = -1;
    for (int line = 0; line < lines; line++) {
        wrong[line] = clearly_wrong(expect, reading, line) & unmixed(expect, reading, lines, line);
    }
    forgive_alone(thin, expect, lines, wrong);
    for (int line = 0; line < lines && first < 0; line++) {
        first = wrong[line] != 0 ? line : first;
    }
    *torn = first >= 0 &&
            (has_black_strip(expect, reading, lines, first) || is_moved(expect, reading, lines, first) ||
             is_covered(expect, reading, lines, wrong, first));
    if (first < 0 || *torn || is_blurred(expect, reading, lines, wrong)) {
        return -1;
    }
    const bool told = has_wrong_column(expect, reading, lines, wrong) || says_the_same(thin, wrong, lines);
    memcpy(thin->suspect, wrong, (size_t)lines * sizeof *wrong);
    return told ? first : -1;
}

void thin_keep(struct thin *thin, const struct reading *reading, int line) {
    thin->line = line;
    memcpy(thin->lit, reading->lit, sizeof thin->lit);
    memcpy(thin->unclear, reading->unclear, sizeof thin->unclear);
}

bool thin_matches(const struct thin *thin, const struct expectation *expect,
                  const struct prediction *prediction) {
    int other = 0;
    for (int line = 0; line < expect->lines; line++) {
        const uint64_t sure = expect->sure[line] & prediction->shown.sure[line];
        const uint64_t open = thin->unclear[line] | prediction->half[line];
        other += ((thin->lit[line] ^ prediction->shown.lit[line]) & sure & ~open) != 0;
    }
    return other * MISREAD_SHARE <= expect->lines;
}
