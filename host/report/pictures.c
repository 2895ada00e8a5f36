#include "report/pictures.h"

#include "report/canvas.h"
#include "report/line_picture.h"
#include "report/png.h"
#include "report/rgb.h"
#include "slotjig/slate.h"

#include <math.h>
#include <stdio.h>

static const struct colour paper = {24, 26, 30}, ink = {225, 225, 225}, faint = {70, 74, 80},
                           cell_lit = {240, 240, 240}, cell_dark = {0, 0, 0}, missing = {255, 120, 0},
                           surplus = {0, 170, 255}, vague = {200, 90, 220};

static bool save(const char *path, struct canvas *canvas, struct problem *problem) {
    bool good = png_write(path, canvas->rgb, canvas->width, canvas->height, problem);
    canvas_free(canvas);
    return good;
}

static bool short_of_memory(const char *path, struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "%s: out of memory for the picture", path);
}

static bool encode(struct canvas *canvas, struct picture_bytes *picture, struct problem *problem) {
    const bool good =
        png_bytes(canvas->rgb, canvas->width, canvas->height, &picture->bytes, &picture->size, problem);
    canvas_free(canvas);
    return good;
}

static bool no_memory(struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "out of memory for a picture; close other programs");
}

struct row {
    uint64_t lit, unclear, expected, sure;
    bool marked;
};

static void mark_cell(struct canvas *canvas, int x, int y, int width, int height, const struct row *row,
                      int cell) {
    uint64_t bit = UINT64_C(1) << cell;
    if (!(row->sure & bit)) {
        return;
    }
    if (row->unclear & bit) {
        canvas_fill(canvas, x + 1, y + height / 2 - 1, width - 2, 3, vague);
    } else if ((row->lit ^ row->expected) & bit && row->expected & bit) {
        canvas_cross(canvas, x, y, width, height, missing);
    } else if ((row->lit ^ row->expected) & bit) {
        canvas_frame(canvas, x, y, width, height, surplus);
        canvas_frame(canvas, x + 1, y + 1, width - 2, height - 2, surplus);
    }
}

static void draw_row(struct canvas *canvas, int x, int y, int width, int height, const struct row *row) {
    canvas_frame(canvas, x - 1, y - 1, width * CELLS + 2, height + 2, faint);
    for (int i = 0; i < CELLS; i++) {
        bool lit = (row->lit >> i) & 1;
        canvas_fill(canvas, x + i * width, y, width, height, lit ? cell_lit : cell_dark);
    }
    canvas_fill(canvas, x + CELLS / 2 * width, y - 1, 1, height + 2, faint);
    for (int i = 0; i < CELLS && row->marked; i++) {
        mark_cell(canvas, x + i * width, y, width, height, row, i);
    }
}

static struct row seen_row(const struct step_result *step) {
    return (struct row){.lit = step->seen,
                        .unclear = step->fields > 0 ? step->unclear : CELLS_ALL,
                        .expected = step->expected,
                        .sure = step->sure,
                        .marked = true};
}

enum { LABEL = 340, CELL = 8, ROW = 14, PITCH = 20, GAP = 24, HEAD = 40 };

static void row_label(struct canvas *canvas, int y, size_t index, const char *name, const char *verdict) {
    char text[128];
    snprintf(text, sizeof text, "%3zu %s %s", index, name, verdict);
    canvas_text(canvas, 8, y + 2, 2, text, ink);
}

static void legend(struct canvas *canvas, int x, int y) {
    struct row row = {.expected = 1, .sure = 7, .lit = 2, .unclear = 4, .marked = true};
    static const char *const words[] = {"missing", "surplus", "unclear"};
    for (int i = 0; i < 3; i++) {
        canvas_frame(canvas, x - 1, y - 1, 14, 14, faint);
        mark_cell(canvas, x, y, 12, 12, &row, i);
        canvas_text(canvas, x + 18, y + 1, 2, words[i], ink);
        x += 100;
    }
}

/* Canvas lines from a step's row to the next one's. */
static int pitch_of(const struct plan *plan, size_t index) {
    return line_picture_wanted(&plan->steps[index]) ? standard_plan_lines(plan->standard) + PITCH - ROW
                                                    : PITCH;
}

static int pitch_of_all(const struct plan *plan) {
    int sum = 0;
    for (size_t i = 0; i < plan->step_count; i++) {
        sum += pitch_of(plan, i);
    }
    return sum;
}

/* Expected beside seen. The lines of a field are known of the one that was kept; of another step what was
 * made of its lines. */
static void draw_step(struct canvas *canvas, int y, int second, const struct report *report, size_t index,
                      const struct reading *kept) {
    const struct step_result *step = &report->result->steps[index];
    const struct step *planned = &report->plan->steps[index];
    const struct row expected = {.lit = step->expected}, seen = seen_row(step);
    struct expectation expectation;
    if (line_picture_wanted(planned)) {
        expect_step(planned, standard_plan_lines(report->plan->standard), &expectation);
        line_picture_expected(canvas, LABEL, y, CELL, &expectation);
    } else {
        draw_row(canvas, LABEL, y, CELL, ROW, &expected);
    }
    if (line_picture_wanted(planned) && kept != NULL && kept->slate.value == index) {
        line_picture_seen(canvas, second, y, CELL, &expectation, kept);
    } else {
        draw_row(canvas, second, y, CELL, ROW, &seen);
    }
}

bool picture_steps(const char *path, const struct report *report, const struct reading *kept,
                   struct problem *problem) {
    const struct result *result = report->result;
    int row_width = CELLS * CELL, second = LABEL + row_width + GAP, y = HEAD;
    struct canvas canvas = canvas_new(second + row_width + 10, HEAD + pitch_of_all(report->plan) + 10, paper);
    if (canvas.rgb == NULL) {
        return short_of_memory(path, problem);
    }
    canvas_text(&canvas, LABEL, 8, 2, "expected", ink);
    canvas_text(&canvas, second, 8, 2, "seen", ink);
    legend(&canvas, second, 22);
    for (size_t i = 0; i < result->step_count; i++) {
        const enum verdict verdict = result->steps[i].verdict;
        row_label(&canvas, y, i, report->plan->steps[i].name,
                  verdict == VERDICT_PASS   ? ""
                  : verdict == VERDICT_FAIL ? "- fail"
                                            : "- ?");
        draw_step(&canvas, y, second, report, i, kept);
        y += pitch_of(report->plan, i);
    }
    return save(path, &canvas, problem);
}

/* rgb is NULL when memory is short. */
static struct canvas draw_one_step(const struct report *report, size_t index) {
    enum { SIZE = 18, TALL = 60 };
    const struct step_result *step = &report->result->steps[index];
    struct canvas canvas = canvas_new(CELLS * SIZE + 20, 2 * TALL + 110, paper);
    if (canvas.rgb == NULL) {
        return canvas;
    }
    struct row expected = {.lit = step->expected}, seen = seen_row(step);
    char text[128];
    int used = snprintf(text, sizeof text, "step %zu: %s", index, report->plan->steps[index].name);
    if (report->plan->steps[index].band_count > 1 && step->wrong_line >= 0) {
        snprintf(text + used, sizeof text - (size_t)used, ", line %d", step->wrong_line);
    }
    canvas_text(&canvas, 10, 8, 3, text, ink);
    canvas_text(&canvas, 10, 32, 2, "expected", ink);
    draw_row(&canvas, 10, 46, SIZE, TALL, &expected);
    snprintf(text, sizeof text, "seen (offset %.1f clocks)", fabs(step->offset) < 0.05 ? 0.0 : step->offset);
    canvas_text(&canvas, 10, 46 + TALL + 8, 2, text, ink);
    draw_row(&canvas, 10, 68 + TALL, SIZE, TALL, &seen);
    legend(&canvas, 12, 68 + 2 * TALL + 14);
    return canvas;
}

bool picture_step(const char *path, const struct report *report, size_t index, struct problem *problem) {
    struct canvas canvas = draw_one_step(report, index);
    return canvas.rgb != NULL ? save(path, &canvas, problem) : short_of_memory(path, problem);
}

bool picture_step_bytes(const struct report *report, size_t index, struct picture_bytes *picture,
                        struct problem *problem) {
    struct canvas canvas = draw_one_step(report, index);
    *picture = (struct picture_bytes){0};
    return canvas.rgb != NULL ? encode(&canvas, picture, problem) : no_memory(problem);
}

bool picture_expected(const char *path, const struct plan *plan, struct problem *problem) {
    int lines = standard_plan_lines(plan->standard);
    struct canvas canvas = canvas_new(LABEL + CELLS * CELL + 10, 10 + pitch_of_all(plan), paper);
    if (canvas.rgb == NULL) {
        return short_of_memory(path, problem);
    }
    int y = 5;
    for (size_t i = 0; i < plan->step_count; y += pitch_of(plan, i++)) {
        struct expectation expectation;
        expect_step(&plan->steps[i], lines, &expectation);
        int line = 0;
        row_label(&canvas, y, i, plan->steps[i].name, "");
        if (line_picture_wanted(&plan->steps[i])) {
            line_picture_expected(&canvas, LABEL, y, CELL, &expectation);
            continue;
        }
        for (size_t b = 0; b < plan->steps[i].band_count; b++) { /* bands share the row's height */
            struct row row = {.lit = expectation.lit[line]};
            int from = ROW * line / lines, to = ROW * (line + plan->steps[i].bands[b].lines) / lines;
            draw_row(&canvas, LABEL, y + from, CELL, to > from ? to - from : 1, &row);
            line += plan->steps[i].bands[b].lines;
        }
    }
    return save(path, &canvas, problem);
}

/* Where on the canvas something of the field's raster lies: each of its lines is `rows` lines of the canvas,
 * and with a slant each line lies further to the right than the one above. */
struct drawing {
    struct canvas *canvas;
    const struct reading *reading;
    int rows;
};

/* line: from the top of the slate's band, whose middle `left` is about. */
static int place_x(const struct drawing *drawing, double clock, int line) {
    const struct raster *raster = &drawing->reading->raster;
    const double middle = SLATE_BAND_LINES / 2.0;
    return (int)lround(raster->left + raster->clock_width * clock + raster->slant * (line - middle));
}

static int place_y(const struct drawing *drawing, int line) {
    return (int)lround(drawing->reading->raster.top + line) * drawing->rows;
}

/* One upright edge over some lines. */
static void draw_edge(const struct drawing *drawing, double clock, int line, int end) {
    for (; line < end; line++) {
        canvas_fill(drawing->canvas, place_x(drawing, clock, line), place_y(drawing, line), 1, drawing->rows,
                    surplus);
    }
}

static void draw_across(const struct drawing *drawing, int line) {
    const int left = place_x(drawing, 0, line), right = place_x(drawing, PICTURE_CLOCKS, line);
    canvas_fill(drawing->canvas, left, place_y(drawing, line), right - left + 1, 1, surplus);
}

static void draw_raster(const struct drawing *drawing) {
    const int below = SLATE_LINES, bottom = SLATE_LINES + drawing->reading->lines;
    draw_edge(drawing, 0, 0, bottom);
    draw_edge(drawing, PICTURE_CLOCKS, 0, bottom);
    draw_across(drawing, 0);
    draw_across(drawing, below);
    draw_across(drawing, bottom);
    for (int i = 0; i <= CELLS; i++) {
        const int length = i % 4 == 0 ? 12 : 5;
        draw_edge(drawing, CELL_CLOCKS * i, below, below + length);
        draw_edge(drawing, CELL_CLOCKS * i, bottom - length, bottom);
    }
}

/* Lit: a ring; dark: a dot; unclear: a bar. Every 16th line is enough for the eye. */
static void draw_cells(const struct drawing *drawing) {
    const struct reading *reading = drawing->reading;
    for (int line = 8; line < reading->lines; line += 16) {
        const int y = place_y(drawing, SLATE_LINES + line);
        for (int i = 0; i < CELLS; i++) {
            const int x = place_x(drawing, CELL_CLOCKS * i + 2, SLATE_LINES + line);
            if ((reading->unclear[line] >> i) & 1) {
                canvas_fill(drawing->canvas, x - 5, y, 10, 2, vague);
            } else if ((reading->lit[line] >> i) & 1) {
                canvas_frame(drawing->canvas, x - 4, y - 4, 8, 8, missing);
            } else {
                canvas_fill(drawing->canvas, x - 1, y - 1, 2, 2, missing);
            }
        }
    }
}

static struct drawing drawing_of(struct canvas *canvas, const struct field *field,
                                 const struct reading *reading) {
    return (struct drawing){canvas, reading,
                            canvas->height > field->height ? canvas->height / field->height : 1};
}

void picture_draw_field(struct canvas *canvas, const struct field *field, const struct reading *reading) {
    const struct drawing drawing = drawing_of(canvas, field, reading);
    rgb_from_field(field, drawing.rows, canvas->rgb);
    if (reading->state == FIELD_READ) {
        draw_raster(&drawing);
        draw_cells(&drawing);
    }
}

void picture_mark_cells(struct canvas *canvas, const struct field *field, const struct reading *reading,
                        uint64_t cells) {
    const struct drawing drawing = drawing_of(canvas, field, reading);
    const int below = SLATE_LINES, bottom = SLATE_LINES + reading->lines;
    for (int cell = 0; cell < CELLS; cell++) {
        for (int line = below; line < bottom && (cells >> cell & 1); line++) {
            const int left = place_x(&drawing, CELL_CLOCKS * cell, line);
            const int right = place_x(&drawing, CELL_CLOCKS * (cell + 1), line);
            const bool end = line < below + 2 || line >= bottom - 2;
            canvas_fill(canvas, left - 1, place_y(&drawing, line), end ? right - left + 2 : 3, drawing.rows,
                        vague);
            canvas_fill(canvas, right - 1, place_y(&drawing, line), 3, drawing.rows, vague);
        }
    }
}

/* rgb is NULL when memory is short. */
static struct canvas draw_whole_field(const struct field *field, const struct reading *reading) {
    const int rows = field->height <= FIELD_LINES_MAX ? 2 : 1;
    struct canvas canvas = canvas_new(field->width, field->height * rows, paper);
    if (canvas.rgb != NULL) {
        picture_draw_field(&canvas, field, reading);
    }
    return canvas;
}

bool picture_field(const char *path, const struct field *field, const struct reading *reading,
                   struct problem *problem) {
    struct canvas canvas = draw_whole_field(field, reading);
    return canvas.rgb != NULL ? save(path, &canvas, problem) : short_of_memory(path, problem);
}

bool picture_field_bytes(const struct field *field, const struct reading *reading,
                         struct picture_bytes *picture, struct problem *problem) {
    struct canvas canvas = draw_whole_field(field, reading);
    *picture = (struct picture_bytes){0};
    return canvas.rgb != NULL ? encode(&canvas, picture, problem) : no_memory(problem);
}
