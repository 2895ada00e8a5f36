/*
 * The slate's rows: each bit is the median over its whole width, on the middle line of its row, which no
 * neighbour is blended into. Two playfield bits stuck high light 8 clocks of a bit's 18 at most, so the
 * median stands.
 */
#include "picture/parts.h"

#include <math.h>

enum { MARGIN_SPOTS = 4, BITS = SLATE_ROWS * SLATE_ROW_BITS };

/* Clocks by which a chip's write to COLUBK may land beside SLATE_FIRST_CLOCK. */
enum { SHIFT_FIRST = -1, SHIFT_LAST = 3 };
/* Where they land later than that, or each second one does: up to so many clocks late, the last clocks of a
 * bit are its own however late it and the next one are. */
enum { LATE_ANY = LATE_CLOCKS_MOST, SHIFT_ANY = 100 };
/* Below that share the bits' edges lie well inside the windows at any shift. */
static const double agreement_edges = 0.95;

/* The share of a slate's samples on their bit's side of the threshold. Two stuck bits put 16 of 144 clocks on
 * the wrong side and a shift by a clock another 8; a foreign picture's stripes know nothing of the 18 clocks.
 */
static const double agreement_min = 0.8;

static int middle_line(const struct raster *raster, int row) {
    return (int)raster->top + SLATE_BAND_LINES + row * SLATE_ROW_LINES + SLATE_ROW_LINES / 2;
}

/* Inside the field whatever the raster says. */
static int clock_sample(const struct field *field, const struct raster *raster, int line, double clock) {
    int x = (int)lround(raster_left(raster, line) + clock * raster->clock_width);
    return x < 0 ? 0 : x > field->width - 1 ? field->width - 1 : x;
}

/* Parts of the rows' black margins, each of another cell. */
static const double spots[MARGIN_SPOTS][2] = {{1, 3}, {4.75, 6}, {153, 155}, {157, 159}};

static int spot_sum(const struct field *field, const struct raster *raster, int line, const double spot[2],
                    int *count) {
    const uint8_t *luma = field_line(field, line);
    int first = clock_sample(field, raster, line, spot[0]), last = clock_sample(field, raster, line, spot[1]);
    int sum = 0;
    for (int x = first; x <= last; x++) {
        sum += luma[(ptrdiff_t)x * field->step];
    }
    *count += last - first + 1;
    return sum;
}

static double spot_level(const struct field *field, const struct raster *raster, const double spot[2]) {
    int sum = 0, count = 0;
    for (int row = 0; row < SLATE_ROWS; row++) {
        sum += spot_sum(field, raster, middle_line(raster, row), spot, &count);
    }
    return (double)sum / count;
}

/* Where the band's third line is dark in most of the margins it is a row's. A blend leaves it half white. */
bool slate_beheaded(const struct field *field, const struct raster *raster) {
    double bound = raster->black + 0.25 * (raster->white - raster->black);
    int dark = 0;
    for (int i = 0; i < MARGIN_SPOTS && raster->top < 1; i++) {
        int count = 0, sum = spot_sum(field, raster, SLATE_BAND_LINES - 1, spots[i], &count);
        dark += sum < bound * count;
    }
    return 2 * dark >= MARGIN_SPOTS;
}

/* Two stuck bits light two of the four spots at most, so the darkest two are background. */
static double black_level(const struct field *field, const struct raster *raster) {
    double lowest = 255, second = 255;
    for (int i = 0; i < MARGIN_SPOTS; i++) {
        double level = spot_level(field, raster, spots[i]);
        if (level < lowest) {
            second = lowest;
            lowest = level;
        } else if (level < second) {
            second = level;
        }
    }
    return (lowest + second) / 2;
}

static int count_above(const uint8_t *luma, int step, int count, int threshold) {
    int above = 0;
    if (step == 1) {
        for (int i = 0; i < count; i++) {
            above += luma[i] > threshold;
        }
    } else {
        for (int i = 0; i < count; i++) {
            above += luma[(ptrdiff_t)i * step] > threshold;
        }
    }
    return above;
}

/* The samples of bit i of the slate, on its row's middle line. */
static const uint8_t *bit_samples(const struct field *field, const struct raster *raster, int i, int shift,
                                  int *count) {
    int line = middle_line(raster, i / SLATE_ROW_BITS);
    int clock = SLATE_FIRST_CLOCK + i % SLATE_ROW_BITS * SLATE_BIT_CLOCKS, clocks = SLATE_BIT_CLOCKS;
    if (shift == SHIFT_ANY) {
        clock += LATE_ANY;
        clocks = i % SLATE_ROW_BITS < SLATE_ROW_BITS - 1 ? clocks - LATE_ANY : LAST_BIT_CLOCKS - LATE_ANY;
    } else {
        clock += shift;
    }
    int first = clock_sample(field, raster, line, clock);
    *count = clock_sample(field, raster, line, clock + clocks) - first;
    return field_line(field, line) + (ptrdiff_t)first * field->step;
}

struct rows {
    uint8_t byte[SLATE_ROWS];
    int ones;
    double agreement;
};

/* In quarters. Cells that are stuck high can only lighten a bit: three of them may light 12 clocks of 18. */
enum { HALF_OF_IT = 2, MOST_OF_IT = 3 };

/* A bit is 1 when more than `quarters` of its samples are above the middle. */
static void read_rows(const struct field *field, const struct raster *raster, int shift, int quarters,
                      struct rows *rows) {
    int threshold = (int)((raster->black + raster->white) / 2), agreed = 0, all = 0;
    *rows = (struct rows){0};
    for (int i = 0; i < BITS; i++) {
        int row = i / SLATE_ROW_BITS, count;
        const uint8_t *luma = bit_samples(field, raster, i, shift, &count);
        int above = count_above(luma, field->step, count, threshold);
        int one = 4 * above > quarters * count;
        rows->byte[row] = (uint8_t)(rows->byte[row] << 1 | one);
        rows->ones += one;
        agreed += 2 * above > count ? above : count - above;
        all += count;
    }
    rows->agreement = all > 0 ? (double)agreed / all : 0;
}

/* Two fields in one, a quarter to three quarters of each: bits that differ stand between black and white. The
 * bounds leave as much room to a quarter as to none. */
static bool read_mixed(const struct field *field, const struct raster *raster, int shift,
                       struct slate *slate) {
    double black = raster->black, contrast = raster->white - raster->black;
    int low = (int)(black + 0.125 * contrast), high = (int)(black + 0.875 * contrast);
    uint8_t ones[SLATE_ROWS] = {0}, halves[SLATE_ROWS] = {0};
    for (int i = 0; i < BITS; i++) {
        int row = i / SLATE_ROW_BITS, count;
        const uint8_t *luma = bit_samples(field, raster, i, shift, &count);
        int one = 2 * count_above(luma, field->step, count, high) > count;
        int half = !one && 2 * count_above(luma, field->step, count, low) > count;
        ones[row] = (uint8_t)(ones[row] << 1 | one);
        halves[row] = (uint8_t)(halves[row] << 1 | half);
    }
    return slate_decode_mixed(ones, halves, slate);
}

static bool like_rows(const struct rows *rows) {
    return rows->agreement >= agreement_min && rows->ones > 0 && rows->ones < BITS;
}

/* The shift at which the bits' edges fall between the windows. */
static int best_shift(const struct field *field, const struct raster *raster) {
    struct rows rows;
    double best = 0;
    int shift = 0;
    for (int i = SHIFT_FIRST; i <= SHIFT_LAST; i++) {
        read_rows(field, raster, i, HALF_OF_IT, &rows);
        if (rows.agreement > best) {
            best = rows.agreement;
            shift = i;
        }
    }
    return shift;
}

/* Fills rows too. SLATE_ABSENT: what is there are no rows. */
static enum slate_state decode(const struct field *field, const struct raster *raster, int shift,
                               struct rows *rows, struct slate *slate) {
    struct rows lit;
    read_rows(field, raster, shift, HALF_OF_IT, rows);
    if (!like_rows(rows)) {
        return SLATE_ABSENT;
    }
    if (slate_decode(rows->byte, slate)) {
        return SLATE_GOOD;
    }
    if (read_mixed(field, raster, shift, slate)) {
        return SLATE_MIXED;
    }
    read_rows(field, raster, shift, MOST_OF_IT, &lit);
    return slate_decode(lit.byte, slate) ? SLATE_GOOD : SLATE_BROKEN;
}

/* One more try at another shift and not one for every shift: each try adds to the chance that a broken slate
 * passes its check. And one at SHIFT_ANY, which has few samples and which a stuck cell disturbs, only where
 * the edges lie between the windows at no shift. */
enum slate_state slate_read(const struct field *field, struct raster *raster, int *shift,
                            struct slate *slate) {
    struct rows rows, others;
    raster->black = black_level(field, raster);
    if (raster->white - raster->black < CONTRAST_MIN) {
        return SLATE_ABSENT;
    }
    enum slate_state state = decode(field, raster, *shift, &rows, slate);
    if (state == SLATE_GOOD || state == SLATE_MIXED) {
        return state;
    }
    const int best = best_shift(field, raster);
    if (best != *shift) {
        state = decode(field, raster, best, &rows, slate);
    }
    if (state == SLATE_GOOD || state == SLATE_MIXED) {
        *shift = best;
        return state;
    }
    if (rows.agreement >= agreement_edges || *shift == SHIFT_ANY) {
        return state;
    }
    const enum slate_state any = decode(field, raster, SHIFT_ANY, &others, slate);
    if (others.agreement <= rows.agreement || (any != SLATE_GOOD && any != SLATE_MIXED)) {
        return state;
    }
    *shift = SHIFT_ANY;
    return any;
}
