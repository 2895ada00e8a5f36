/* A frame's fields by their place in it, in every kind of split: each sample against the frame's own. */
#include "frames.h"

/* Where the sample at (x, y) of a field lies in the frame, or in a plane of it: first + y * step. */
struct place {
    int first, step;
};

static void check_plane(const struct plane *whole, const struct plane *part, int width, int height,
                        struct place place) {
    for (int y = 0; y < height; y++) {
        for (int x = 0; x < width; x += 7) {
            assert_int_equal(plane_at(part, x, y), plane_at(whole, x, place.first + y * place.step));
        }
    }
}

static void check_field(const struct frame *frame, const struct field *field, int parity, int height,
                        struct place place) {
    const struct plane luma = {field->luma, field->stride, field->step};
    struct place chroma = place;
    if (place.step == 1) {
        chroma.first >>= frame->chroma_y;
    }
    assert_int_equal(field->parity, parity);
    assert_int_equal(field->frame_lines, place.step);
    assert_int_equal(field->height, height);
    assert_int_equal(field->width, frame->width);
    assert_int_equal(field->frame_number, frame->number);
    assert_int_equal(field->chroma_x, frame->chroma_x);
    assert_int_equal(field->chroma_y, frame->chroma_y);
    check_plane(&frame->y, &luma, frame->width, height, place);
    const int width = frame->width >> frame->chroma_x, lines = height >> frame->chroma_y;
    check_plane(&frame->cb, &field->cb, width, lines, chroma);
    check_plane(&frame->cr, &field->cr, width, lines, chroma);
}

/* 4:2:2, and 4:2:0 of the same bytes: its planes are the upper half of the packed ones, which will do. */
static void check_split(int height, enum split split, int count, const int *heights,
                        const struct place *places) {
    struct frames frames;
    frames_make(&frames, 32, height, 1);
    for (int chroma_y = 0; chroma_y < 2; chroma_y++) {
        struct frame frame = frames_view(&frames, 0);
        struct field fields[2];
        frame.number = 77;
        frame.chroma_y = chroma_y;
        assert_int_equal(frame_split(&frame, split, fields), count);
        for (int i = 0; i < count; i++) {
            check_field(&frame, &fields[i], i, heights[i], places[i]);
        }
    }
    frames_free(&frames);
}

static void test_woven(void **state) {
    (void)state;
    static const struct place places[2] = {{0, 2}, {1, 2}};
    check_split(480, SPLIT_WOVEN, 2, (const int[2]){240, 240}, places);
    check_split(576, SPLIT_WOVEN, 2, (const int[2]){288, 288}, places);
}

/* The top field has the odd line; no field reaches past the frame. */
static void test_odd_height(void **state) {
    (void)state;
    check_split(481, SPLIT_WOVEN, 2, (const int[2]){241, 240}, (const struct place[2]){{0, 2}, {1, 2}});
    check_split(481, SPLIT_STACKED, 2, (const int[2]){240, 240}, (const struct place[2]){{0, 1}, {240, 1}});
}

static void test_stacked(void **state) {
    (void)state;
    check_split(480, SPLIT_STACKED, 2, (const int[2]){240, 240}, (const struct place[2]){{0, 1}, {240, 1}});
    check_split(576, SPLIT_STACKED, 2, (const int[2]){288, 288}, (const struct place[2]){{0, 1}, {288, 1}});
}

static void test_single(void **state) {
    (void)state;
    static const int heights[] = {1, 240, 288, 480};
    for (size_t i = 0; i < sizeof heights / sizeof heights[0]; i++) {
        check_split(heights[i], SPLIT_NONE, 1, &heights[i], &(const struct place){0, 1});
    }
}

/* A frame without colour has fields without. */
static void test_grey(void **state) {
    (void)state;
    struct frames frames;
    struct field fields[2];
    frames_make(&frames, 32, 480, 1);
    struct frame frame = frames_view(&frames, 0);
    frame.cb.data = frame.cr.data = NULL;
    for (int split = SPLIT_NONE; split <= SPLIT_STACKED; split++) {
        for (int i = 0, count = frame_split(&frame, (enum split)split, fields); i < count; i++) {
            assert_null(fields[i].cb.data);
            assert_null(fields[i].cr.data);
        }
    }
    frames_free(&frames);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_woven),  cmocka_unit_test(test_odd_height), cmocka_unit_test(test_stacked),
        cmocka_unit_test(test_single), cmocka_unit_test(test_grey),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
