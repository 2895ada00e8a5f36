#include "virtual/grabber.h"

#include "virtual/assemble.h"
#include "virtual/digitise.h"
#include "virtual/fate.h"
#include "virtual/planar.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RING = 8 }; /* fields under way: at most one is left over, one put off, and FATE_COPIES_MAX come */

struct sampled {
    uint8_t lines[FIELD_LINES_MAX][LINE_BYTES];
};

struct grabber {
    enum standard standard;
    struct grabber_options options;
    struct layout layout;
    int good_fields;      /* running, that could be locked to */
    bool direct;          /* fields are sampled right into the frame: nothing can happen to them on the way */
    unsigned head, tail;  /* fields that came out and that went in; direct: the frame's so far */
    bool put_off;         /* the field that belongs at tail is at tail + 1 */
    unsigned fields_kept; /* since the stale one was taken */
    bool stale_due;
    unsigned frames;
    bool again; /* the frame goes out a second time */
    struct fates fates;
    struct planar *planar; /* NULL: frames are packed */
    struct sampled *ring;  /* NULL: direct */
    struct canvas own;
    struct canvas *canvas; /* own, or the caller's */
    struct digitiser digitiser;
};

/* ---- fields ---- */

static bool can_be_locked_to(const struct grabber *grabber, const struct tia_field *field) {
    return field != NULL && field->synced &&
           abs(field->lines - standard_lines(grabber->standard)) <= GRABBER_LOCK_LINES;
}

/* The field, or NULL while there is no lock. */
static const struct tia_field *lock(struct grabber *grabber, const struct tia_field *field) {
    enum { WANTED = 2 };
    const int good = can_be_locked_to(grabber, field) ? grabber->good_fields + 1 : 0;
    grabber->stale_due = grabber->stale_due || (good >= WANTED && grabber->good_fields < WANTED);
    grabber->good_fields = good < WANTED ? good : WANTED;
    return good >= WANTED ? field : NULL;
}

static uint8_t *ring_field(const struct grabber *grabber, unsigned at) {
    return grabber->ring[at % RING].lines[0];
}

static void sample_at(struct grabber *grabber, const struct tia_field *field, unsigned at) {
    const struct grabber_options *options = &grabber->options;
    uint8_t *out = ring_field(grabber, at);
    digitise(&grabber->digitiser, field, (struct lines){out, LINE_BYTES});
    if (options->comb > 0) {
        comb_lines(out, grabber->layout.field_lines, options->comb, options->comb_adaptive);
    }
}

static void take_direct(struct grabber *grabber, const struct tia_field *field) {
    const struct layout *layout = &grabber->layout;
    const int parity = grabber->tail == 0 ? layout->first : 1 - layout->first;
    digitise(&grabber->digitiser, field, layout_lines(layout, grabber->canvas, parity));
    grabber->tail++;
}

/* One that is put off leaves its place free for the field after it. */
static void take_to_ring(struct grabber *grabber, const struct tia_field *field, struct fate fate) {
    if (fate.copies == 0) {
        return;
    }
    if (grabber->put_off) {
        sample_at(grabber, field, grabber->tail);
        grabber->tail += 2;
        grabber->put_off = false;
        return;
    }
    grabber->put_off = fate.late;
    sample_at(grabber, field, grabber->tail + fate.late);
    for (int copy = 1; copy < fate.copies && !fate.late; copy++) {
        memcpy(ring_field(grabber, grabber->tail + copy), ring_field(grabber, grabber->tail),
               sizeof(struct sampled));
    }
    grabber->tail += fate.late ? 0 : (unsigned)fate.copies;
}

void grabber_take(struct grabber *grabber, const struct tia_field *field) {
    const struct tia_field *locked = lock(grabber, field);
    const int lines = field != NULL && field->lines > 0 ? field->lines : standard_lines(grabber->standard);
    if (grabber->direct) {
        take_direct(grabber, locked);
    } else {
        take_to_ring(grabber, locked, fate_of_next(&grabber->fates, lines));
    }
    digitiser_advance(&grabber->digitiser, lines);
}

/* ---- frames ---- */

bool grabber_ready(const struct grabber *grabber) {
    return grabber->again || grabber->tail - grabber->head >= (unsigned)grabber->layout.fields;
}

/* The stale field stays in the frame where it was put. */
static void refresh_stale(struct grabber *grabber, const uint8_t *field) {
    struct layout other = grabber->layout;
    const unsigned fields = (unsigned)grabber->options.stale_fields;
    const bool worn = fields > 0 && ++grabber->fields_kept >= fields;
    if (other.stale >= 0 && (grabber->stale_due || worn)) {
        other.stale = 1 - other.stale;
        assemble(&other, (const uint8_t *const[2]){field, NULL}, 0, grabber->canvas);
        grabber->stale_due = false;
        grabber->fields_kept = 0;
    }
}

static void make_frame(struct grabber *grabber) {
    if (grabber->direct) {
        grabber->tail = 0;
        return;
    }
    const uint8_t *const fields[2] = {ring_field(grabber, grabber->head),
                                      ring_field(grabber, grabber->head + 1)};
    refresh_stale(grabber, fields[0]);
    assemble(&grabber->layout, fields, grabber->frames, grabber->canvas);
    blacken(&grabber->layout, grabber->canvas);
    grabber->head += (unsigned)grabber->layout.fields;
}

static struct plane packed_plane(const uint8_t *data, int first, int step) {
    return (struct plane){.data = data + first, .stride = LINE_BYTES, .step = step};
}

static int cropped_width(const struct grabber *grabber) {
    return grabber->options.width - grabber->options.crop[0] - grabber->options.crop[1];
}

static int cropped_height(const struct grabber *grabber) {
    return grabber->layout.height - grabber->options.crop[2] - grabber->options.crop[3];
}

static bool show(struct grabber *grabber, struct frame *frame, struct problem *problem) {
    const uint8_t *first = grabber->canvas->lines[grabber->options.crop[2]] + 2 * grabber->options.crop[0];
    if (grabber->planar != NULL) {
        return planar_frame(grabber->planar, first, LINE_BYTES, frame, problem);
    }
    *frame = (struct frame){
        .width = cropped_width(grabber),
        .height = cropped_height(grabber),
        .y = packed_plane(first, 0, 2),
        .cb = packed_plane(first, 1, 4),
        .cr = packed_plane(first, 3, 4),
        .chroma_x = 1,
        .chroma_y = 0,
    };
    return true;
}

bool grabber_frame(struct grabber *grabber, struct frame *frame, struct problem *problem) {
    if (grabber->again) {
        grabber->again = false;
    } else {
        make_frame(grabber);
        grabber->frames++;
        grabber->again = grabber->options.pairs;
    }
    return show(grabber, frame, problem);
}

bool grabber_draws_into(const struct grabber *grabber) {
    return grabber->direct && grabber->planar == NULL && !grabber->options.pairs;
}

void grabber_draw_into(struct grabber *grabber, struct canvas *canvas) {
    grabber->canvas = canvas != NULL && grabber_draws_into(grabber) ? canvas : &grabber->own;
}

/* ---- the whole ---- */

static bool is_direct(const struct grabber_options *options, const struct layout *layout) {
    const bool plain = layout->kind != GRABBER_BOBBED && layout->kind != GRABBER_BLENDED;
    const bool all = !(options->drop > 0) && !(options->twice > 0) && !(options->swap > 0) &&
                     !options->slip && options->burst_fields == 0;
    return plain && all && layout->stale < 0 && layout->black == GRABBER_NONE && !(options->comb > 0);
}

static bool make_parts(struct grabber *grabber, struct problem *problem) {
    const struct grabber_options *options = &grabber->options;
    const bool fine = options->chroma == 422;
    grabber->direct = is_direct(options, &grabber->layout);
    if (!grabber->direct && (grabber->ring = calloc(RING, sizeof *grabber->ring)) == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "virtual grabber: out of memory; close other programs");
    }
    if (fine && options->mjpeg == 0) {
        return true;
    }
    grabber->planar =
        planar_new(cropped_width(grabber), cropped_height(grabber), !fine, options->mjpeg, problem);
    return grabber->planar != NULL;
}

struct grabber *grabber_new(enum standard standard, const struct grabber_options *options, uint64_t seed,
                            struct problem *problem) {
    if (!grabber_check(options, problem)) {
        return NULL;
    }
    struct grabber *grabber = calloc(1, sizeof *grabber);
    if (grabber == NULL) {
        problem_set(problem, PROBLEM_BENCH, "virtual grabber: out of memory; close other programs");
        return NULL;
    }
    grabber->standard = standard;
    grabber->canvas = &grabber->own;
    grabber->options = *options;
    layout_of(standard, options, &grabber->layout);
    digitiser_init(&grabber->digitiser, standard, options, seed);
    fates_init(&grabber->fates, standard, options, seed);
    for (int parity = 0; parity < 2; parity++) {
        digitise(&grabber->digitiser, NULL, layout_lines(&grabber->layout, grabber->canvas, parity));
    }
    if (!make_parts(grabber, problem)) {
        grabber_free(grabber);
        return NULL;
    }
    return grabber;
}

void grabber_free(struct grabber *grabber) {
    if (grabber != NULL) {
        planar_free(grabber->planar);
        free(grabber->ring);
        free(grabber);
    }
}

void grabber_tell(const struct grabber *grabber, struct video_about *about) {
    const struct standard_facts *facts = &standard_table[grabber->standard];
    const bool fine = grabber->options.chroma == 422;
    const char *format = grabber->options.mjpeg > 0 ? fine ? "mjpeg yuvj422p" : "mjpeg yuvj420p"
                         : fine                     ? "rawvideo yuyv422"
                                                    : "rawvideo yuv420p";
    const bool often = grabber->layout.fields == 1 || grabber->options.pairs;
    about->width = cropped_width(grabber);
    about->height = cropped_height(grabber);
    about->rate = (often ? 2.0 : 1.0) * facts->frame_rate_num / facts->frame_rate_den;
    snprintf(about->format, sizeof about->format, "%s", format);
    snprintf(about->name, sizeof about->name, "%s", grabber->options.set);
}
