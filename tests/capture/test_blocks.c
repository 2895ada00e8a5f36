/* Frames copied and compared, however their planes lie. */
#include "frames.h"

#include "capture/blocks.h"

enum { WIDTH = 46, HEIGHT = 18, ROOM = 8 * WIDTH * HEIGHT };

static uint8_t from[ROOM];

static void fill(void) {
    uint64_t random = FRAMES_SEED;
    for (size_t i = 0; i < sizeof from; i++) {
        from[i] = (uint8_t)(frames_random(&random) >> 32);
    }
}

static void check_plane(const struct plane *a, const struct plane *b, int width, int height,
                        const char *name) {
    for (int y = 0; y < height; y++) {
        for (int x = 0; x < width; x++) {
            if (plane_at(a, x, y) != plane_at(b, x, y)) {
                fail_msg("%s: sample %d, %d differs", name, x, y);
            }
        }
    }
}

static void check(const char *name, struct frame frame) {
    frame.width = WIDTH;
    frame.height = HEIGHT;
    struct frame copy;
    size_t size = frame_bytes(&frame);
    uint8_t *bytes = malloc(size); /* not a byte more: a sanitizer sees what is written past it */
    assert_non_null(bytes);
    frame_copy(&frame, bytes, &copy);
    int chroma_width = (WIDTH + (1 << frame.chroma_x) - 1) >> frame.chroma_x;
    int chroma_height = (HEIGHT + (1 << frame.chroma_y) - 1) >> frame.chroma_y;
    check_plane(&frame.y, &copy.y, WIDTH, HEIGHT, name);
    if (frame.cb.data != NULL) {
        assert_true(copy.cb.data >= bytes && copy.cb.data < bytes + size);
        assert_true(copy.cr.data >= bytes && copy.cr.data < bytes + size);
        check_plane(&frame.cb, &copy.cb, chroma_width, chroma_height, name);
        check_plane(&frame.cr, &copy.cr, chroma_width, chroma_height, name);
    }
    assert_true(frame_alike(&frame, &copy));
    assert_true(frame_same(&frame, &copy));
    /* Any one sample makes another frame. */
    const struct plane *planes[] = {&copy.y, &copy.cb, &copy.cr};
    for (int p = 0; p < 3; p++) {
        for (int y = 0; planes[p]->data != NULL && y < (p == 0 ? HEIGHT : chroma_height); y++) {
            int x = (7 * y) % (p == 0 ? WIDTH : chroma_width);
            uint8_t *sample = bytes + (planes[p]->data - bytes) + y * planes[p]->stride + x * planes[p]->step;
            *sample ^= 1;
            if (frame_same(&frame, &copy)) {
                fail_msg("%s: plane %d, sample %d, %d is not looked at", name, p, x, y);
            }
            *sample ^= 1;
        }
    }
    free(bytes);
}

static void test_layouts(void **state) {
    (void)state;
    fill();
    const uint8_t *later = from + 2 * WIDTH * HEIGHT;
    const uint8_t *last = from + 4 * WIDTH * HEIGHT;
    check("grey", (struct frame){.y = {from, WIDTH, 1}});
    check("yuyv", (struct frame){.y = {from, 2 * WIDTH, 2},
                                 .cb = {from + 1, 2 * WIDTH, 4},
                                 .cr = {from + 3, 2 * WIDTH, 4},
                                 .chroma_x = 1});
    check("uyvy", (struct frame){.y = {from + 1, 2 * WIDTH + 10, 2},
                                 .cb = {from, 2 * WIDTH + 10, 4},
                                 .cr = {from + 2, 2 * WIDTH + 10, 4},
                                 .chroma_x = 1});
    check("422p",
          (struct frame){
              .y = {from, WIDTH + 2, 1}, .cb = {later, WIDTH, 1}, .cr = {last, WIDTH, 1}, .chroma_x = 1});
    check("420p", (struct frame){.y = {from, WIDTH, 1},
                                 .cb = {later, WIDTH / 2, 1},
                                 .cr = {later + WIDTH * HEIGHT / 4, WIDTH / 2, 1},
                                 .chroma_x = 1,
                                 .chroma_y = 1});
    check("nv12", (struct frame){.y = {from, WIDTH, 1},
                                 .cb = {later, WIDTH, 2},
                                 .cr = {later + 1, WIDTH, 2},
                                 .chroma_x = 1,
                                 .chroma_y = 1});
    check("nv21", (struct frame){.y = {from, WIDTH, 1},
                                 .cb = {later + 1, WIDTH, 2},
                                 .cr = {later, WIDTH, 2},
                                 .chroma_x = 1,
                                 .chroma_y = 1});
    check("444p", (struct frame){.y = {from, WIDTH, 1}, .cb = {later, WIDTH, 1}, .cr = {last, WIDTH, 1}});
    check("upside down", (struct frame){.y = {from + WIDTH * (HEIGHT - 1), -WIDTH, 1}});
}

static void test_not_alike(void **state) {
    (void)state;
    fill();
    struct frame grey = {.width = WIDTH, .height = HEIGHT, .y = {from, WIDTH, 1}};
    struct frame smaller = grey, packed = grey, coloured = grey;
    smaller.height--;
    packed.y.step = 2;
    packed.y.stride = 2 * WIDTH;
    coloured.cb = coloured.cr = coloured.y;
    assert_false(frame_alike(&grey, &smaller));
    assert_false(frame_alike(&grey, &packed));
    assert_false(frame_alike(&grey, &coloured));
    assert_false(frame_same(&grey, &smaller));
    assert_false(frame_same(&grey, &coloured));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_layouts),
        cmocka_unit_test(test_not_alike),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
