#include "report/line_picture.h"

enum { BANDS_IN_A_ROW = 4 };

static const struct colour faint = {70, 74, 80}, lit = {240, 240, 240}, dark = {0, 0, 0},
                           missing = {255, 120, 0}, surplus = {0, 170, 255}, vague = {200, 90, 220};

bool line_picture_wanted(const struct step *step) {
    return step->band_count > BANDS_IN_A_ROW;
}

static void frame(struct canvas *canvas, int x, int y, int cell_width, int lines) {
    canvas_frame(canvas, x - 1, y - 1, cell_width * CELLS + 2, lines + 2, faint);
}

static void draw_line(struct canvas *canvas, int x, int y, int cell_width, uint64_t cells) {
    for (int i = 0; i < CELLS; i++) {
        canvas_fill(canvas, x + i * cell_width, y, cell_width, 1, (cells >> i) & 1 ? lit : dark);
    }
}

void line_picture_expected(struct canvas *canvas, int x, int y, int cell_width,
                           const struct expectation *expectation) {
    frame(canvas, x, y, cell_width, expectation->lines);
    for (int line = 0; line < expectation->lines; line++) {
        draw_line(canvas, x, y + line, cell_width, expectation->lit[line]);
    }
}

static void mark_cell(struct canvas *canvas, int x, int y, int width, bool is_unclear, bool is_missing) {
    if (is_unclear) {
        canvas_fill(canvas, x, y, width / 2, 1, vague);
    } else if (is_missing) {
        for (int at = y % 2; at < width; at += 2) {
            canvas_fill(canvas, x + at, y, 1, 1, missing);
        }
    } else {
        canvas_fill(canvas, x, y, width / 4, 1, surplus);
        canvas_fill(canvas, x + width - width / 4, y, width / 4, 1, surplus);
    }
}

void line_picture_seen(struct canvas *canvas, int x, int y, int cell_width,
                       const struct expectation *expectation, const struct reading *reading) {
    const int lines = reading->lines < expectation->lines ? reading->lines : expectation->lines;
    frame(canvas, x, y, cell_width, expectation->lines);
    for (int line = 0; line < lines; line++) {
        const uint64_t unclear = reading->unclear[line];
        const uint64_t differs =
            ((reading->lit[line] ^ expectation->lit[line]) | unclear) & expectation->sure[line];
        draw_line(canvas, x, y + line, cell_width, reading->lit[line]);
        for (int i = 0; i < CELLS; i++) {
            if ((differs >> i) & 1) {
                mark_cell(canvas, x + i * cell_width, y + line, cell_width, (unclear >> i) & 1,
                          (expectation->lit[line] >> i) & 1);
            }
        }
    }
}
