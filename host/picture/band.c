/* Finds the slate's white band in a field of which nothing is known. */
#include "picture/parts.h"

enum {
    BLOCK = 8,        /* samples averaged against noise */
    BLOCKS_MAX = 512, /* wider fields are searched in their first 4096 samples */
    STRETCH = 8, /* blocks: the levels of a field are taken over 64 samples, so that noise alone stays flat */
    MOVE_MAX = 2 /* blocks by which a band's lines may differ at either end */
};

struct run {
    int first, end; /* blocks */
};

static int block_sums(const struct field *field, int line, int sums[BLOCKS_MAX]) {
    const uint8_t *luma = field_line(field, line);
    int count = field->width / BLOCK < BLOCKS_MAX ? field->width / BLOCK : BLOCKS_MAX;
    for (int b = 0; b < count; b++) {
        int sum = 0;
        for (int i = 0; i < BLOCK; i++) {
            sum += luma[(ptrdiff_t)(b * BLOCK + i) * field->step];
        }
        sums[b] = sum;
    }
    return count;
}

/* Darkest and brightest stretch, as sums over a stretch. */
static void field_levels(const struct field *field, int *low, int *high) {
    int sums[BLOCKS_MAX];
    *low = 255 * BLOCK * STRETCH;
    *high = 0;
    for (int line = 0; line < field->height; line++) {
        int count = block_sums(field, line, sums);
        int sum = 0;
        for (int b = 0; b < count; b++) {
            sum += sums[b] - (b >= STRETCH ? sums[b - STRETCH] : 0);
            if (b >= STRETCH - 1) {
                *low = sum < *low ? sum : *low;
                *high = sum > *high ? sum : *high;
            }
        }
    }
}

static struct run longest_run(const struct field *field, int line, int threshold) {
    int sums[BLOCKS_MAX];
    int count = block_sums(field, line, sums);
    struct run best = {0, 0};
    int first = 0;
    for (int b = 0; b <= count; b++) {
        if (b < count && sums[b] > threshold) {
            continue;
        }
        if (b - first > best.end - best.first) {
            best = (struct run){first, b};
        }
        first = b + 1;
    }
    return best;
}

/* 160 clocks are 0.84 to 0.87 of the usual widths; a row of eight ones is 144 clocks, and a crop may widen
 * it. */
static bool is_wide(const struct field *field, struct run run) {
    return (run.end - run.first) * BLOCK * 10 > field->width * 6;
}

static bool alike(struct run a, struct run b) {
    int left = a.first - b.first, right = a.end - b.end;
    return left <= MOVE_MAX && left >= -MOVE_MAX && right <= MOVE_MAX && right >= -MOVE_MAX;
}

/* Two lines are enough: a grabber that blends lines may leave the third below the threshold. */
static bool begins_band(const struct field *field, struct run above, struct run here, struct run below) {
    return is_wide(field, here) && is_wide(field, below) && alike(here, below) &&
           !(is_wide(field, above) && alike(above, here));
}

/* Mean of the line's samples well inside the band, some of them: enough to tell white from black. */
static double inside_level(const struct field *field, int line, const struct band_place *place) {
    const uint8_t *luma = field_line(field, line);
    int first = (int)(place->left + 0.1 * (place->right - place->left));
    int end = (int)(place->right - 0.1 * (place->right - place->left));
    int sum = 0, count = 0;
    for (int x = first; x < end; x += 7) {
        sum += luma[(ptrdiff_t)x * field->step];
        count++;
    }
    return count > 0 ? (double)sum / count : 0;
}

int band_search(const struct field *field, struct band_place found[BAND_CANDIDATES_MAX], int *contrast) {
    int low, high, count = 0;
    field_levels(field, &low, &high);
    *contrast = (high - low) / (BLOCK * STRETCH);
    int threshold = (high + low) / 2 / STRETCH;
    int last =
        field->height / 2 < field->height - SLATE_LINES ? field->height / 2 : field->height - SLATE_LINES;
    if (*contrast < CONTRAST_MIN || last < 0) {
        return 0;
    }
    struct run above = {0, 0}, here = longest_run(field, 0, threshold);
    for (int line = 0; line <= last && count < BAND_CANDIDATES_MAX; line++) {
        struct run below = longest_run(field, line + 1, threshold);
        if (begins_band(field, above, here, below)) {
            struct band_place place = {line, here.first * BLOCK - 0.5, here.end * BLOCK - 0.5};
            if (line > 0 && inside_level(field, line - 1, &place) * BLOCK > threshold) {
                place.top--; /* noise had broken its first line */
            }
            found[count++] = place;
        }
        above = here;
        here = below;
    }
    return count;
}

bool band_still_there(const struct field *field, const struct band_place *place) {
    if (place->top + SLATE_LINES > field->height || place->left < -1 || place->right > field->width) {
        return false;
    }
    if (place->top == 0) {
        return true;
    }
    double above = place->top > 1 ? inside_level(field, place->top - 2, place) : 0;
    double half = inside_level(field, place->top - 1, place), first = inside_level(field, place->top, place);
    double white = inside_level(field, place->top + 1, place);
    /* A blended line sits in the middle: both places of the band are right then, so the old one stays. */
    return white - above >= CONTRAST_MIN && half - above < 0.7 * (white - above) &&
           first - above > 0.3 * (white - above);
}
