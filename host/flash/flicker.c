#include "flash/flicker.h"

#include <math.h>
#include <string.h>

enum { BANDS_IN_A_BYTE = 255 / (FLICKER_STRIP * FLICKER_BAND) };
_Static_assert(BANDS_IN_A_BYTE >= 1, "a band's cells must fit a byte");
_Static_assert(FLICKER_BANDS <= 32, "bands are bits of a word");

void flicker_init(struct flicker *flicker, int lines, int window) {
    flicker->lines = lines;
    flicker->window = window;
}

static int at_most(double value, int most) {
    const double whole = ceil(value - 1e-9);
    return whole < 1 ? 1 : whole > most ? most : (int)whole;
}

void flicker_add_view(struct flicker *flicker, double cells, double lines, double share) {
    struct flicker_view *view = &flicker->view[flicker->views++];
    const int bands = (flicker->lines + FLICKER_BAND - 1) / FLICKER_BAND;
    view->strips = at_most(cells / FLICKER_STRIP, FLICKER_STRIPS);
    view->bands = at_most(lines / FLICKER_BAND, bands);
    view->area = cells * lines;
    view->limit = view->area * share;
}

/* ---- counts of cells, bit by bit ---- */

static void count_up(struct flicker *flicker, int line, uint64_t cells) {
    for (int bit = 0; cells != 0 && bit < FLICKER_COUNT_BITS; bit++) {
        const uint64_t carry = flicker->count[bit][line] & cells;
        flicker->count[bit][line] ^= cells;
        cells = carry;
    }
}

static void count_down(struct flicker *flicker, int line, uint64_t cells) {
    for (int bit = 0; cells != 0 && bit < FLICKER_COUNT_BITS; bit++) {
        const uint64_t borrow = ~flicker->count[bit][line] & cells;
        flicker->count[bit][line] ^= cells;
        cells = borrow;
    }
}

/* Cells whose count is at least that. */
static uint64_t counted(const struct flicker *flicker, int line, int least) {
    uint64_t equal = ~UINT64_C(0), above = 0;
    for (int bit = FLICKER_COUNT_BITS - 1; bit >= 0; bit--) {
        const uint64_t count = flicker->count[bit][line];
        if ((least >> bit & 1) != 0) {
            equal &= count;
        } else {
            above |= equal & count;
            equal &= ~count;
        }
    }
    return above | equal;
}

/* ---- cells to strips and blocks ---- */

/* How many of each four neighbouring cells, in a byte each: even strips and odd ones. */
static void add_strips(uint64_t cells, uint64_t *even, uint64_t *odd) {
    static const uint64_t ones = UINT64_C(0x5555555555), twos = UINT64_C(0x3333333333),
                          nibbles = UINT64_C(0x0F0F0F0F0F);
    const uint64_t pairs = cells - (cells >> 1 & ones);
    const uint64_t fours = (pairs & twos) + (pairs >> 2 & twos);
    *even += fours & nibbles;
    *odd += fours >> 4 & nibbles;
}

static void spread(uint64_t even, uint64_t odd, uint8_t strips[FLICKER_STRIPS]) {
    for (int i = 0; i < FLICKER_STRIPS / 2; i++) {
        strips[2 * i] = (uint8_t)(even >> 8 * i);
        strips[2 * i + 1] = (uint8_t)(odd >> 8 * i);
    }
}

static int band_end(const struct flicker *flicker, int band) {
    const int end = (band + 1) * FLICKER_BAND;
    return end < flicker->lines ? end : flicker->lines;
}

static void strips_changed(const struct flicker *flicker, const uint64_t *changed, int band,
                           uint8_t strips[FLICKER_STRIPS]) {
    uint64_t even = 0, odd = 0;
    for (int line = band * FLICKER_BAND; line < band_end(flicker, band); line++) {
        add_strips(changed[line], &even, &odd);
    }
    spread(even, odd, strips);
}

static void strips_often(const struct flicker *flicker, int least, int band, uint8_t strips[FLICKER_STRIPS]) {
    uint64_t even = 0, odd = 0;
    for (int line = band * FLICKER_BAND; line < band_end(flicker, band); line++) {
        add_strips(counted(flicker, line, least), &even, &odd);
    }
    spread(even, odd, strips);
}

static int in_band(const uint8_t strips[FLICKER_STRIPS]) {
    int sum = 0;
    for (int strip = 0; strip < FLICKER_STRIPS; strip++) {
        sum += strips[strip];
    }
    return sum;
}

/* Sums over all that lies above and to the left. */
struct sums {
    int at[FLICKER_BANDS + 1][FLICKER_STRIPS + 1];
};

static void sum_up(uint8_t strips[FLICKER_BANDS][FLICKER_STRIPS], struct sums *sums) {
    for (int strip = 0; strip <= FLICKER_STRIPS; strip++) {
        sums->at[0][strip] = 0;
    }
    for (int band = 0; band < FLICKER_BANDS; band++) {
        int row = 0;
        sums->at[band + 1][0] = 0;
        for (int strip = 0; strip < FLICKER_STRIPS; strip++) {
            row += strips[band][strip];
            sums->at[band + 1][strip + 1] = sums->at[band][strip + 1] + row;
        }
    }
}

static int block_sum(const struct sums *sums, const struct flicker_view *view, int band, int strip) {
    const int below = band + view->bands, right = strip + view->strips;
    return sums->at[below][right] - sums->at[band][right] - sums->at[below][strip] + sums->at[band][strip];
}

static int bands_of(const struct flicker *flicker) {
    return (flicker->lines + FLICKER_BAND - 1) / FLICKER_BAND;
}

static int largest_block(const struct flicker *flicker, const struct flicker_view *view,
                         const struct sums *sums) {
    int largest = 0;
    for (int band = 0; band + view->bands <= bands_of(flicker); band++) {
        for (int strip = 0; strip + view->strips <= FLICKER_STRIPS; strip++) {
            const int sum = block_sum(sums, view, band, strip);
            largest = sum > largest ? sum : largest;
        }
    }
    return largest;
}

/* ---- changes at once ---- */

static void forget_large(struct flicker_view *view, int slot) {
    if (!view->any_large[slot]) {
        return;
    }
    for (int block = 0; block < FLICKER_BLOCKS; block++) {
        view->recent[block] -= view->large[slot][block];
    }
    memset(view->large[slot], 0, sizeof view->large[slot]);
    view->any_large[slot] = false;
}

static void note_large(const struct flicker *flicker, struct flicker_view *view, const struct sums *sums) {
    int block = 0;
    for (int band = 0; band + view->bands <= bands_of(flicker); band++) {
        for (int strip = 0; strip + view->strips <= FLICKER_STRIPS; strip++, block++) {
            if (block_sum(sums, view, band, strip) > view->limit) {
                view->large[flicker->slot][block] = 1;
                view->recent[block]++;
                view->most_at_once =
                    view->recent[block] > view->most_at_once ? view->recent[block] : view->most_at_once;
            }
        }
    }
    view->any_large[flicker->slot] = true;
}

/* total: of all strips. */
static void look_at_once(struct flicker *flicker, struct flicker_view *view,
                         uint8_t now[FLICKER_BANDS][FLICKER_STRIPS], int total) {
    struct sums sums;
    forget_large(view, flicker->slot);
    if (total <= view->largest * view->area && total <= view->limit) {
        return; /* nothing that has not been seen before */
    }
    sum_up(now, &sums);
    const int largest = largest_block(flicker, view, &sums);
    view->largest = fmax(view->largest, fmin(1, largest / view->area));
    if (largest > view->limit) {
        note_large(flicker, view, &sums);
    }
}

/* ---- changes of each cell by itself ---- */

/* Whether more cells of a place than the limit have one change more than `most_by_cell`; only the bands of
 * the set may differ from the last time. */
static bool raise_count(struct flicker *flicker, struct flicker_view *view, uint32_t bands) {
    struct sums sums;
    for (int band = 0; band < bands_of(flicker); band++) {
        if ((bands >> band & 1) != 0) {
            view->often_total -= in_band(view->often[band]);
            strips_often(flicker, view->most_by_cell + 1, band, view->often[band]);
            view->often_total += in_band(view->often[band]);
        }
    }
    if (view->often_total <= view->limit) {
        return false;
    }
    sum_up(view->often, &sums);
    if (largest_block(flicker, view, &sums) <= view->limit) {
        return false;
    }
    view->most_by_cell++;
    return true;
}

/* The field's changes come into the window, those of the field that leaves it go. Returns how many come. */
static int move_on(struct flicker *flicker, const uint64_t *changed, uint32_t bands, uint32_t touched,
                   uint8_t now[FLICKER_BANDS][FLICKER_STRIPS]) {
    uint64_t *past = flicker->past[flicker->slot];
    int total = 0;
    for (int band = 0; band < bands_of(flicker); band++) {
        if ((touched >> band & 1) == 0) {
            continue;
        }
        const bool changes = (bands >> band & 1) != 0;
        for (int line = band * FLICKER_BAND; line < band_end(flicker, band); line++) {
            count_down(flicker, line, past[line]);
            past[line] = changes ? changed[line] : 0;
            count_up(flicker, line, past[line]);
        }
        strips_changed(flicker, past, band, now[band]);
        total += in_band(now[band]);
    }
    flicker->past_bands[flicker->slot] = bands;
    return total;
}

void flicker_field(struct flicker *flicker, const uint64_t changed[PICTURE_LINES_MAX], uint32_t bands) {
    uint8_t now[FLICKER_BANDS][FLICKER_STRIPS] = {{0}};
    const uint32_t touched = bands | flicker->past_bands[flicker->slot];
    const int total = move_on(flicker, changed, bands, touched, now);
    for (int i = 0; i < flicker->views; i++) {
        struct flicker_view *view = &flicker->view[i];
        look_at_once(flicker, view, now, total);
        uint32_t stale = touched;
        while (raise_count(flicker, view, stale)) {
            stale = UINT32_MAX;
        }
    }
    flicker->slot = (flicker->slot + 1) % flicker->window;
}
