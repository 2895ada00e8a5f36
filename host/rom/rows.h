/*
 * The picture of a step that rewrites the same registers in the same cycles of each line: a loop of one line,
 * its values out of tables, a row a line (plan/schedule.h). Its first line is drawn by itself, for the slate
 * leaves no time to load what it needs. Inside rom/ only.
 */
#ifndef SLOTJIG_ROM_ROWS_H
#define SLOTJIG_ROM_ROWS_H

#include "plan/schedule.h"
#include "rom/encoder.h"

struct rows {
    const struct step *step;
    int lines;
    bool before[BAND_WRITES_MAX]; /* it is one that the plan wants before the line, whenever */
    struct wanted_write wanted[BAND_WRITES_MAX];
    int count;
    struct schedule schedule;
    /* Of schedule.stores[n]; the value for picture line l is at [lines - l], as Y counts down. [0] is read
     * and not used. */
    uint8_t table[BAND_WRITES_MAX][PICTURE_LINES_MAX];
};

/* False when the plan is no such step, or its writes do not fit. */
bool rows_of(const struct plan *plan, struct rows *rows);

/* The picture, from its first line's first cycle on, with the step's registers in RAM, PF0 in Y and CTRLPF in
 * X. Leaves in the line after the picture's last. */
void rows_picture(struct encoder *encoder, const struct rows *rows);
/* The tables, each within a page. */
void rows_tables(struct encoder *encoder, const struct rows *rows);
/* The label of store n's table; equal ones are one. */
void rows_table_name(const struct rows *rows, int store, char name[LABEL_MAX]);

#endif
