/* Two fields in one, in every share: read as the one that outweighs, or as both, and never as anything else.
 */
#include "draw.h"
#include "picture/picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

enum { WIDTH = 720, LINES = 240, SAMPLES = WIDTH * LINES, SIXTEENTHS = 16 };

static struct picture *picture;
static uint8_t mixed[SAMPLES];

static int start(void **state) {
    (void)state;
    const struct picture_options options = {.standard = STANDARD_NTSC};
    picture = picture_new(&options);
    return picture != NULL ? 0 : -1;
}

static int end(void **state) {
    (void)state;
    picture_free(picture);
    return 0;
}

static uint8_t *draw(const struct slate *slate, uint32_t stuck, double noise_db, uint64_t seed) {
    struct scene scene = scene_usual(STANDARD_NTSC);
    uint8_t *luma;
    scene.step = 1;
    scene.slate = *slate;
    scene.stuck = stuck;
    scene.noise_db = noise_db;
    scene.seed = seed;
    draw_field(&scene, &luma);
    return luma;
}

/* share: of b, in sixteenths. */
static void mix(const uint8_t *a, const uint8_t *b, int share, struct reading *reading) {
    const struct field field = {
        .luma = mixed, .stride = WIDTH, .step = 1, .width = WIDTH, .height = LINES, .frame_lines = 1};
    for (int i = 0; i < SAMPLES; i++) {
        mixed[i] = (uint8_t)((a[i] * (SIXTEENTHS - share) + b[i] * share + SIXTEENTHS / 2) / SIXTEENTHS);
    }
    picture_read(picture, &field, reading);
}

static void expect_pair(const struct reading *reading, const struct slate *older, int share) {
    int younger = (older->counter + 1) & 63;
    bool right = reading->state == FIELD_READ && reading->slate.hash == older->hash &&
                 reading->slate.value == older->value;
    if (share <= 6) {
        right = right && !reading->blended && reading->slate.counter == older->counter;
    } else if (share >= 10) {
        right = right && !reading->blended && reading->slate.counter == younger;
    } else {
        right = right && (reading->slate.counter == older->counter ||
                          (!reading->blended && reading->slate.counter == younger));
    }
    if (!right) {
        fail_msg("%04x %05x %02x, %d/16 of the next: state %d, %04x %05x %02x, blended %d", older->hash,
                 older->value, older->counter, share, (int)reading->state, reading->slate.hash,
                 reading->slate.value, reading->slate.counter, reading->blended);
    }
}

static void every_share_of_every_pair(void **state) {
    (void)state;
    int blended = 0;
    for (int n = 0; n < 64; n++) {
        const struct slate older = {(uint16_t)(0x9E37 * (n + 1)), (uint32_t)(n * 1237), (uint8_t)n};
        const struct slate younger = {older.hash, older.value, (uint8_t)((n + 1) & 63)};
        double noise_db = n % 2 == 0 ? 0 : 24;
        uint8_t *a = draw(&older, 0, noise_db, 1), *b = draw(&younger, 0, noise_db, 2);
        for (int share = 0; share <= SIXTEENTHS; share++) {
            struct reading reading;
            mix(a, b, share, &reading);
            expect_pair(&reading, &older, share);
            blended += share == SIXTEENTHS / 2 && reading.blended;
        }
        free(a);
        free(b);
    }
    /* Rarely do the bits that are half read as one of the two. */
    assert_in_range(blended, 60, 64);
}

static void halves_through_stuck_bits(void **state) {
    (void)state;
    for (int bit = 0; bit < 20; bit++) {
        const struct slate older = {0x5A17, 77, (uint8_t)(3 * bit)};
        const struct slate younger = {0x5A17, 77, (uint8_t)(3 * bit + 1)};
        uint8_t *a = draw(&older, 1u << bit, 0, 1), *b = draw(&younger, 1u << bit, 0, 1);
        struct reading reading;
        mix(a, b, SIXTEENTHS / 2, &reading);
        expect_pair(&reading, &older, SIXTEENTHS / 2);
        free(a);
        free(b);
    }
}

/* Over a change of step the slate is one of the two or none. */
static void steps_mixed(void **state) {
    (void)state;
    int unread = 0;
    for (int n = 0; n < 64; n++) {
        const struct slate older = {0x5A17, (uint32_t)n, (uint8_t)n};
        const struct slate younger = {0x5A17, (uint32_t)n + 1, (uint8_t)((n + 1) & 63)};
        uint8_t *a = draw(&older, 0, 30, 3), *b = draw(&younger, 0, 30, 4);
        for (int share = 0; share <= SIXTEENTHS; share += 2) {
            struct reading reading;
            mix(a, b, share, &reading);
            if (reading.state != FIELD_READ) {
                unread++;
                assert_true(share == SIXTEENTHS / 2);
                continue;
            }
            const struct slate *wanted = share <= SIXTEENTHS / 2 ? &older : &younger;
            bool other = share == SIXTEENTHS / 2 && reading.slate.value == younger.value;
            assert_false(reading.blended);
            assert_int_equal(reading.slate.value, other ? younger.value : wanted->value);
            assert_int_equal(reading.slate.counter, other ? younger.counter : wanted->counter);
        }
        free(a);
        free(b);
    }
    assert_in_range(unread, 56, 64);
}

/* A leaning field that reads as plain: once fields are mixed, it tells of no lean for a while, and then
 * again. */
static void no_lean_from_a_mixing_source(void **state) {
    (void)state;
    enum { FOR_A_WHILE = 63 };
    const struct picture_options options = {.standard = STANDARD_NTSC};
    struct picture *own = picture_new(&options);
    struct picture *kept = picture;
    struct reading reading;
    picture = own;
    for (int n = 0; n < FOR_A_WHILE + 8; n++) {
        const struct slate slate = {0x82EB, 5, (uint8_t)(n & 63)},
                           next = {0x82EB, 5, (uint8_t)((n + 1) & 63)};
        struct scene scene = scene_usual(STANDARD_NTSC);
        scene.step = 1;
        scene.slate = n == 0 ? next : slate;
        scene.slant = n == 0 ? 0 : 0.03;
        uint8_t *leaning, *plain = draw(&slate, 0, 0, 1);
        draw_field(&scene, &leaning);
        mix(n == 0 ? plain : leaning, leaning, n == 0 ? 8 : 0, &reading);
        assert_int_equal(reading.state, FIELD_READ);
        assert_int_equal(reading.blended, n == 0);
        if (n <= FOR_A_WHILE) {
            assert_true(fabs(reading.raster.slant) <= 0);
            assert_false(reading.unsettled);
        }
        free(leaning);
        free(plain);
    }
    assert_true(fabs(reading.raster.slant - 0.03) < 0.005);
    picture = kept;
    picture_free(own);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(every_share_of_every_pair, start, end),
        cmocka_unit_test_setup_teardown(halves_through_stuck_bits, start, end),
        cmocka_unit_test_setup_teardown(steps_mixed, start, end),
        cmocka_unit_test(no_lean_from_a_mixing_source),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
