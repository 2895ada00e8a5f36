#include "picture/picture.h"

#include "picture/parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Clocks rms among the playfield's edges: with less, a lean that is not known moves their mean by a third of
 * a clock at most [A: over the picture its ends lie sqrt(3) times as far off]. */
#define UPRIGHT_SPREAD 0.2

/* A grabber may put the two fields of a frame a line apart, so each has its own guess. */
struct guess {
    bool valid;
    struct band_place place;
};

enum { MIXED_FIELDS = 64 }; /* for so many fields a source that mixed some is taken to mix all */

struct picture {
    struct picture_options options;
    struct guess guess[2];
    int shift; /* of the chip's writes, see slate_read() */
    struct slant slant;
    struct edge_tools edges;
    int mixed;                   /* fields still to be taken for mixed ones */
    struct detail_tools *detail; /* NULL: not asked for */
};

struct picture *picture_new(const struct picture_options *options) {
    struct picture *picture = calloc(1, sizeof *picture);
    if (picture != NULL && (options->profiles || options->whole)) {
        picture->detail = calloc(1, sizeof *picture->detail);
        if (picture->detail == NULL) {
            free(picture);
            return NULL;
        }
        picture->detail->profiles = options->profiles;
        picture->detail->whole = options->whole;
    }
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
    if (picture != NULL) {
        free(picture->detail);
    }
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

/* Where fields are mixed, none tells of a lean: bits that differ stand between black and white, and their
 * edges anywhere; a mixture over a change of step may even read as plain. */
static bool is_mixing(struct picture *picture, bool blended) {
    if (blended) {
        picture->mixed = MIXED_FIELDS;
    } else if (picture->mixed > 0) {
        picture->mixed--;
    }
    return picture->mixed > 0;
}

void picture_read(struct picture *picture, const struct field *field, struct reading *out) {
    struct guess *guess = &picture->guess[field->parity & 1];
    memset(out, 0, sizeof *out);
    out->state = is_readable(field) ? find_slate(picture, field, out) : FIELD_NO_SIGNAL;
    if (out->state != FIELD_READ) {
        return;
    }
    struct raster *raster = &out->raster;
    bool upright = is_mixing(picture, out->blended);
    if (!upright) {
        slant_follow(field, &out->slate, &picture->slant, raster);
    }
    raster->slant = upright ? 0 : slant_now(&picture->slant);
    if (is_cut_off(field, raster) || slate_beheaded(field, raster)) {
        out->state = FIELD_NO_SLATE;
        return;
    }
    guess->valid = true;
    guess->place = (struct band_place){(int)raster->top, raster->left,
                                       raster->left + PICTURE_CLOCKS * raster->clock_width};
    out->unsettled = !upright && slant_is_unknown(&picture->slant, raster);
    cells_read(field, &picture->options, out);
    if (upright || !slant_hides_edges(&picture->slant, raster)) {
        edges_measure(field, &picture->edges, out);
    }
    if (upright && out->offset_spread > UPRIGHT_SPREAD) {
        out->edges = 0;
    }
    colours_measure(field, out);
    chain_measure(field, out);
    beside_measure(field, out);
    if (picture->detail != NULL) {
        detail_measure(picture->detail, field, upright || !slant_hides_edges(&picture->slant, raster), out);
    }
}
