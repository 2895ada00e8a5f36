#include "picture/picture.h"

#include "picture/parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A grabber may put the two fields of a frame a line apart, so each has its own guess. */
struct guess {
    bool valid;
    struct band_place place;
};

struct picture {
    struct picture_options options;
    struct guess guess[2];
    int shift; /* of the chip's writes, see slate_read() */
    struct slant slant;
    struct edge_tools edges;
};

struct picture *picture_new(const struct picture_options *options) {
    struct picture *picture = calloc(1, sizeof *picture);
    if (picture != NULL) {
        picture->options = *options;
        if (!(picture->options.unclear_below > 0)) {
            picture->options.unclear_below = PICTURE_UNCLEAR;
        }
        edge_tools_init(&picture->edges);
        slant_init(&picture->slant);
    }
    return picture;
}

void picture_free(struct picture *picture) {
    free(picture);
}

static enum slate_state read_at(struct picture *picture, const struct field *field,
                                const struct band_place *place, struct reading *out) {
    if (!raster_measure(field, place, &out->raster)) {
        return SLATE_ABSENT;
    }
    out->raster.slant = slant_now(&picture->slant);
    enum slate_state state = slate_read(field, &out->raster, &picture->shift, &out->slate);
    out->blended = state == SLATE_MIXED;
    return out->blended ? SLATE_GOOD : state;
}

static enum field_state read_anywhere(struct picture *picture, const struct field *field,
                                      struct reading *out) {
    struct band_place places[BAND_CANDIDATES_MAX];
    enum field_state state = FIELD_NO_SLATE;
    int contrast, count = band_search(field, places, &contrast);
    if (contrast < CONTRAST_MIN) {
        return FIELD_NO_SIGNAL;
    }
    for (int i = 0; i < count; i++) {
        switch (read_at(picture, field, &places[i], out)) {
        case SLATE_GOOD:
        case SLATE_MIXED:
            return FIELD_READ;
        case SLATE_BROKEN:
            state = FIELD_BAD_SLATE;
            break;
        case SLATE_ABSENT:
            break;
        }
    }
    return state;
}

static enum field_state find_slate(struct picture *picture, const struct field *field, struct reading *out) {
    const struct guess *guess = &picture->guess[field->parity & 1];
    if (guess->valid && band_still_there(field, &guess->place) &&
        read_at(picture, field, &guess->place, out) == SLATE_GOOD) {
        return FIELD_READ;
    }
    return read_anywhere(picture, field, out);
}

static bool is_readable(const struct field *field) {
    return field->luma != NULL && field->step >= 1 && field->width >= PICTURE_CLOCKS * 2 &&
           field->height > SLATE_LINES;
}

/* An edge at the field's border is where the grabber stops, not where the console's picture does: the raster
 * would be fitted to the wrong place, and cells beyond it cannot be read. */
static bool is_cut_off(const struct field *field, const struct raster *raster) {
    double last = raster_left(raster, field->height - 1);
    double left = fmin(raster->left, last), right = fmax(raster->left, last);
    return left < -0.25 || right + PICTURE_CLOCKS * raster->clock_width > field->width - 1.0;
}

void picture_read(struct picture *picture, const struct field *field, struct reading *out) {
    struct guess *guess = &picture->guess[field->parity & 1];
    memset(out, 0, sizeof *out);
    out->state = is_readable(field) ? find_slate(picture, field, out) : FIELD_NO_SIGNAL;
    if (out->state != FIELD_READ) {
        return;
    }
    struct raster *raster = &out->raster;
    if (!out->blended) {
        slant_follow(field, &out->slate, &picture->slant, raster);
    }
    raster->slant = slant_now(&picture->slant);
    if (is_cut_off(field, raster) || slate_beheaded(field, raster)) {
        out->state = FIELD_NO_SLATE;
        return;
    }
    guess->valid = true;
    guess->place = (struct band_place){(int)raster->top, raster->left,
                                       raster->left + PICTURE_CLOCKS * raster->clock_width};
    out->unsettled = !out->blended && slant_is_unknown(&picture->slant, raster);
    cells_read(field, &picture->options, out);
    if (!slant_hides_edges(&picture->slant, raster)) {
        edges_measure(field, &picture->edges, out);
    }
    colours_measure(field, out);
    chain_measure(field, out);
    beside_measure(field, out);
}
