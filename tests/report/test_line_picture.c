/* Steps of many bands are drawn line by line, expected and seen, and what differs is marked. Positions by
 * arithmetic. */
#include "report/line_picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>

#include <cmocka.h>

enum { CELL = 8, X = 3, Y = 5, LINES = 6 };

static const struct colour paper = {1, 2, 3};

static uint32_t pixel(const struct canvas *canvas, int x, int y) {
    const uint8_t *at = &canvas->rgb[3 * (y * canvas->width + x)];
    return (uint32_t)at[0] << 16 | (uint32_t)at[1] << 8 | at[2];
}

static uint32_t of_cell(const struct canvas *canvas, int cell, int line, int at) {
    return pixel(canvas, X + cell * CELL + at, Y + line);
}

/* Line 0: cell 3 lit. Line 1: cells 0 and 39. The rest dark. */
static struct expectation expected(void) {
    struct expectation expectation = {.lines = LINES};
    for (int line = 0; line < LINES; line++) {
        expectation.sure[line] = CELLS_ALL;
    }
    expectation.lit[0] = UINT64_C(1) << 3;
    expectation.lit[1] = UINT64_C(1) | UINT64_C(1) << 39;
    return expectation;
}

static void lines_are_drawn_where_they_lie(void **state) {
    (void)state;
    struct canvas canvas = canvas_new(CELLS * CELL + 10, LINES + 10, paper);
    const struct expectation expectation = expected();
    assert_non_null(canvas.rgb);
    line_picture_expected(&canvas, X, Y, CELL, &expectation);
    const uint32_t lit = of_cell(&canvas, 3, 0, 0), dark = of_cell(&canvas, 4, 0, 0);
    assert_true(lit != dark);
    for (int cell = 0; cell < CELLS; cell++) {
        for (int line = 0; line < LINES; line++) {
            const uint32_t wanted = (expectation.lit[line] >> cell) & 1 ? lit : dark;
            assert_int_equal(of_cell(&canvas, cell, line, 0), wanted);
            assert_int_equal(of_cell(&canvas, cell, line, CELL - 1), wanted);
        }
    }
    canvas_free(&canvas);
}

static void differences_are_marked(void **state) {
    (void)state;
    static struct reading reading; /* large */
    struct canvas canvas = canvas_new(CELLS * CELL + 10, LINES + 10, paper);
    struct expectation expectation = expected();
    assert_non_null(canvas.rgb);
    reading = (struct reading){.lines = LINES};
    reading.lit[1] = expectation.lit[1] | UINT64_C(1) << 7; /* line 0: cell 3 missing; line 1: 7 surplus */
    reading.unclear[2] = UINT64_C(1) << 9;
    reading.lit[3] = UINT64_C(1) << 11; /* surplus, but the handbook does not vouch for it */
    expectation.sure[3] &= ~(UINT64_C(1) << 11);
    line_picture_seen(&canvas, X, Y, CELL, &expectation, &reading);
    const uint32_t lit = of_cell(&canvas, 39, 1, 0), dark = of_cell(&canvas, 20, 0, 0);
    int missing = 0, surplus = 0, vague = 0;
    for (int at = 0; at < CELL; at++) {
        missing += of_cell(&canvas, 3, 0, at) != dark;
        surplus += of_cell(&canvas, 7, 1, at) != lit;
        vague += of_cell(&canvas, 9, 2, at) != dark;
        assert_int_equal(of_cell(&canvas, 11, 3, at), lit);
    }
    assert_int_equal(missing, CELL / 2); /* dotted */
    assert_int_equal(surplus, CELL / 2); /* a quarter at each end */
    assert_int_equal(vague, CELL / 2);   /* the first half */
    assert_true(of_cell(&canvas, 7, 1, 0) != lit && of_cell(&canvas, 7, 1, CELL / 2) == lit);
    canvas_free(&canvas);
}

/* A field that ends early: the lines that are not there stay paper. */
static void short_fields_end_early(void **state) {
    (void)state;
    static struct reading reading;
    struct canvas canvas = canvas_new(CELLS * CELL + 10, LINES + 10, paper);
    const struct expectation expectation = expected();
    assert_non_null(canvas.rgb);
    reading = (struct reading){.lines = 2};
    line_picture_seen(&canvas, X, Y, CELL, &expectation, &reading);
    assert_int_equal(of_cell(&canvas, 5, 2, 0), 0x010203);
    canvas_free(&canvas);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_are_drawn_where_they_lie),
        cmocka_unit_test(differences_are_marked),
        cmocka_unit_test(short_fields_end_early),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
