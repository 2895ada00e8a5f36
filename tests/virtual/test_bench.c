/* The bench as a video source: console, cartridge and grabber together, with a kernel made by hand. */
#include "virtual/bench.h"
#include "virtual/kernel.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

static uint8_t image[4096]; /* the kernel twice: what a socket that ignores A11 shows */

static struct virtual_options usual(enum standard standard) {
    struct virtual_options options;
    virtual_defaults(standard, &options);
    return options;
}

static void open_bench(const struct virtual_options *options, size_t size, struct video_source *source) {
    struct problem problem;
    kernel(image);
    kernel(image + KERNEL_SIZE);
    if (!virtual_open(options, image, size, source, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static void deliver(struct video_source *source, int frames, struct frame *frame) {
    struct problem problem;
    for (int i = 0; i < frames; i++) {
        assert_int_equal(source->next(source->state, frame, &problem), NEXT_FRAME);
    }
}

static int luma(const struct frame *frame, int x, int y) {
    return frame->y.data[y * frame->y.stride + x * frame->y.step];
}

static size_t frame_bytes(const struct frame *frame) {
    return (size_t)frame->y.stride * (size_t)frame->height;
}

static bool is_flat_black(const struct frame *frame) {
    for (size_t i = 0; i < frame_bytes(frame); i++) {
        if (frame->y.data[i] != (i % 2 == 0 ? 16 : 128)) {
            return false;
        }
    }
    return true;
}

/* The kernel's stores to COLUBK end with cycle 25 + 6 k, so that white and black change place at visible
 * clock 3 * 25 - 68 = 7 and every 18 after it [A]; on lines 40 to 63. */
static void test_kernel_is_seen_where_it_was_drawn(void **state) {
    (void)state;
    for (int wide = 0; wide < 2; wide++) {
        struct virtual_options options = usual(STANDARD_NTSC);
        struct video_source source;
        struct frame frame;
        open_bench(&options, wide ? 4096 : 2048, &source);
        deliver(&source, 8, &frame);
        assert_true(frame.width == 720 && frame.height == 480 && frame.number == 7);
        for (int y = 0; y < 480; y++) {
            int line = 21 + y / 2;
            bool slate = line >= KERNEL_FIRST && line < KERNEL_FIRST + KERNEL_SLATE_LINES;
            for (int bit = 0; slate && bit < 7; bit++) {
                int x = (int)(74.0 + (7 + 18 * bit + 9) * 13.5e6 / 3579545);
                if (luma(&frame, x, y) != (bit % 2 == 0 ? 235 : 16)) {
                    fail_msg("frame line %d, bit %d: %d", y, bit, luma(&frame, x, y));
                }
            }
            assert_true(luma(&frame, 60, y) == 16 && luma(&frame, 690, y) == 16);
        }
        source.close(source.state);
    }
}

/* Two kernels' fields a frame, and every frame has another number. */
static void test_two_fields_a_frame(void **state) {
    (void)state;
    struct virtual_options options = usual(STANDARD_NTSC);
    struct video_source source;
    struct frame frame;
    struct virtual_notes notes;
    open_bench(&options, 2048, &source);
    for (uint64_t i = 0; i < 5; i++) {
        deliver(&source, 1, &frame);
        assert_int_equal(frame.number, i);
    }
    virtual_notes(&source, &notes);
    assert_int_equal(notes.fields, 10);
    source.close(source.state);
}

static void test_same_options_same_video(void **state) {
    (void)state;
    struct virtual_options options = usual(STANDARD_NTSC);
    struct video_source one, two, three;
    struct frame a, b, c;
    options.grabber.noise_db = 30;
    options.seed = 1234;
    open_bench(&options, 2048, &one);
    open_bench(&options, 2048, &two);
    options.seed = 1235;
    open_bench(&options, 2048, &three);
    for (int i = 0; i < 4; i++) {
        deliver(&one, 1, &a);
        deliver(&two, 1, &b);
        deliver(&three, 1, &c);
        assert_memory_equal(a.y.data, b.y.data, frame_bytes(&a));
        assert_true(memcmp(a.y.data, c.y.data, frame_bytes(&a)) != 0);
    }
    one.close(one.state);
    two.close(two.state);
    three.close(three.state);
}

static void add(struct virtual_options *options, const char *fault) {
    struct problem problem;
    if (!virtual_add_fault(options, fault, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static void test_no_video_is_flat_black(void **state) {
    (void)state;
    struct virtual_options options = usual(STANDARD_NTSC);
    struct video_source source;
    struct frame frame;
    add(&options, "no-video");
    open_bench(&options, 2048, &source);
    for (int i = 0; i < 6; i++) {
        deliver(&source, 1, &frame);
        assert_true(is_flat_black(&frame));
    }
    source.close(source.state);
}

/* 262 lines where 312 are wanted: an NTSC program in front of a PAL grabber. */
static void test_other_standard_is_not_locked_to(void **state) {
    (void)state;
    struct virtual_options options = usual(STANDARD_PAL);
    struct video_source source;
    struct frame frame;
    open_bench(&options, 2048, &source);
    deliver(&source, 8, &frame);
    assert_int_equal(frame.height, 576);
    assert_true(is_flat_black(&frame));
    source.close(source.state);
}

/* A processor that reads zeros runs into BRK for ever: no vertical sync, and still frames keep coming. */
static void test_dead_cartridge_still_ends(void **state) {
    (void)state;
    struct virtual_options options = usual(STANDARD_NTSC);
    struct video_source source;
    struct frame frame;
    options.faults.cart_low = 0xFF;
    open_bench(&options, 2048, &source);
    deliver(&source, 6, &frame);
    assert_true(is_flat_black(&frame));
    source.close(source.state);
}

static void test_data_line_stuck_ruins_the_picture(void **state) {
    (void)state;
    for (int i = 0; i < 16; i++) {
        struct virtual_options options = usual(STANDARD_NTSC), good = options;
        struct video_source source, reference;
        struct frame frame, wanted;
        options.faults.cart_low = (uint8_t)(i < 8 ? 1 << i : 0);
        options.faults.cart_high = (uint8_t)(i < 8 ? 0 : 1 << (i - 8));
        open_bench(&options, 2048, &source);
        open_bench(&good, 2048, &reference);
        deliver(&source, 6, &frame);
        deliver(&reference, 6, &wanted);
        if (memcmp(frame.y.data, wanted.y.data, frame_bytes(&wanted)) == 0) {
            fail_msg("line %d stuck %s: the picture is good", i % 8, i < 8 ? "low" : "high");
        }
        source.close(source.state);
        reference.close(reference.state);
    }
}

/* With noise, so that nothing but the freeze makes two frames alike. */
static void test_frozen(void **state) {
    (void)state;
    static const char *const faults[] = {"frozen=10", "frozen=9", "frozen"};
    static const int last[] = {5, 5, 30}; /* frames until the freeze */
    for (int i = 0; i < 3; i++) {
        struct virtual_options options = usual(STANDARD_NTSC);
        struct video_source source;
        struct frame frame;
        options.grabber.noise_db = 30;
        add(&options, faults[i]);
        open_bench(&options, 2048, &source);
        deliver(&source, last[i] - 1, &frame);
        uint8_t *kept = malloc(frame_bytes(&frame));
        assert_non_null(kept);
        memcpy(kept, frame.y.data, frame_bytes(&frame));
        deliver(&source, 1, &frame);
        assert_memory_not_equal(kept, frame.y.data, frame_bytes(&frame));
        memcpy(kept, frame.y.data, frame_bytes(&frame));
        for (int n = 0; n < 20; n++) {
            deliver(&source, 1, &frame);
            assert_memory_equal(kept, frame.y.data, frame_bytes(&frame));
            assert_int_equal(frame.number, last[i] + n);
        }
        free(kept);
        source.close(source.state);
    }
}

/* A fault reaches the picture, there alone: cell 0 of a chip with PF0 D4 stuck high. */
static void test_lit_playfield_of_a_broken_chip_is_seen(void **state) {
    (void)state;
    struct virtual_options options = usual(STANDARD_NTSC);
    struct video_source good, broken;
    struct frame a, b;
    open_bench(&options, 2048, &good);
    add(&options, "bit-high=PF0.4");
    open_bench(&options, 2048, &broken);
    deliver(&good, 6, &a);
    deliver(&broken, 6, &b);
    /* COLUPF is what power-on left there: the same on both benches. Cell 0 is samples 74 to 89. */
    int differing = 0;
    for (int y = 0; y < 480; y++) {
        differing += luma(&a, 81, y) != luma(&b, 81, y);
        assert_int_equal(luma(&a, 200, y), luma(&b, 200, y));
    }
    assert_true(differing >= 48);
    good.close(good.state);
    broken.close(broken.state);
}

static void test_notes_tell_what_is_not_modelled(void **state) {
    (void)state;
    struct virtual_options options = usual(STANDARD_NTSC);
    struct video_source source;
    struct frame frame;
    struct virtual_notes notes;
    struct problem problem;
    open_bench(&options, 2048, &source);
    deliver(&source, 4, &frame);
    virtual_notes(&source, &notes);
    assert_int_equal(notes.unmodelled_writes, 0);
    source.close(source.state);

    kernel(image);
    /* LDA #$55, STA $1B, JMP $F800: an object's picture, again and again */
    memmove(image, (uint8_t[]){0xA9, 0x55, 0x85, 0x1B, 0x4C, 0x00, 0xF8}, 7);
    assert_true(virtual_open(&options, image, 2048, &source, &problem));
    deliver(&source, 2, &frame);
    virtual_notes(&source, &notes);
    assert_true(notes.unmodelled_writes > 100);
    assert_int_equal(notes.unmodelled_last & 0x3F, 0x1B);
    source.close(source.state);
}

static void test_wrong_sizes_and_options(void **state) {
    (void)state;
    static const size_t sizes[] = {0, 1, 2047, 2049, 8192};
    struct virtual_options options = usual(STANDARD_NTSC);
    struct video_source source;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        struct problem problem = {0};
        assert_false(virtual_open(&options, image, sizes[i], &source, &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
    }
    struct problem problem = {0};
    options.grabber.gain = NAN;
    assert_false(virtual_open(&options, image, 2048, &source, &problem));
    assert_non_null(strstr(problem.text, "gain"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_kernel_is_seen_where_it_was_drawn),
        cmocka_unit_test(test_two_fields_a_frame),
        cmocka_unit_test(test_same_options_same_video),
        cmocka_unit_test(test_no_video_is_flat_black),
        cmocka_unit_test(test_other_standard_is_not_locked_to),
        cmocka_unit_test(test_dead_cartridge_still_ends),
        cmocka_unit_test(test_data_line_stuck_ruins_the_picture),
        cmocka_unit_test(test_frozen),
        cmocka_unit_test(test_lit_playfield_of_a_broken_chip_is_seen),
        cmocka_unit_test(test_notes_tell_what_is_not_modelled),
        cmocka_unit_test(test_wrong_sizes_and_options),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
