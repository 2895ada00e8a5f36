#include "rom/rows.h"

#include "plan/windows.h"
#include "rom/phrases.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- what a line writes ---- */

static int find_wanted(const struct rows *rows, const struct write *write) {
    const bool before = write->cycle == WRITE_BEFORE;
    for (int i = 0; i < rows->count; i++) {
        if (rows->wanted[i].reg == write->reg && rows->before[i] == before &&
            (before || rows->wanted[i].first == write->cycle)) {
            return i;
        }
    }
    return -1;
}

int rows_last_before(enum reg reg) {
    struct write_windows windows;
    windows_handbook(&windows);
    const enum moment_register moment = reg == REG_PF1      ? MOMENT_PF1
                                        : reg == REG_PF2    ? MOMENT_PF2
                                        : reg == REG_COLUPF ? MOMENT_COLUPF
                                        : reg == REG_COLUBK ? MOMENT_COLUBK
                                                            : MOMENT_PF0;
    return windows.window[moment][0][HALF_LEFT].last;
}

static bool add_wanted(struct rows *rows, const struct write *write) {
    if (find_wanted(rows, write) >= 0) {
        return true;
    }
    if (rows->count == BAND_WRITES_MAX) {
        return false;
    }
    const bool before = write->cycle == WRITE_BEFORE;
    rows->before[rows->count] = before;
    rows->wanted[rows->count] = before ? (struct wanted_write){write->reg, 0, rows_last_before(write->reg)}
                                       : (struct wanted_write){write->reg, write->cycle, write->cycle};
    rows->count++;
    return true;
}

/* Of the picture's first line those before it are not the loop's: the registers begin with them. */
static bool add_line(struct rows *rows, int line) {
    const struct band *band = step_band_at(rows->step, line);
    for (int i = 0; i < band->count; i++) {
        const bool start = line == 0 && band->writes[i].cycle == WRITE_BEFORE;
        if (!start && !add_wanted(rows, &band->writes[i])) {
            return false;
        }
    }
    return true;
}

bool rows_collect(const struct plan *plan, int from, int lines, struct rows *rows) {
    const size_t all = (size_t)standard_plan_lines(plan->standard);
    memset(rows, 0, sizeof *rows);
    if (plan->step_count != 1 || (plan->steps[0].band_count != all && !step_is_hold(&plan->steps[0]))) {
        return false; /* as many bands as lines: each is one */
    }
    rows->step = &plan->steps[0];
    rows->from = from;
    rows->lines = lines;
    for (int line = from; line < from + lines; line++) {
        if (!step_is_hold(rows->step) && !add_line(rows, line)) {
            return false;
        }
    }
    return true;
}

bool rows_want_before(struct rows *rows, enum reg reg) {
    return add_wanted(rows, &(struct write){reg, 0, WRITE_BEFORE});
}

/* What is wanted before the line must not overtake the same register's writes in mid-line. */
static bool in_order(const struct rows *rows) {
    const struct schedule *schedule = &rows->schedule;
    for (int early = 0; early < schedule->count; early++) {
        for (int late = early + 1; late < schedule->count; late++) {
            const int one = schedule->stores[early].wanted, other = schedule->stores[late].wanted;
            if (rows->wanted[one].reg == rows->wanted[other].reg && rows->before[other]) {
                return false;
            }
        }
    }
    return true;
}

/* ---- the tables ---- */

static bool is_here(const struct rows *rows, const struct write *write, int wanted, int line) {
    return find_wanted(rows, write) == wanted && !(line == 0 && write->cycle == WRITE_BEFORE);
}

static void fill_line(struct rows *rows, int line, uint8_t now[REG_COUNT]) {
    const struct band *band = step_band_at(rows->step, line);
    for (int store = 0; store < rows->schedule.count; store++) {
        const int wanted = rows->schedule.stores[store].wanted;
        const enum reg reg = rows->wanted[wanted].reg;
        for (int i = 0; i < band->count; i++) {
            if (is_here(rows, &band->writes[i], wanted, line)) {
                now[reg] = band->writes[i].value;
            }
        }
        rows->table[store][rows->from + rows->lines - line] = now[reg];
    }
}

static void start_of(const struct rows *rows, uint8_t now[REG_COUNT]) {
    step_registers(rows->step, now);
    for (int line = 0; line < rows->from; line++) {
        const struct band *band = step_band_at(rows->step, line);
        for (int i = 0; i < band->count; i++) {
            now[band->writes[i].reg] = band->writes[i].value;
        }
    }
}

bool rows_fill(struct rows *rows) {
    uint8_t now[REG_COUNT];
    if (!schedule_find(rows->wanted, rows->count, &rows->schedule) || !in_order(rows)) {
        return false;
    }
    start_of(rows, now);
    for (int line = rows->from; line < rows->from + rows->lines; line++) {
        fill_line(rows, line, now);
    }
    return true;
}

bool rows_of(const struct plan *plan, struct rows *rows) {
    return rows_collect(plan, 1, standard_plan_lines(plan->standard) - 1, rows) && rows->count > 0 &&
           rows_fill(rows);
}

bool rows_wanted(const struct plan *plan) {
    struct rows *rows = malloc(sizeof *rows);
    const bool wanted = rows != NULL && rows_of(plan, rows);
    free(rows);
    return wanted;
}

int rows_table_place(const struct rows *rows, int store) {
    int first = 0;
    while (memcmp(rows->table[first], rows->table[store], (size_t)rows->lines + 1) != 0) {
        first++;
    }
    return first;
}

void rows_table_name(const struct rows *rows, int store, char name[LABEL_MAX]) {
    snprintf(name, LABEL_MAX, "rows_%d", rows_table_place(rows, store));
}

/* From the second byte of a page on, since the loop reads one byte before it too. */
void rows_tables(struct encoder *e, const struct rows *rows) {
    for (int store = 0; store < rows->schedule.count; store++) {
        char name[LABEL_MAX];
        if (rows_table_place(rows, store) != store) {
            continue;
        }
        if ((e->size & 0xFF) == 0 || (e->size & 0xFF) + (size_t)rows->lines + 1 > 0x100) {
            encode_fill(e, ((e->size + 0xFF) & ~(size_t)0xFF) + 1);
        }
        rows_table_name(rows, store, name);
        encode_label(e, name);
        encode_data(e, rows->table[store], (size_t)rows->lines + 1, "a row a line, from the last line up");
    }
}

/* ---- the first line ---- */

enum { FIRST_LINE_CYCLES = 24 /* of show_registers() */ };

/* Loads of the first line in their order: its own values, then the row counter, then the second line's. */
struct first_line {
    struct encoder *encoder;
    const struct rows *rows;
    const struct write *stores[BAND_WRITES_MAX];
    int count, done, loaded; /* loaded: of count + 1 + those that wait for the second line */
    int now;
};

static const char *load_of(int store) {
    return schedule_uses_x(store) ? "LDX" : "LDA";
}

static int loads(const struct first_line *line) {
    const int waiting = line->rows->schedule.count;
    return line->count + 1 + (waiting < SCHEDULE_WAITING ? waiting : SCHEDULE_WAITING);
}

static int load_cycles(const struct first_line *line) {
    return line->loaded > line->count ? SCHEDULE_LOAD : 2;
}

static bool can_load(const struct first_line *line) {
    const int next = line->loaded;
    if (next >= loads(line)) {
        return false;
    }
    if (next == line->count) {
        return true; /* Y waits for nothing */
    }
    const bool uses_x = schedule_uses_x(next > line->count ? next - line->count - 1 : next);
    for (int store = line->done; store < next && store < line->count; store++) {
        if (schedule_uses_x(store) == uses_x) {
            return false;
        }
    }
    return true;
}

static void load_next(struct first_line *line) {
    const int next = line->loaded, count = line->count;
    line->now += load_cycles(line);
    if (next < count) {
        imm(line->encoder, load_of(next), line->stores[next]->value);
    } else if (next == count) {
        imm(line->encoder, "LDY", line->rows->lines);
    } else {
        char name[LABEL_MAX];
        rows_table_name(line->rows, next - count - 1, name);
        encode_to(line->encoder, load_of(next - count - 1), MODE_ABSOLUTE_Y, name, 0, NULL);
    }
    line->loaded++;
}

static const char *store_of(int store) {
    return schedule_uses_x(store) ? "STX" : "STA";
}

static void store_first(struct first_line *line) {
    const struct write *write = line->stores[line->done];
    if (line->loaded == line->done) {
        load_next(line);
    }
    while (can_load(line) && write->cycle - SCHEDULE_STORE - line->now >= load_cycles(line)) {
        load_next(line);
    }
    const int spare = write->cycle - SCHEDULE_STORE - line->now;
    struct encoder *e = line->encoder;
    if (spare < 0 && e->problem.kind == PROBLEM_NONE) {
        problem_set(&e->problem, PROBLEM_INPUT,
                    "step '%s', band 1: the write of %s at cycle %d cannot be made; the earliest possible "
                    "here is cycle %d",
                    line->rows->step->name, reg_name(write->reg), write->cycle, write->cycle - spare);
    }
    encode_delay(e, spare > 1 ? spare : 0);
    encode(e, store_of(line->done), spare == 1 ? MODE_ABSOLUTE : MODE_ZERO, reg_address(write->reg), NULL);
    encode_mark(e, write->cycle);
    line->now = write->cycle;
    line->done++;
}

static void first_line(struct encoder *e, const struct rows *rows) {
    struct first_line line = {.encoder = e, .rows = rows, .now = FIRST_LINE_CYCLES};
    const struct band *band = &rows->step->bands[0];
    for (int i = 0; i < band->count; i++) {
        if (band->writes[i].cycle != WRITE_BEFORE) {
            line.stores[line.count++] = &band->writes[i];
        }
    }
    show_registers(e);
    while (line.done < line.count) {
        store_first(&line);
    }
    while (can_load(&line)) {
        load_next(&line);
    }
}

/* ---- the loop ---- */

static void emit_op(struct encoder *e, const struct rows *rows, const struct schedule_op *op) {
    char name[LABEL_MAX];
    switch (op->kind) {
    case SCHEDULE_DELAY:
        encode_delay(e, op->cycles);
        break;
    case SCHEDULE_READ:
        rows_table_name(rows, op->store, name);
        encode_to(e, load_of(op->store), MODE_ABSOLUTE_Y, name, op->ahead ? -1 : 0,
                  op->ahead ? "of the next row" : NULL);
        break;
    case SCHEDULE_WRITE: {
        const struct placed_write *store = &rows->schedule.stores[op->store];
        encode(e, store_of(op->store), op->cycles > SCHEDULE_STORE ? MODE_ABSOLUTE : MODE_ZERO,
               reg_address(rows->wanted[store->wanted].reg), NULL);
        encode_mark(e, store->cycle);
        break;
    }
    }
}

void rows_picture(struct encoder *e, const struct rows *rows) {
    first_line(e, rows);
    encode_label(e, "rows");
    end_line(e);
    for (int i = 0; i < rows->schedule.op_count; i++) {
        emit_op(e, rows, &rows->schedule.ops[i]);
    }
    one(e, "DEY");
    branch(e, "BNE", "rows");
    end_line(e);
}
