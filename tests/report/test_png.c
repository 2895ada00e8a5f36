/* Pictures of few and of many colours come back as they were, by libpng's own reader. */
#include "report/png.h"

#include <png.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { WIDTH = 37, HEIGHT = 23, PIXELS = WIDTH * HEIGHT };

/* How many colours there are in all; no two alike. */
static void paint(uint8_t rgb[PIXELS * 3], int colours) {
    for (int i = 0; i < PIXELS; i++) {
        const int colour = (i * 7) % colours;
        rgb[i * 3] = (uint8_t)(colour & 0xFF);
        rgb[i * 3 + 1] = (uint8_t)(colour >> 8);
        rgb[i * 3 + 2] = (uint8_t)(colour * 31);
    }
}

static void is_the_same(const uint8_t *bytes, size_t size, const uint8_t rgb[PIXELS * 3]) {
    static uint8_t back[PIXELS * 3];
    png_image image = {.version = PNG_IMAGE_VERSION};
    assert_int_equal(png_image_begin_read_from_memory(&image, bytes, size), 1);
    assert_int_equal(image.width, WIDTH);
    assert_int_equal(image.height, HEIGHT);
    image.format = PNG_FORMAT_RGB;
    assert_int_equal(png_image_finish_read(&image, NULL, back, 0, NULL), 1);
    assert_memory_equal(back, rgb, sizeof back);
}

/* Kind of picture, the tenth byte of the header's data: 3 with a table of colours, 2 without [PNG, 11.2.2].
 */
static int kind_of(const uint8_t *bytes) {
    return bytes[25];
}

static void as_they_were(void **state) {
    static const int counts[] = {1, 2, 3, 16, 17, 255, 256, 257, 800};
    static uint8_t rgb[PIXELS * 3];
    (void)state;
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
        struct problem problem;
        uint8_t *bytes;
        size_t size;
        paint(rgb, counts[i]);
        assert_true(png_bytes(rgb, WIDTH, HEIGHT, &bytes, &size, &problem));
        is_the_same(bytes, size, rgb);
        assert_int_equal(kind_of(bytes), counts[i] <= 256 ? 3 : 2);
        free(bytes);
    }
}

static void nothing_to_show(void **state) {
    (void)state;
    struct problem problem = {0};
    uint8_t *bytes, rgb[3] = {0};
    size_t size;
    assert_false(png_bytes(rgb, 0, 1, &bytes, &size, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_null(bytes);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(as_they_were), cmocka_unit_test(nothing_to_show)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
