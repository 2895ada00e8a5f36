/* A matrix of steps by consoles: in a cell the glyph of how its runs ended and their worst margin. The
 * consoles stand in tables of BLOCK columns, side by side on a screen and below each other on paper, so that
 * nothing is cut off there. Rows of steps that passed everywhere are folded away. */
#include "report/html_matrix.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK = 12, NAME_SHOWN = 24, OPEN_MOST = 60, ROWS_MOST = 1000, PLANS_MOST = 16 };

struct cell {
    int passed, failed, other;      /* runs */
    double margin;                  /* the worst; NaN: none */
    const struct record_run *shown; /* that stands for it: the first that did not pass */
    size_t same; /* the first column that shows the very same of the step; its row is this one's too */
};

struct matrix {
    const struct shelf *shelf;
    const struct record_plan *plan;
    int number;
    size_t step_count, column_count;
    size_t *columns;    /* consoles */
    struct cell *cells; /* [step * column_count + column] */
};

/* ---- filling ---- */

static bool of_plan(const struct record_run *run, const struct record_plan *plan) {
    return run->plan == plan || strcmp(run->plan->id, plan->id) == 0;
}

static void add_run(struct matrix *matrix, size_t column, const struct record_run *run) {
    for (size_t i = 0; i < matrix->step_count && i < run->step_count && run->steps != NULL; i++) {
        struct cell *cell = &matrix->cells[i * matrix->column_count + column];
        const struct step_result *step = &run->steps[i];
        cell->passed += step->verdict == VERDICT_PASS;
        cell->failed += step->verdict == VERDICT_FAIL;
        cell->other += step->verdict == VERDICT_INCONCLUSIVE;
        if (step->fields > 0) {
            cell->margin = fmin(cell->margin, step->margin);
        }
        const bool tells =
            step->verdict == VERDICT_FAIL || (step->verdict != VERDICT_PASS && step->fields > 0);
        if (tells && (cell->shown == NULL ||
                      (cell->shown->steps[i].verdict != VERDICT_FAIL && step->verdict == VERDICT_FAIL))) {
            cell->shown = run;
        }
    }
}

static void fill(struct matrix *matrix, size_t plan) {
    for (size_t i = 0; i < matrix->step_count * matrix->column_count; i++) {
        matrix->cells[i].margin = NAN;
    }
    for (size_t column = 0; column < matrix->column_count; column++) {
        const struct suite *suite = shelf_place(matrix->shelf, plan, matrix->columns[column])->suite;
        for (size_t i = 0; i < suite->run_count; i++) {
            if (of_plan(&suite->runs[i], matrix->plan)) {
                add_run(matrix, column, &suite->runs[i]);
            }
        }
    }
}

/* Consoles that have runs of this very plan. */
static void find_columns(struct matrix *matrix, size_t plan) {
    for (size_t console = 0; console < matrix->shelf->console_count; console++) {
        const struct suite *suite = shelf_place(matrix->shelf, plan, console)->suite;
        for (size_t i = 0; i < suite->run_count; i++) {
            if (of_plan(&suite->runs[i], matrix->plan)) {
                matrix->columns[matrix->column_count++] = console;
                break;
            }
        }
    }
}

static enum standing_kind kind_of(const struct cell *cell) {
    return cell->failed > 0 && cell->passed > 0  ? STANDING_UNSTEADY
           : cell->failed > 0                    ? STANDING_FAIL
           : cell->passed > 0 && cell->other > 0 ? STANDING_UNSTEADY
           : cell->passed > 0                    ? STANDING_PASS
           : cell->other > 0                     ? STANDING_INCONCLUSIVE
                                                 : STANDING_OPEN;
}

static bool passed_everywhere(const struct matrix *matrix, size_t step) {
    for (size_t column = 0; column < matrix->column_count; column++) {
        if (kind_of(&matrix->cells[step * matrix->column_count + column]) != STANDING_PASS) {
            return false;
        }
    }
    return true;
}

static size_t rows_of(const struct matrix *matrix, bool passed) {
    size_t rows = 0;
    for (size_t step = 0; step < matrix->step_count; step++) {
        rows += passed_everywhere(matrix, step) == passed;
    }
    return rows;
}

/* ---- the tables ---- */

void html_numbered(struct html *html, const struct shelf *shelf, size_t console) {
    char name[4 * NAME_SHOWN + 1];
    const char *whole = shelf->consoles[console]->name;
    size_t length = strnlen(whole, NAME_SHOWN);
    while (length > 0 && ((unsigned char)whole[length] & 0xC0) == 0x80) {
        length--; /* never in the middle of a character */
    }
    snprintf(name, sizeof name, "%.*s", (int)length, whole);
    html_put(html, "<span class=q>%zu</span> ", console + 1);
    html_name(html, name, "without a name");
    if (whole[length] != '\0') {
        html_put(html, "\u2026");
    }
}

static void cell(struct html *html, const struct matrix *matrix, size_t step, size_t column) {
    const struct cell *at = &matrix->cells[step * matrix->column_count + column];
    const struct html_mark *mark = &html_marks[kind_of(at)];
    html_put(html, "<td class=%s>", mark->class);
    if (at->shown != NULL) {
        html_put(html, "<a href=#d%d-%zu-%zu>", matrix->number, step, matrix->columns[at->same] + 1);
    }
    html_put(html, "%s", mark->glyph);
    if (html_known(at->margin)) {
        html_put(html, " %.2f", at->margin);
    }
    html_put(html, "%s", at->shown != NULL ? "</a>" : "");
}

static void block(struct html *html, const struct matrix *matrix, size_t first, bool passed) {
    const size_t end = first + BLOCK < matrix->column_count ? first + BLOCK : matrix->column_count;
    html_put(html, "<table><caption>%s, consoles %zu to %zu</caption><thead><tr><th scope=col>Step",
             passed ? "Steps that passed everywhere" : "Steps that did not pass everywhere",
             matrix->columns[first] + 1, matrix->columns[end - 1] + 1);
    for (size_t column = first; column < end; column++) {
        html_put(html, "<th scope=col data-console=%zu>", matrix->columns[column] + 1);
        html_numbered(html, matrix->shelf, matrix->columns[column]);
    }
    html_put(html, "<tbody>\n");
    for (size_t step = 0; step < matrix->step_count; step++) {
        if (passed_everywhere(matrix, step) != passed) {
            continue;
        }
        html_put(html, "<tr data-step=%zu><th scope=row>%zu ", step, step);
        html_name(html, matrix->plan->steps != NULL ? matrix->plan->steps[step].name : "", "");
        for (size_t column = first; column < end; column++) {
            cell(html, matrix, step, column);
        }
        html_put(html, "\n");
    }
    html_put(html, "</table>\n");
}

static void tables(struct html *html, const struct matrix *matrix, bool passed) {
    html_put(html, "<div class=\"s h\" role=region tabindex=0 aria-label=\"Matrix %d: ", ++html->numbers);
    html_say(html, "%s of plan %s",
             passed ? "steps that passed everywhere" : "steps that did not pass everywhere",
             matrix->plan->name);
    html_put(html, "\"><div class=m>\n");
    for (size_t first = 0; first < matrix->column_count; first += BLOCK) {
        block(html, matrix, first, passed);
    }
    html_put(html, "</div></div>\n");
}

/* ---- what differs ---- */

static const struct step_result *shown_step(const struct cell *cell, size_t step) {
    return &cell->shown->steps[step];
}

static bool is_same(const struct step_result *a, const struct step_result *b) {
    return a->verdict == b->verdict && a->expected == b->expected && a->sure == b->sure &&
           a->seen == b->seen && a->unclear == b->unclear && a->wrong_line == b->wrong_line &&
           (a->fields > 0) == (b->fields > 0);
}

/* Consoles that show the very same of a step share a row. What there is no room for loses its link. Returns
 * the rows. */
static size_t find_same(struct matrix *matrix, size_t *left_out) {
    size_t rows = 0;
    for (size_t i = 0; i < matrix->step_count * matrix->column_count; i++) {
        const size_t step = i / matrix->column_count;
        struct cell *row = &matrix->cells[step * matrix->column_count], *cell = &matrix->cells[i];
        cell->same = i % matrix->column_count;
        if (cell->shown == NULL) {
            continue;
        }
        for (size_t column = 0; column < cell->same; column++) {
            if (row[column].shown != NULL &&
                is_same(shown_step(&row[column], step), shown_step(cell, step))) {
                cell->same = row[column].same;
                break;
            }
        }
        if (cell->same == i % matrix->column_count) {
            if (rows == ROWS_MOST) {
                cell->shown = NULL;
                ++*left_out;
            } else {
                rows++;
            }
        }
    }
    return rows;
}

static void say_consoles(struct html *html, const struct html_who *who) {
    const struct matrix *matrix = who->what;
    const struct cell *row = &matrix->cells[who->number / matrix->column_count * matrix->column_count];
    const size_t same = who->number % matrix->column_count;
    for (size_t column = same; column < matrix->column_count; column++) {
        if (row[column].shown != NULL && row[column].same == same) {
            html_put(html, "%s", column > same ? ", " : "");
            html_numbered(html, matrix->shelf, matrix->columns[column]);
        }
    }
}

static void details(struct html *html, const struct matrix *matrix, size_t rows, size_t left_out) {
    char summary[96];
    if (rows == 0 || matrix->plan->steps == NULL) {
        return;
    }
    snprintf(summary, sizeof summary, "Expected and seen: the steps that did not pass, %zu picture%s", rows,
             rows == 1 ? "" : "s");
    html_details(html, rows <= OPEN_MOST, summary);
    html_cells_key(html);
    html_table(
        html,
        "As the first run saw it in which the step did not pass; consoles that show the same share a row",
        "Step|Consoles|Verdict|>Margin|Expected above seen|Differs");
    for (size_t i = 0; i < matrix->step_count * matrix->column_count; i++) {
        const size_t step = i / matrix->column_count, column = i % matrix->column_count;
        if (matrix->cells[i].shown != NULL && matrix->cells[i].same == column) {
            char id[64];
            snprintf(id, sizeof id, "d%d-%zu-%zu", matrix->number, step, matrix->columns[column] + 1);
            const struct html_who who = {.id = id, .say = say_consoles, .what = matrix, .number = i};
            html_step_row(html, matrix->cells[i].shown, step, &who);
        }
    }
    html_table_end(html);
    if (left_out > 0) {
        html_put(html,
                 "<p>%zu more are left out: a page holds %d of them. Their runs' own pages show them.</p>\n",
                 left_out, ROWS_MOST);
    }
    html_details_end(html);
}

/* ---- all of it ---- */

static void write_matrix(struct html *html, struct matrix *matrix) {
    size_t left_out = 0;
    const size_t passed = rows_of(matrix, true), other = rows_of(matrix, false);
    char summary[96];
    html_put(html, "<h3>Steps by consoles, ");
    html_say(html, "%s", standard_table[matrix->plan->standard].name);
    html_put(html,
             "</h3>\n<p class=key>In a cell: how all runs of that console ended, and the worst margin. ");
    for (int kind = STANDING_PASS; kind < STANDING_TROUBLE; kind++) {
        html_mark(html, (enum standing_kind)kind);
        html_put(html, " ");
    }
    html_mark(html, STANDING_OPEN);
    html_put(html, "</p>\n");
    if (other > 0) {
        const size_t pictures = find_same(matrix, &left_out);
        tables(html, matrix, false);
        details(html, matrix, pictures, left_out);
    }
    if (passed > 0) {
        snprintf(summary, sizeof summary, "%zu step%s that passed everywhere", passed,
                 passed == 1 ? "" : "s");
        html_details(html, false, summary);
        tables(html, matrix, true);
        html_details_end(html);
    }
}

static void one_plan(struct html *html, const struct shelf *shelf, size_t plan,
                     const struct record_plan *record) {
    struct matrix matrix = {.shelf = shelf,
                            .plan = record,
                            .number = ++html->numbers,
                            .step_count = record->step_count,
                            .columns = calloc(shelf->console_count + 1, sizeof *matrix.columns)};
    if (matrix.columns != NULL) {
        find_columns(&matrix, plan);
        matrix.cells = calloc(matrix.step_count * matrix.column_count + 1, sizeof *matrix.cells);
    }
    if (matrix.cells != NULL) {
        fill(&matrix, plan);
        write_matrix(html, &matrix);
    }
    free(matrix.columns);
    free(matrix.cells);
}

void html_matrices(struct html *html, const struct shelf *shelf, size_t plan) {
    const struct record_plan *shown[PLANS_MOST];
    size_t count = 0;
    for (size_t console = 0; console < shelf->console_count; console++) {
        const struct suite *suite = shelf_place(shelf, plan, console)->suite;
        for (size_t i = 0; i < suite->run_count; i++) {
            const struct record_run *run = &suite->runs[i];
            size_t at = 0;
            while (at < count && !of_plan(run, shown[at])) {
                at++;
            }
            if (at == count && count < PLANS_MOST && run->plan->step_count > 0) {
                shown[count++] = run->plan;
                one_plan(html, shelf, plan, run->plan);
            }
        }
    }
}
