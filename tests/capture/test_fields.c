#include "frames.h"

/* Every line of each field against the line of the frame it must be. */
static void check_field(const struct frame *frame, const struct field *field, int parity, int frame_lines,
                        int height) {
    assert_int_equal(field->parity, parity);
    assert_int_equal(field->frame_lines, frame_lines);
    assert_int_equal(field->height, height);
    assert_int_equal(field->width, frame->width);
    assert_int_equal(field->frame_number, frame->number);
    for (int y = 0; y < height; y++) {
        for (int x = 0; x < frame->width; x += 7) {
            int seen = field->luma[y * field->stride + x * field->step];
            assert_int_equal(seen, plane_at(&frame->y, x, y * frame_lines + parity));
        }
    }
}

static void two_woven(enum standard standard, int height, int older) {
    struct frames frames;
    struct field fields[2];
    frames_make(&frames, 32, height, 1);
    struct frame frame = frames_view(&frames, 0);
    frame.number = 77;
    assert_int_equal(frame_fields(&frame, standard, fields), 2);
    check_field(&frame, &fields[0], older, 2, height / 2);
    check_field(&frame, &fields[1], 1 - older, 2, height / 2);
    frames_free(&frames);
}

/* 525 lines: the bottom lines are the older; 625 lines: the top ones [S SMPTE 170M, ITU-R BT.601 practice;
 * the order standard.h states]. */
static void test_woven_order(void **state) {
    (void)state;
    two_woven(STANDARD_NTSC, 480, 1);
    two_woven(STANDARD_PAL, 576, 0);
    two_woven(STANDARD_SECAM, 576, 0);
    two_woven(STANDARD_PAL, 290, 0);
}

static void test_single(void **state) {
    (void)state;
    static const int heights[] = {1, 240, 288};
    for (size_t i = 0; i < sizeof heights / sizeof heights[0]; i++) {
        for (int standard = 0; standard < STANDARD_COUNT; standard++) {
            struct frames frames;
            struct field fields[2];
            frames_make(&frames, 32, heights[i], 1);
            struct frame frame = frames_view(&frames, 0);
            assert_int_equal(frame_fields(&frame, (enum standard)standard, fields), 1);
            check_field(&frame, &fields[0], 0, 1, heights[i]);
            frames_free(&frames);
        }
    }
}

/* The top field has the odd line; no field reaches past the frame. */
static void test_odd_height(void **state) {
    (void)state;
    struct frames frames;
    struct field fields[2];
    frames_make(&frames, 32, 481, 1);
    struct frame frame = frames_view(&frames, 0);
    assert_int_equal(frame_fields(&frame, STANDARD_PAL, fields), 2);
    check_field(&frame, &fields[0], 0, 2, 241);
    check_field(&frame, &fields[1], 1, 2, 240);
    frames_free(&frames);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_woven_order),
        cmocka_unit_test(test_single),
        cmocka_unit_test(test_odd_height),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
