/* PNG files read back by libpng's reader, and colours against the standard's. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "report/png.h"
#include "report/rgb.h"

#include <png.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char folder[300];

static int make_folder(void **state) {
    (void)state;
    const char *above = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/slotjig-png-XXXXXX", above != NULL ? above : "/tmp");
    return mkdtemp(folder) == NULL ? -1 : 0;
}

static int remove_folder(void **state) {
    (void)state;
    return rmdir(folder); /* fails, and the tests with it, when anything was left */
}

static void round_trip(int width, int height) {
    size_t size = (size_t)width * (size_t)height * 3;
    uint8_t *rgb = malloc(size);
    uint8_t *seen = malloc(size);
    char path[400];
    struct problem problem = {0};
    assert_non_null(rgb);
    assert_non_null(seen);
    for (size_t i = 0; i < size; i++) {
        rgb[i] = (uint8_t)(i * 2654435761U >> 11);
    }
    snprintf(path, sizeof path, "%s/a.png", folder);
    if (!png_write(path, rgb, width, height, &problem)) {
        fail_msg("%s", problem.text);
    }
    png_image image = {.version = PNG_IMAGE_VERSION};
    assert_int_not_equal(png_image_begin_read_from_file(&image, path), 0);
    assert_int_equal(image.width, width);
    assert_int_equal(image.height, height);
    image.format = PNG_FORMAT_RGB;
    assert_int_not_equal(png_image_finish_read(&image, NULL, seen, 0, NULL), 0);
    assert_memory_equal(rgb, seen, size);
    unlink(path);
    free(rgb);
    free(seen);
}

static void test_round_trip(void **state) {
    (void)state;
    round_trip(1, 1);
    round_trip(37, 5);
    round_trip(720, 480);
}

static void test_refused(void **state) {
    (void)state;
    char path[400];
    uint8_t rgb[3] = {1, 2, 3};
    struct problem problem = {0};
    snprintf(path, sizeof path, "%s/none/a.png", folder);
    assert_false(png_write(path, rgb, 1, 1, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_ptr_equal(strstr(problem.text, path), problem.text);
    snprintf(path, sizeof path, "%s/a.png", folder);
    assert_false(png_write(path, rgb, 0, 1, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
}

/* Codes of the full-level colours, from the equations [S ITU-R BT.601, 2.5.1 to 2.5.4]: Y' = 16 + 219 * level
 * of luma, Cb and Cr = 128 + 224 * (B' - Y') / 1.772 and (R' - Y') / 1.402, rounded; so a colour comes back
 * to within 2. */
static void test_colours(void **state) {
    (void)state;
    static const struct {
        uint8_t y, cb, cr, rgb[3];
    } colours[] = {
        {235, 128, 128, {255, 255, 255}}, {16, 128, 128, {0, 0, 0}},        {81, 90, 240, {255, 0, 0}},
        {145, 54, 34, {0, 255, 0}},       {41, 240, 110, {0, 0, 255}},      {210, 16, 146, {255, 255, 0}},
        {170, 166, 16, {0, 255, 255}},    {106, 202, 222, {255, 0, 255}},   {126, 128, 128, {128, 128, 128}},
        {0, 128, 128, {0, 0, 0}},         {255, 128, 128, {255, 255, 255}},
    };
    for (size_t i = 0; i < sizeof colours / sizeof colours[0]; i++) {
        uint8_t rgb[3];
        struct frame frame = {.width = 1,
                              .height = 1,
                              .y = {&colours[i].y, 1, 1},
                              .cb = {&colours[i].cb, 1, 1},
                              .cr = {&colours[i].cr, 1, 1}};
        rgb_from_frame(&frame, rgb);
        for (int k = 0; k < 3; k++) {
            if (abs(rgb[k] - colours[i].rgb[k]) > 2) {
                fail_msg("colour %zu, part %d: %d, not %d", i, k, rgb[k], colours[i].rgb[k]);
            }
        }
    }
}

/* A grey frame whose level says the line: which line of which field stands where. */
static void check_lines(int height, enum split split, int which, int rows, int first, int pitch) {
    static uint8_t luma[600 * 2], rgb[600 * 2 * 2 * 3];
    for (int y = 0; y < height; y++) {
        luma[2 * y] = luma[2 * y + 1] = (uint8_t)(20 + y % 200);
    }
    struct frame frame = {.width = 2, .height = height, .y = {luma, 2, 1}};
    struct field fields[2];
    frame_split(&frame, split, fields);
    rgb_from_field(&fields[which], rows, rgb);
    for (int y = 0; y < fields[which].height * rows; y++) {
        uint8_t level = luma[2 * (first + y / rows * pitch)];
        uint8_t grey = (uint8_t)((level - 16) * 255.0 / 219.0 + 0.5);
        for (int k = 0; k < 6; k++) {
            assert_int_equal(rgb[6 * y + k], grey);
        }
    }
}

static void test_fields(void **state) {
    (void)state;
    check_lines(480, SPLIT_WOVEN, 0, 2, 0, 2);
    check_lines(480, SPLIT_WOVEN, 1, 2, 1, 2);
    check_lines(576, SPLIT_WOVEN, 1, 1, 1, 2);
    check_lines(480, SPLIT_STACKED, 0, 2, 0, 1);
    check_lines(480, SPLIT_STACKED, 1, 2, 240, 1);
    check_lines(240, SPLIT_NONE, 0, 1, 0, 1);
    check_lines(288, SPLIT_NONE, 0, 2, 0, 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_round_trip),
        cmocka_unit_test(test_refused),
        cmocka_unit_test(test_colours),
        cmocka_unit_test(test_fields),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
