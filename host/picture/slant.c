/*
 * How far each line lies to the right of the one above it, from the edges of the slate's rows: the same bit's
 * edge lies at the same clock in every row, wherever that is, so the lean of those edges over the lines is
 * the grabber's. It belongs to the grabber and not to a field, so it is carried on from field to field, each
 * new measurement counting by how sure it is.
 */
#include "picture/parts.h"

#include <math.h>
#include <stdlib.h>

enum {
    COLUMNS = SLATE_ROW_BITS + 1, /* edges a row can have: before, between and after its bits */
    /* Rising and falling edges apart: a stuck cell beside one, or a clipped white, moves them differently. */
    GROUPS = 2 * COLUMNS,
    MARKS_MAX = SLATE_ROWS * SLATE_ROW_LINES * COLUMNS,
    REACH = 8,         /* samples round the edge */
    REACH_FIRST = 14,  /* while it is not known how late the chip's writes are */
    LEVEL_SAMPLES = 6, /* on either side of them, for the two levels */
    ROWS_LEAST = 5,    /* that tell of jitter */
    STRANGERS = 3      /* fields that agree with none before, after which all is forgotten */
};

/* Before anything was seen: what is known of grabbers [P]. */
#define LEAN_USUAL 0.025
/* By how much the lean may wander from field to field, and what no measurement is better than. */
#define LEAN_DRIFT 1e-5
#define LEAN_FLOOR 1.2e-3
/* Once it is known this well, a look now and then is enough. */
#define LEAN_SURE 5e-4
#define LEAN_UNSTEADY 0.006
enum { LOOKS = 8, LATE_FIELDS = 64 };
/* Lines from the slate to the middle of the picture. */
#define PICTURE_MIDDLE 100.0
/* Clocks (rms) of doubt beyond which nothing is said of how late the playfield is: what is looked for is more
 * than half a clock. */
#define EDGES_UNSURE 0.15
/* Samples of jitter (rms) with less of which the band alone does better. */
#define JITTER_LEAST 0.2
/* Clocks by which the chip's writes to COLUBK come late [P]. */
#define LATE_LEAST (-2.0)
#define LATE_USUAL 1.0
#define LATE_MOST 4.0
/* Clocks beside LATE_USUAL beyond which its edges are looked for where they are; and as many on either side
 * of where they can lie. */
#define LATER_LEAST 1.6
#define LATE_AROUND 2
/* A lean that moves the last line less than a quarter of a sample is none. */
#define LEAN_LEAST 0.0015

struct mark {
    int group, line;
    double away;     /* samples right of where it should lie */
    double contrast; /* codes */
};

struct marks {
    int count;
    struct mark mark[MARKS_MAX];
};

void slant_init(struct slant *slant) {
    *slant = (struct slant){.variance = LEAN_USUAL * LEAN_USUAL};
}

/* What one field of a steady picture says is kept back until it is sure. Where lines jitter that takes many
 * fields, and a part of a lean that may be there does less harm than none. */
double slant_now(const struct slant *slant) {
    bool steady = slant->variance < LEAN_UNSTEADY * LEAN_UNSTEADY;
    bool sure = slant->value * slant->value > 9 * slant->variance;
    return fabs(slant->value) < LEAN_LEAST || (steady && !sure) ? 0 : slant->value;
}

static int stretch_sum(const uint8_t *luma, ptrdiff_t step) {
    int sum = 0;
    for (int i = 0; i < LEVEL_SAMPLES; i++) {
        sum += luma[i * step];
    }
    return sum;
}

/* Where the edge lies, by the area under it. Only what is between 15 and 85 % of the edge counts, so that the
 * flat samples beside it add no noise. */
static bool find_edge(const uint8_t *luma, ptrdiff_t step, int centre, int reach, int contrast,
                      double *position, double *found) {
    const uint8_t *at = luma + (centre - reach) * step;
    int left = stretch_sum(at - LEVEL_SAMPLES * step, step);
    int right = stretch_sum(luma + (centre + reach + 1) * step, step);
    int low = left < right ? left : right, high = left < right ? right : left;
    if (10 * (high - low) < 7 * contrast * LEVEL_SAMPLES) {
        return false;
    }
    *found = (double)(high - low) / LEVEL_SAMPLES;
    int from = (17 * low + 3 * high) / (20 * LEVEL_SAMPLES),
        to = (3 * low + 17 * high) / (20 * LEVEL_SAMPLES);
    int bright = 0;
    for (int i = 0; i <= 2 * reach; i++) {
        int code = at[i * step];
        bright += code < from ? 0 : code > to ? to - from : code - from;
    }
    double share = (double)bright / (to - from);
    *position = centre - reach - 0.5 + (left < right ? 2 * reach + 1 - share : share);
    return true;
}

static void mark_edge(const struct field *field, const struct raster *raster, int line, double clock,
                      int reach, int group, struct marks *marks) {
    double at = raster_left(raster, line) + clock * raster->clock_width, position, found;
    int centre = (int)lround(at);
    if (centre < reach + LEVEL_SAMPLES || centre > field->width - 1 - reach - LEVEL_SAMPLES) {
        return;
    }
    int contrast = (int)(raster->white - raster->black);
    if (find_edge(field_line(field, line), field->step, centre, reach, contrast, &position, &found) &&
        fabs(position - at) < reach - 1) {
        marks->mark[marks->count++] = (struct mark){group, line, position - at, found};
    }
}

static void mark_edges(const struct field *field, const struct raster *raster, const struct slate *slate,
                       double late, const double later[2], int reach, struct marks *marks) {
    uint8_t rows[SLATE_ROWS];
    slate_encode(slate, rows);
    marks->count = 0;
    for (int row = 0; row < SLATE_ROWS; row++) {
        /* Nine places between eight bits and the black on both sides. */
        unsigned edges = rows[row] ^ (unsigned)rows[row] << 1;
        int first = (int)raster->top + SLATE_BAND_LINES + row * SLATE_ROW_LINES;
        for (int column = 0; column < COLUMNS; column++) {
            if ((edges >> (SLATE_ROW_BITS - column) & 1) == 0) {
                continue;
            }
            int rising = column < SLATE_ROW_BITS ? rows[row] >> (SLATE_ROW_BITS - 1 - column) & 1 : 0;
            int clock = SLATE_FIRST_CLOCK + column * SLATE_BIT_CLOCKS;
            clock -= column == SLATE_ROW_BITS ? SLATE_BIT_CLOCKS - LAST_BIT_CLOCKS : 0;
            for (int i = 0; i < SLATE_ROW_LINES; i++) {
                mark_edge(field, raster, first + i, clock + late + later[column % 2], reach,
                          2 * column + rising, marks);
            }
        }
    }
}

static int by_size(const void *a, const void *b) {
    double first = *(const double *)a, second = *(const double *)b;
    return (first > second) - (first < second);
}

/* Where the edge before a row's column lies, by the area under all that it may come at; in clocks late. */
static double lateness(const struct field *field, const struct raster *raster, int row, int column,
                       bool rising) {
    const int line = (int)raster->top + SLATE_BAND_LINES + row * SLATE_ROW_LINES + SLATE_ROW_LINES / 2;
    const double clock = SLATE_FIRST_CLOCK + column * SLATE_BIT_CLOCKS - LATE_AROUND;
    const uint8_t *luma = field_line(field, line);
    const int first = (int)lround(raster_left(raster, line) + clock * raster->clock_width);
    const int count = (int)lround((LATE_CLOCKS_MOST + 2 * LATE_AROUND) * raster->clock_width);
    const int threshold = (int)((raster->black + raster->white) / 2);
    int before = 0;
    if (first < 0 || first + count > field->width) {
        return LATE_USUAL;
    }
    for (int i = 0; i < count; i++) {
        before += (luma[(ptrdiff_t)(first + i) * field->step] > threshold) != rising;
    }
    return before / raster->clock_width - LATE_AROUND;
}

/* The chip may be late in another way than usual, and by the phase of the write, which alternates from bit to
 * bit: 18 clocks are 2 modulo 4. Left at 0 where it is as usual. */
static void find_later(const struct field *field, const struct raster *raster, const struct slate *slate,
                       double later[2]) {
    double late[2][SLATE_ROWS * SLATE_ROW_BITS], median[2] = {LATE_USUAL, LATE_USUAL};
    int count[2] = {0};
    uint8_t rows[SLATE_ROWS];
    slate_encode(slate, rows);
    for (int i = 0; i < SLATE_ROWS * SLATE_ROW_BITS; i++) {
        const int row = i / SLATE_ROW_BITS, column = i % SLATE_ROW_BITS;
        const unsigned edges = rows[row] ^ (unsigned)rows[row] >> 1;
        if (edges >> (SLATE_ROW_BITS - 1 - column) & 1) {
            const bool rising = rows[row] >> (SLATE_ROW_BITS - 1 - column) & 1;
            late[column % 2][count[column % 2]++] = lateness(field, raster, row, column, rising);
        }
    }
    for (int i = 0; i < 2 && count[i] > 0; i++) {
        qsort(late[i], (size_t)count[i], sizeof *late[i], by_size);
        median[i] = late[i][count[i] / 2];
    }
    if (fmax(fabs(median[0] - LATE_USUAL), fabs(median[1] - LATE_USUAL)) > LATER_LEAST) {
        later[0] = median[0] - LATE_USUAL;
        later[1] = median[1] - LATE_USUAL;
    }
}

/* What the lines of the rows have in common, and how far each lies from its row's others. */
struct scatter {
    int edges;
    double away, jitter; /* samples; mean, and rms of a single line */
};

/* An edge that all three lines of its row show alike: where a neighbouring row is mixed into the outer ones,
 * and a stuck cell lies beside the edge, they do not. */
static bool is_alike(const struct mark *mark) {
    double most = fmax(mark[0].contrast, fmax(mark[1].contrast, mark[2].contrast));
    double least = fmin(mark[0].contrast, fmin(mark[1].contrast, mark[2].contrast));
    return mark[0].group == mark[2].group && mark[2].line == mark[0].line + 2 &&
           mark[1].line == mark[0].line + 1 && least > 0.85 * most;
}

static double row_variance(const double sum[SLATE_ROW_LINES], int count) {
    double row = 0, squares = 0;
    for (int i = 0; i < SLATE_ROW_LINES; i++) {
        row += sum[i];
        squares += sum[i] * sum[i];
    }
    return (squares - row * row / SLATE_ROW_LINES) / ((SLATE_ROW_LINES - 1) * count * count);
}

/* The median of the rows', for a stuck cell in a mix of lines shakes some of them, and jitter all. With two
 * degrees of freedom a variance is distributed exponentially: its median is ln 2 of its mean [A]. */
static double jitter_of(double variance[SLATE_ROWS], int rows) {
    if (rows < ROWS_LEAST) {
        return 0;
    }
    qsort(variance, (size_t)rows, sizeof *variance, by_size);
    return sqrt(fmax(variance[rows / 2], 0) / M_LN2);
}

static struct scatter rows_scatter(const struct marks *marks, int first) {
    struct scatter scatter = {0};
    double variance[SLATE_ROWS];
    int rows = 0;
    for (int i = 0; i < marks->count;) {
        double sum[SLATE_ROW_LINES] = {0};
        int row = (marks->mark[i].line - first) / SLATE_ROW_LINES, count = 0;
        for (; i < marks->count && (marks->mark[i].line - first) / SLATE_ROW_LINES == row; i++) {
            if (i + 2 < marks->count && is_alike(&marks->mark[i])) {
                for (int line = 0; line < SLATE_ROW_LINES; line++) {
                    sum[line] += marks->mark[i + line].away;
                    scatter.away += marks->mark[i + line].away / SLATE_ROW_LINES;
                }
                count++;
            }
        }
        if (count > 0) {
            variance[rows++] = row_variance(sum, count);
            scatter.edges += count;
        }
    }
    scatter.away /= scatter.edges > 0 ? scatter.edges : 1;
    scatter.jitter = jitter_of(variance, rows);
    return scatter;
}

/* Lines and positions as distances from their group's mean, so that it does not matter where a group lies. */
static void take_out_means(struct marks *marks, int top, double lines[MARKS_MAX]) {
    double line[GROUPS] = {0}, away[GROUPS] = {0};
    int count[GROUPS] = {0};
    for (int i = 0; i < marks->count; i++) {
        const struct mark *mark = &marks->mark[i];
        count[mark->group]++;
        line[mark->group] += mark->line - top;
        away[mark->group] += mark->away;
    }
    for (int i = 0; i < marks->count; i++) {
        struct mark *mark = &marks->mark[i];
        lines[i] = mark->line - top - line[mark->group] / count[mark->group];
        mark->away -= away[mark->group] / count[mark->group];
    }
}

/* Least squares. What a line's edges have in common, as with a jitter of whole lines, is one error and not
 * many: the variance is summed line by line. */
static bool fit_lean(struct marks *marks, int top, double *lean, double *variance) {
    enum { SLATE_MOST = 64 };
    double lines[MARKS_MAX], by_line[SLATE_MOST] = {0}, squares = 0, products = 0, spread = 0;
    take_out_means(marks, top, lines);
    for (int i = 0; i < marks->count; i++) {
        squares += lines[i] * lines[i];
        products += lines[i] * marks->mark[i].away;
    }
    if (squares < SLATE_LINES * SLATE_ROW_LINES) {
        return false;
    }
    *lean = products / squares;
    for (int i = 0; i < marks->count; i++) {
        by_line[marks->mark[i].line - top] += lines[i] * (marks->mark[i].away - *lean * lines[i]);
    }
    for (int i = 0; i < SLATE_LINES; i++) {
        spread += by_line[i] * by_line[i];
    }
    /* A few lines say little of their own spread: half as much again. */
    *variance = 1.5 * spread / (squares * squares) + LEAN_FLOOR * LEAN_FLOOR;
    return true;
}

static void carry_on(struct slant *slant, double lean, double variance) {
    double away = lean - slant->value;
    slant->variance += LEAN_DRIFT * LEAN_DRIFT * LOOKS;
    if (away * away > 25 * (slant->variance + variance)) {
        if (++slant->strangers < STRANGERS) {
            return;
        }
        slant->value = 0;
        slant->variance = LEAN_USUAL * LEAN_USUAL;
        away = lean;
    }
    slant->strangers = 0;
    double gain = slant->variance / (slant->variance + variance);
    slant->value += gain * away;
    slant->variance *= 1 - gain;
}

/* How late the chip's writes are, a mean over fields. */
static void follow_lateness(struct slant *slant, const struct scatter *scatter, double clock_width) {
    slant->fields += slant->fields < LATE_FIELDS;
    double late = slant->late + scatter->away / clock_width / slant->fields;
    slant->late = fmin(fmax(late, LATE_LEAST), LATE_MOST);
}

/* Where lines jitter, the band's three lines alone do not say where the picture lies: the rows' lines say it
 * too, once it is known how late their edges are. */
static void steady_left(const struct slant *slant, const struct scatter *scatter, struct raster *raster) {
    const double weight = (double)SLATE_ROWS / (SLATE_ROWS + 1);
    if (slant->fields > 1 && scatter->jitter > JITTER_LEAST && fabs(scatter->away) < REACH) {
        raster->left += weight * scatter->away;
    }
}

/* What may be wrong with slant_now(), squared: a lean that is not sure yet is not followed. */
static double lean_doubt(const struct slant *slant) {
    double away = slant->value - slant_now(slant);
    return slant->variance + away * away;
}

bool slant_is_unknown(const struct slant *slant, const struct raster *raster) {
    return sqrt(lean_doubt(slant)) * PICTURE_MIDDLE > EDGES_UNSURE * raster->clock_width;
}

bool slant_hides_edges(const struct slant *slant, const struct raster *raster) {
    double lean = lean_doubt(slant) * (PICTURE_MIDDLE * PICTURE_MIDDLE);
    double error = sqrt(lean + slant->jitter / EDGE_LINES + slant->jitter / SLATE_LINES);
    return error > EDGES_UNSURE * raster->clock_width;
}

static bool same_slate(const struct slate *a, const struct slate *b) {
    return a->counter == b->counter && a->value == b->value && a->hash == b->hash;
}

/* A field that comes again, stale or filled in, has the same jitter again: it tells nothing more, and what it
 * tells often would be taken for sure. */
static bool is_again(struct slant *slant, const struct field *field, const struct slate *slate) {
    bool again =
        slant->fields > 0 && (same_slate(&slant->last[0], slate) || same_slate(&slant->last[1], slate));
    slant->last[field->parity & 1] = *slate;
    return again;
}

void slant_follow(const struct field *field, const struct slate *slate, struct slant *slant,
                  struct raster *raster) {
    struct marks marks;
    double lean, variance;
    bool again = is_again(slant, field, slate);
    bool sure = slant->variance < LEAN_SURE * LEAN_SURE && slant->strangers == 0 && !slant->shaky;
    if (sure && ++slant->waited < LOOKS) {
        return;
    }
    slant->waited = 0;
    int first = (int)raster->top + SLATE_BAND_LINES;
    if (slant->fields == 0) {
        find_later(field, raster, slate, slant->later);
        mark_edges(field, raster, slate, LATE_USUAL, slant->later, REACH_FIRST, &marks);
        slant->late = LATE_USUAL + rows_scatter(&marks, first).away / raster->clock_width;
    }
    mark_edges(field, raster, slate, slant->late, slant->later, REACH, &marks);
    struct scatter scatter = rows_scatter(&marks, first);
    if (scatter.edges > 0 && !again) {
        slant->shaky = scatter.jitter > JITTER_LEAST;
        slant->jitter += (scatter.jitter * scatter.jitter - slant->jitter) / (slant->fields + 1);
        follow_lateness(slant, &scatter, raster->clock_width);
    }
    if (scatter.edges > 0) {
        steady_left(slant, &scatter, raster);
    }
    if (!again && fit_lean(&marks, (int)raster->top, &lean, &variance)) {
        carry_on(slant, raster->slant + lean, variance);
    }
}
