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
    int from, lines;              /* of the picture: line `from` on, those that the loop draws */
    bool before[BAND_WRITES_MAX]; /* it is one that the plan wants before the line, whenever */
    struct wanted_write wanted[BAND_WRITES_MAX];
    int count;
    struct schedule schedule;
    /* Of schedule.stores[n]; the value for the loop's line l is at [lines - l], as Y counts down. [0] is read
     * and not used. */
    uint8_t table[BAND_WRITES_MAX][PICTURE_LINES_MAX + 1];
};

/* Whether the plan is one step whose bands are single lines that write the same registers in the same cycles,
 * too many for bands.c. */
bool rows_wanted(const struct plan *plan);
/* False when the plan is no such step, or its writes do not fit. */
bool rows_of(const struct plan *plan, struct rows *rows);

/* The parts of it: what lines from..from+lines-1 write; one more that keeps its value and can be written in
 * any cycle before its cells; then cycles and tables. The picture's first line has no writes before it. */
bool rows_collect(const struct plan *plan, int from, int lines, struct rows *rows);
bool rows_want_before(struct rows *rows, enum reg reg);
bool rows_fill(struct rows *rows);
/* The last cycle of a line by which a register must be written to show in all of the line, by the handbook;
 * CTRLPF as PF0. */
int rows_last_before(enum reg reg);

/* The picture, from its first line's first cycle on, with the step's registers in RAM, PF0 in Y and CTRLPF in
 * X. Leaves in the line after the picture's last. */
void rows_picture(struct encoder *encoder, const struct rows *rows);
/* The tables, each within a page. */
void rows_tables(struct encoder *encoder, const struct rows *rows);
/* The first store whose table is that of this one, and that table's label. */
int rows_table_place(const struct rows *rows, int store);
void rows_table_name(const struct rows *rows, int store, char name[LABEL_MAX]);

#endif
