/*
 * Picture files. PNGs are written by libpng itself, in each of its kinds of pixel; PBM bytes are laid out by
 * hand after netpbm's description of the format [S]. Codes: luminance by BT.601's luma in eight steps [A],
 * hue by angle, 24 degrees each from the -Cb axis on [H 4.0 for the count, M for where they begin].
 */
#include "plan/art.h"
#include "rom/scratch.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <png.h>
#include <string.h>

enum { ROWS = 168 };

static char folder[SCRATCH_MAX], path[SCRATCH_MAX + 64];
static struct art art;

static int start(void **state) {
    (void)state;
    scratch_make(folder);
    scratch_path(folder, "art", path);
    return 0;
}

static int stop(void **state) {
    (void)state;
    static const char *const names[] = {"art"};
    scratch_remove(folder, names, 1);
    return 0;
}

static bool opens(const void *bytes, size_t size, struct problem *problem) {
    scratch_write(folder, "art", bytes, size);
    return art_open(path, ROWS, &art, problem);
}

static void assert_opens(const void *bytes, size_t size) {
    struct problem problem = {0};
    if (!opens(bytes, size, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static void assert_refused(const void *bytes, size_t size, const char *text) {
    struct problem problem = {0};
    if (opens(bytes, size, &problem)) {
        fail_msg("taken, not refused for '%s'", text);
    }
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, text) == NULL || strstr(problem.text, path) == NULL) {
        fail_msg("'%s' lacks '%s', or the file's name", problem.text, text);
    }
}

/* ---- PNG ---- */

static size_t png_of(const void *pixels, unsigned format, const void *map, unsigned entries, unsigned width,
                     unsigned height, uint8_t *bytes, size_t room) {
    png_image image = {.version = PNG_IMAGE_VERSION,
                       .width = width,
                       .height = height,
                       .format = format,
                       .colormap_entries = entries};
    png_alloc_size_t size = room;
    assert_true(png_image_write_to_memory(&image, bytes, &size, 0, pixels, 0, map));
    return size;
}

static uint8_t file[200000];

static size_t rgb_png(const uint8_t *rgb, unsigned width, unsigned height) {
    return png_of(rgb, PNG_FORMAT_RGB, NULL, 0, width, height, file, sizeof file);
}

static void paint(uint8_t *rgb, int row, int cell, int red, int green, int blue) {
    uint8_t *pixel = rgb + 3 * ((size_t)row * CELLS + (size_t)cell);
    pixel[0] = (uint8_t)red;
    pixel[1] = (uint8_t)green;
    pixel[2] = (uint8_t)blue;
}

static void test_black_and_white(void **state) {
    (void)state;
    uint8_t rgb[3 * CELLS * 3] = {0};
    for (int cell = 0; cell < CELLS; cell++) {
        paint(rgb, 0, cell, cell % 3 == 0 ? 255 : 0, cell % 3 == 0 ? 255 : 0, cell % 3 == 0 ? 255 : 0);
        paint(rgb, 1, cell, 255, 255, 255);
    }
    assert_opens(file, rgb_png(rgb, CELLS, 3));
    assert_int_equal(art.rows, 3);
    for (int cell = 0; cell < CELLS; cell++) {
        assert_int_equal(art.row[0].lit >> cell & 1, cell % 3 == 0);
    }
    assert_int_equal(art.row[0].lit_colour, 0x0E);
    assert_int_equal(art.row[0].dark_colour, 0x00);
    assert_true(art.row[1].lit == (UINT64_C(1) << CELLS) - 1);
    assert_int_equal(art.row[1].dark_colour, ART_ANY);
    assert_true(art.row[2].lit == 0);
    assert_int_equal(art.row[2].lit_colour, ART_ANY);
}

/* Grey, with alpha, with a palette, 16 bits linear: the same picture. */
static void test_kinds(void **state) {
    (void)state;
    static const unsigned formats[] = {PNG_FORMAT_GRAY, PNG_FORMAT_GA,       PNG_FORMAT_RGBA,
                                       PNG_FORMAT_BGR,  PNG_FORMAT_LINEAR_Y, PNG_FORMAT_RGB_COLORMAP};
    for (size_t f = 0; f < sizeof formats / sizeof formats[0]; f++) {
        static uint8_t pixels[8 * CELLS * 2];
        static const uint8_t map[] = {0, 0, 0, 255, 255, 255};
        const bool mapped = (formats[f] & PNG_FORMAT_FLAG_COLORMAP) != 0;
        const unsigned size = mapped ? 1 : PNG_IMAGE_PIXEL_SIZE(formats[f]);
        const bool alpha = (formats[f] & PNG_FORMAT_FLAG_ALPHA) != 0;
        memset(pixels, 0, sizeof pixels);
        for (unsigned cell = 0; cell < 2 * CELLS; cell++) {
            uint8_t *pixel = pixels + cell * size;
            const bool white = cell % 5 == 2;
            memset(pixel, mapped ? white : white ? 255 : 0, size);
            if (alpha) {
                /* What is transparent shows black, whatever its colour. */
                memset(pixel, 255, size);
                pixel[size - 1] = white ? 255 : 0;
            }
        }
        assert_opens(file, png_of(pixels, formats[f], mapped ? map : NULL, 2, CELLS, 2, file, sizeof file));
        for (int cell = 0; cell < CELLS; cell++) {
            if ((art.row[1].lit >> cell & 1) != ((cell + CELLS) % 5 == 2)) {
                fail_msg("format %zu, cell %d", f, cell);
            }
        }
        assert_int_equal(art.row[1].lit_colour, 0x0E);
        assert_int_equal(art.row[1].dark_colour, 0);
    }
}

/* BT.601 from luma and angle to R'G'B' [S]: the code must come back. */
static void rgb_of(double luma, double degrees, double chroma, int rgb[3]) {
    const double angle = degrees * acos(-1) / 180;
    const double cb = -chroma * cos(angle), cr = -chroma * sin(angle);
    const double red = luma + 1.402 * cr, blue = luma + 1.772 * cb;
    const double green = (luma - 0.299 * red - 0.114 * blue) / 0.587;
    const double parts[] = {red, green, blue};
    for (int i = 0; i < 3; i++) {
        assert_true(parts[i] > -0.01 && parts[i] < 1.01);
        rgb[i] = (int)lround(255 * fmin(1, fmax(0, parts[i])));
    }
}

static void test_hues_and_levels(void **state) {
    (void)state;
    for (int hue = 0; hue < 16; hue++) {
        for (int level = 5; level <= 6; level++) {
            uint8_t picture[3 * CELLS] = {0};
            int rgb[3], dark[3];
            rgb_of(level / 7.0, (hue - 1) * 24.0, hue == 0 ? 0 : 0.075, rgb);
            rgb_of(2 / 7.0, (hue - 1) * 24.0, hue == 0 ? 0 : 0.1, dark);
            for (int cell = 0; cell < CELLS; cell++) {
                const int *of = cell < 7 ? rgb : dark;
                paint(picture, 0, cell, of[0], of[1], of[2]);
            }
            assert_opens(file, rgb_png(picture, CELLS, 1));
            assert_true(art.row[0].lit == 0x7F);
            assert_int_equal(art.row[0].lit_colour, hue << 4 | level << 1);
            assert_int_equal(art.row[0].dark_colour, hue << 4 | 2 << 1);
        }
    }
}

static void test_rows_refused(void **state) {
    (void)state;
    static uint8_t rgb[3 * CELLS * ROWS];
    memset(rgb, 0, sizeof rgb);
    for (int row = 0; row < ROWS; row++) {
        paint(rgb, row, 1, 255, 255, 255);
    }
    static const int many[] = {3, 7, 8, 9, 168};
    for (size_t i = 0; i < sizeof many / sizeof many[0]; i++) {
        paint(rgb, many[i] - 1, 39, 255, 0, 0);
    }
    assert_refused(file, rgb_png(rgb, CELLS, ROWS), ": rows 3, 7-9, 168: three colours or more");
    memset(rgb, 0, sizeof rgb);
    for (int cell = 0; cell < CELLS; cell++) {
        paint(rgb, 4, cell, 128, 128, 128); /* level 4 of 7 [A: 0.5 * 7 = 3.5, 128/255 is a little more] */
        paint(rgb, 5, cell, cell < 9 ? 255 : 128, cell < 9 ? 255 : 128, cell < 9 ? 255 : 128);
    }
    assert_refused(file, rgb_png(rgb, CELLS, 8),
                   "row 5: the brighter colour is too dark; row 6: the darker colour is too bright");
}

static void test_sizes(void **state) {
    (void)state;
    static uint8_t rgb[3 * 41 * 170];
    assert_refused(file, rgb_png(rgb, 41, 3), "41 wide");
    assert_refused(file, rgb_png(rgb, 39, 3), "39 wide");
    assert_refused(file, rgb_png(rgb, CELLS, 169), "169 rows");
    assert_opens(file, rgb_png(rgb, CELLS, 168));
}

static void test_broken_png(void **state) {
    (void)state;
    uint8_t rgb[3 * CELLS * 4] = {0};
    const size_t size = rgb_png(rgb, CELLS, 4);
    for (size_t cut = 9; cut < size - 13; cut += 3) { /* the last 12 bytes say no more than that it ends */
        assert_refused(file, cut, "no PNG that can be read");
    }
}

/* ---- PBM ---- */

static void test_p1(void **state) {
    (void)state;
    char text[400] = "P1 # a comment\n# another\n 40\t2\n";
    for (int i = 0; i < CELLS; i++) {
        strcat(text, i == 3 || i == 39 ? "1" : "0");
    }
    for (int i = 0; i < CELLS; i++) {
        strcat(text, i < 2 ? "\n1" : " 0");
    }
    assert_opens(text, strlen(text));
    assert_int_equal(art.rows, 2);
    assert_true(art.row[0].lit == (UINT64_C(1) << 3 | UINT64_C(1) << 39));
    assert_true(art.row[1].lit == 3);
    assert_int_equal(art.row[0].lit_colour, ART_ANY);
    text[strlen(text) - 1] = '2';
    assert_refused(text, strlen(text), "row 2 of 2");
    assert_refused(text, strlen(text) - 1, "row 2 of 2");
}

static void test_p4(void **state) {
    (void)state;
    uint8_t bytes[] = "P4\n40 2\n\x80\x00\x00\x00\x01\x00\xF0\x00\x00\x00";
    assert_opens(bytes, sizeof bytes - 1);
    assert_true(art.row[0].lit == (UINT64_C(1) | UINT64_C(1) << 39));
    assert_true(art.row[1].lit == UINT64_C(0x0F00)); /* the highest bit is the leftmost cell */
    assert_refused(bytes, sizeof bytes - 2, "row 2 of 2");
    assert_refused("P4\n40 \n", 7, "without width and height");
    assert_refused("P4\n8 1\n\x80", 8, "8 wide");
    assert_refused("P4\n40 99999999999\n\x80", 19, " rows; a drawing has");
}

/* ---- text ---- */

#define CELLS_40 "##########..........1111111111----------"

static void test_text(void **state) {
    (void)state;
    static const char text[] =
        "; a drawing\n\n" CELLS_40 "\r\n"
        "  #### .... #### .... #### .... #### .... #### ....  COLUBK=$92 colupf=0x4A ; red\n";
    assert_opens(text, sizeof text - 1);
    assert_int_equal(art.rows, 2);
    assert_true(art.row[0].lit == UINT64_C(0x003FF003FF));
    assert_int_equal(art.row[0].lit_colour, 0x0E);
    assert_int_equal(art.row[0].dark_colour, 0x00);
    assert_int_equal(art.row[1].lit_colour, 0x4A);
    assert_int_equal(art.row[1].dark_colour, 0x92);
}

static void test_bad_text(void **state) {
    (void)state;
    static const struct {
        const char *text, *what;
    } bad[] = {{CELLS_40 "\n#\n", ":2: no row of 40 cells"},
               {"####################\n", ":1: no row of 40 cells"}, /* 20 would do for a plan file */
               {CELLS_40 "#\n", ":1: no row"},
               {"\n" CELLS_40 " COLUPF=red\n", ":2: behind the cells"},
               {CELLS_40 " CTRLPF=1\n", ":1: behind the cells"},
               {CELLS_40 " COLUPF\n", ":1: behind the cells"},
               {CELLS_40 "\n" CELLS_40 " COLUPF=$08\n" CELLS_40 " COLUPF=$00\n",
                "rows 2-3: the brighter colour is too dark"},
               {CELLS_40 " COLUBK=$06\n", "row 1: the darker colour is too bright"},
               {"; nothing\n\n", "0 rows"}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_refused(bad[i].text, strlen(bad[i].text), bad[i].what);
    }
    assert_refused("", 0, "is empty");
    assert_refused("\x7F"
                   "ELF\0\0\0\0",
                   8, "neither PNG nor PBM");
    static char many[42 * 200];
    for (int i = 0; i < 200; i++) {
        memcpy(many + 41 * (size_t)i, CELLS_40 "\n", 41);
    }
    assert_refused(many, 41 * 200, "200 rows");
    static uint8_t large[(1 << 20) + 1];
    assert_refused(large, sizeof large, "larger than 1 MiB");
    unlink(path);
    struct problem problem = {0};
    assert_false(art_open(path, ROWS, &art, &problem));
    assert_non_null(strstr(problem.text, "cannot be read"));
    assert_false(art_open(folder, ROWS, &art, &problem));
    assert_non_null(strstr(problem.text, "cannot be read"));
}

static void test_rows_told(void **state) {
    (void)state;
    bool rows[170] = {0};
    char text[64];
    art_rows_text(rows, 170, text, sizeof text);
    assert_string_equal(text, "");
    rows[0] = rows[2] = rows[3] = rows[169] = true;
    art_rows_text(rows, 170, text, sizeof text);
    assert_string_equal(text, "1, 3-4, 170");
    for (int i = 0; i < 170; i += 2) {
        rows[i] = true;
    }
    art_rows_text(rows, 170, text, sizeof text);
    assert_non_null(strstr(text, " more"));
    assert_true(strncmp(text, "1, 3-5, 7, 9, 11", 16) == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_black_and_white),
        cmocka_unit_test(test_kinds),
        cmocka_unit_test(test_hues_and_levels),
        cmocka_unit_test(test_rows_refused),
        cmocka_unit_test(test_sizes),
        cmocka_unit_test(test_broken_png),
        cmocka_unit_test(test_p1),
        cmocka_unit_test(test_p4),
        cmocka_unit_test(test_text),
        cmocka_unit_test(test_bad_text),
        cmocka_unit_test(test_rows_told),
    };
    return cmocka_run_group_tests(tests, start, stop);
}
