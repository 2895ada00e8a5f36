/*
 * The pictures of a run. Each is written whole or not at all.
 * Differences are marked by shape as well as colour: a missing cell by a cross, a surplus one by a box, an
 * unclear one by a bar.
 */
#ifndef SLOTJIG_REPORT_PICTURES_H
#define SLOTJIG_REPORT_PICTURES_H

#include "capture/video.h"
#include "report/canvas.h"
#include "report/json.h"

#include <stdbool.h>

/* A captured field with the raster and the cells drawn over it: what was read of it. Lines of a field that
 * has about half a frame's are shown twice. */
bool picture_field(const char *path, const struct field *field, const struct reading *reading,
                   struct problem *problem);
/* The same as a PNG in memory. */
struct picture_bytes {
    uint8_t *bytes; /* the caller's to free */
    size_t size;
};
bool picture_field_bytes(const struct field *field, const struct reading *reading,
                         struct picture_bytes *picture, struct problem *problem);
/* The same onto a canvas of the field's width, whose height is the field's or a multiple of it. */
void picture_draw_field(struct canvas *canvas, const struct field *field, const struct reading *reading);
/* Onto the same: boxes round the columns of these cells, of a field that was read. */
void picture_mark_cells(struct canvas *canvas, const struct field *field, const struct reading *reading,
                        uint64_t cells);

/* Expected beside seen for every step, one row a step; a step of many bands line by line. kept: what was read
 * of the field that stands for the run, NULL when there is none: the lines that were seen. */
bool picture_steps(const char *path, const struct report *report, const struct reading *kept,
                   struct problem *problem);

/* Expected above seen for one step, large. */
bool picture_step(const char *path, const struct report *report, size_t index, struct problem *problem);
bool picture_step_bytes(const struct report *report, size_t index, struct picture_bytes *picture,
                        struct problem *problem);

/* What a plan must show: one row a step. */
bool picture_expected(const char *path, const struct plan *plan, struct problem *problem);

#endif
