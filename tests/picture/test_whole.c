/* The one colour of a picture. What is painted says what is right: levels to half a code, for codes are whole
 * [A]. The slate is draw.h's; the picture below it is painted over here, blank and all. */
#include "draw.h"
#include "picture/picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>

#include <cmocka.h>

#define HALF_CODE (0.5 / 219 + 1e-9)

struct paint {
    double level;    /* 0 black, 1 white */
    double carrier;  /* codes of colour left in the luma */
    double hum;      /* codes, a whole period over the picture and a half; of the blank too */
    double blank;    /* level of the blank beside the picture */
    uint64_t strays; /* cells that are white */
    int cb, cr;      /* codes away from grey */
    int white_cb;    /* of the slate's white */
    int chroma_y;
};

static uint8_t rounded(double code) {
    return (uint8_t)fmax(0, fmin(255, floor(code + 0.5)));
}

/* Cycles of subcarrier a clock: NTSC's is the colour clock; PAL's is 1.25 times it [S SMPTE 170M; A: 285 on
 * 228]
 */
static double cycles(enum standard standard) {
    return standard == STANDARD_NTSC ? 1 : 1.25;
}

static void paint_luma(const struct scene *scene, const struct paint *paint, struct field *field,
                       uint8_t *luma) {
    const int first = scene->top + SLATE_LINES, lines = standard_plan_lines(scene->standard);
    for (int line = first; line < first + lines; line++) {
        const double hum = paint->hum * sin(2 * M_PI * 1.5 * (line - first) / lines);
        for (int x = 0; x < scene->width; x++) {
            const double clock = (x - scene->left) / scene->clock_width;
            const bool inside = clock >= 0 && clock < PICTURE_CLOCKS;
            const bool stray = inside && (paint->strays >> (int)(clock / CELL_CLOCKS) & 1);
            const double level = stray ? 1 : inside ? paint->level : paint->blank;
            double code = scene->black + level * (scene->white - scene->black) + hum;
            code += inside ? paint->carrier * sin(2 * M_PI * clock * cycles(scene->standard) + 0.7) : 0;
            luma[line * field->stride + (ptrdiff_t)x * field->step] = rounded(code);
        }
    }
}

static void paint_plane(const struct scene *scene, const struct field *field, uint8_t *plane, int width,
                        int code, int white) {
    const int first = scene->top + SLATE_LINES;
    for (int y = 0; y <= scene->height >> field->chroma_y; y++) {
        const bool picture = y << field->chroma_y >= first;
        for (int x = 0; x < width; x++) {
            const double clock = (2 * x + 0.5 - scene->left) / scene->clock_width;
            const bool inside = clock > 0 && clock < PICTURE_CLOCKS;
            plane[y * width + x] = (uint8_t)(128 + (!inside ? 0 : picture ? code : white));
        }
    }
}

static void read_paint(enum standard standard, const struct paint *paint, struct reading *out,
                       struct detail *detail) {
    const struct picture_options options = {.standard = standard, .whole = true};
    struct scene scene = scene_usual(standard);
    struct picture *picture = picture_new(&options);
    uint8_t *memory;
    struct field field = draw_field(&scene, &memory);
    const int width = scene.width / 2;
    uint8_t *cb = malloc((size_t)(width * (scene.height + 1))),
            *cr = malloc((size_t)(width * (scene.height + 1)));
    field.chroma_x = 1;
    field.chroma_y = paint->chroma_y;
    field.frame_lines = 2;
    field.cb = (struct plane){cb, width, 1};
    field.cr = (struct plane){cr, width, 1};
    paint_luma(&scene, paint, &field, memory);
    paint_plane(&scene, &field, cb, width, paint->cb, paint->white_cb);
    paint_plane(&scene, &field, cr, width, paint->cr, 0);
    picture_read(picture, &field, out);
    assert_int_equal(out->state, FIELD_READ);
    assert_non_null(out->detail);
    *detail = *out->detail;
    free(cb);
    free(cr);
    free(memory);
    picture_free(picture);
}

static void wants_level(const struct detail *detail, double level, double within) {
    if (fabs(detail->whole.level - level) > within) {
        fail_msg("level %.5f, painted %.5f, bound %.5f", detail->whole.level, level, within);
    }
}

static void test_levels(void **state) {
    (void)state;
    for (int i = 0; i <= 14; i++) {
        const struct paint paint = {.level = i / 14.0, .cb = 3 * i, .cr = 20 - 5 * i};
        struct reading reading;
        struct detail detail;
        read_paint(i % 2 == 0 ? STANDARD_NTSC : STANDARD_PAL, &paint, &reading, &detail);
        wants_level(&detail, paint.level, HALF_CODE);
        assert_float_equal((float)detail.whole.cb, (float)paint.cb, 1e-4F);
        assert_float_equal((float)detail.whole.cr, (float)paint.cr, 1e-4F);
        assert_true(detail.whole_spread < 1e-6); /* all lines alike */
        assert_true(detail.whole.count >= 30);
    }
}

/* The slate's white has a colour of its own, and all is away from it: the blank too. */
static void test_white(void **state) {
    (void)state;
    const struct paint paint = {.level = 0.5, .cb = 30, .white_cb = 12};
    struct reading reading;
    struct detail detail;
    read_paint(STANDARD_NTSC, &paint, &reading, &detail);
    assert_float_equal((float)detail.whole.cb, 18, 1e-4F);
    assert_float_equal((float)reading.beside_picture.cb, -12, 1e-4F);
}

/* Stripes of a subcarrier: as good as gone, where one clock alone is off by all of it. */
static void test_carrier(void **state) {
    (void)state;
    const struct paint paint = {.level = 0.5, .carrier = 40};
    struct reading reading;
    struct detail detail;
    read_paint(STANDARD_NTSC, &paint, &reading, &detail);
    wants_level(&detail, 0.5, 1.0 / 219);
    read_paint(STANDARD_PAL, &paint, &reading, &detail);
    wants_level(&detail, 0.5, 1.0 / 219);
}

/* As many cells as a data line spoils: six of forty, and a register's other ones. */
static void test_strays(void **state) {
    (void)state;
    const struct paint paint = {.level = 0.25, .strays = UINT64_C(0x0808080808) | UINT64_C(0x20)};
    struct reading reading;
    struct detail detail;
    read_paint(STANDARD_NTSC, &paint, &reading, &detail);
    wants_level(&detail, 0.25, HALF_CODE);
}

/* Hum moves the blank as it moves the picture: what lies between them stays. */
static void test_hum(void **state) {
    (void)state;
    const struct paint paint = {.level = 0.5, .hum = 20};
    struct reading reading;
    struct detail detail;
    read_paint(STANDARD_NTSC, &paint, &reading, &detail);
    assert_true(fabs(detail.whole.level - 0.5) > 0.01); /* by itself it is off */
    assert_float_equal((float)(detail.whole.level - reading.beside_picture.level), 0.5F, 2.0F / 219);
    /* rms of a sine over one and a half periods, of lines 8 to the last but 8: about 0.67 [A: 20 / 219 *
     * 0.67]
     */
    assert_float_equal((float)detail.whole_spread, 20.0F / 219 * 0.708F, 0.003F);
}

static void test_shared(void **state) {
    (void)state;
    struct paint paint = {.level = 0.5, .cb = 25, .cr = -9};
    struct reading reading;
    struct detail detail;
    read_paint(STANDARD_NTSC, &paint, &reading, &detail);
    assert_false(detail.shares_chroma);
    paint.chroma_y = 1;
    read_paint(STANDARD_NTSC, &paint, &reading, &detail);
    assert_true(detail.shares_chroma);
    assert_float_equal((float)detail.whole.cb, 25, 1e-4F);
    assert_float_equal((float)detail.whole.cr, -9, 1e-4F);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_levels), cmocka_unit_test(test_white), cmocka_unit_test(test_carrier),
        cmocka_unit_test(test_strays), cmocka_unit_test(test_hum),   cmocka_unit_test(test_shared),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
