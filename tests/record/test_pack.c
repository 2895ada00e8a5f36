/* Steps and plans packed into bytes: nothing is lost but what lies below a quantum, and damage is noticed. */
#include "record/bits.h"
#include "record/invented.h"
#include "record/pack.h"
#include "record/records.h"
#include "record/same.h"
#include "record/varied.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include <cmocka.h>

enum { STEPS = 98, SEED = 4 };

static void check_round(const struct record_run *run, const struct record_plan *plan) {
    uint8_t *bytes = NULL;
    size_t size = 0;
    struct arena arena = {0};
    struct step_result *steps = NULL;
    struct record_run back = *run;
    char why[400] = "";
    assert_true(pack_steps(plan, run->steps, run->step_count, &bytes, &size));
    assert_true(unpack_steps(plan, bytes, size, &arena, &steps, &back.step_count));
    back.steps = steps;
    if (!record_same(run, &back, RECORDS_ALL, why, sizeof why)) {
        fail_msg("%s", why);
    }
    free(bytes);
    arena_free(&arena);
}

static void steps_come_back(void **state) {
    (void)state;
    struct invented *invented = invented_new(SEED, 14, STEPS, 2), *varied = varied_new();
    const struct record_plan none = {.standard = STANDARD_NTSC};
    for (size_t i = 0; i < invented->runs.count; i++) {
        check_round(invented->runs.runs[i], &invented->plan);
        check_round(invented->runs.runs[i], &none);
    }
    for (size_t i = 0; i < varied->runs.count; i++) {
        check_round(varied->runs.runs[i], &varied->plan);
        check_round(varied->runs.runs[i], &none);
    }
    invented_free(invented);
    invented_free(varied);
}

/* A double with any bits: as bad as a figure can be. */
static uint64_t any(uint64_t *state) {
    return (uint64_t)(4294967296.0 * invented_uniform(state)) << 32 |
           (uint64_t)(4294967296.0 * invented_uniform(state));
}

static double any_double(uint64_t *state) {
    static const double special[] = {NAN, INFINITY, -INFINITY, 0, -0.0, 1e300, -1e300, 1e-300};
    const double choice = invented_uniform(state);
    return choice < 0.5 ? special[(size_t)(16 * choice)] : 1e4 * (invented_uniform(state) - 0.5);
}

/* What is no number, or none that anything measured could be, is kept as 0. */
static double kept(double value, double quantum) {
    return fabs(value) / quantum < 4e15 ? value : 0;
}

static void wildest_steps_come_back(void **state) {
    (void)state;
    uint64_t seed = SEED;
    enum { WILD = 300 };
    struct invented *invented = invented_new(SEED, 1, STEPS, 1);
    struct step_result *steps = calloc(WILD, sizeof *steps);
    struct record_run run = *invented->runs.runs[0];
    for (int i = 0; i < WILD; i++) {
        steps[i] = (struct step_result){.verdict = (enum verdict)(any(&seed) % 3),
                                        .fields = (int)any(&seed),
                                        .failed = (int)any(&seed),
                                        .margin = kept(any_double(&seed), 1e-4),
                                        .expected = any(&seed),
                                        .sure = any(&seed),
                                        .seen = any(&seed),
                                        .unclear = any(&seed),
                                        .offset = kept(any_double(&seed), 1e-3),
                                        .wrong_line = (int)any(&seed)};
        steps[i].lit_colour = (struct cell_colour){.count = (int)any(&seed),
                                                   .level = kept(any_double(&seed), 1e-4),
                                                   .cb = kept(any_double(&seed), 1e-2)};
    }
    run.steps = steps;
    run.step_count = WILD;
    check_round(&run, &invented->plan);
    for (int i = 0; i < WILD; i++) {
        steps[i].margin = any_double(&seed); /* must not harm */
    }
    uint8_t *bytes = NULL;
    size_t size = 0;
    assert_true(pack_steps(&invented->plan, steps, WILD, &bytes, &size));
    free(bytes);
    free(steps);
    invented_free(invented);
}

static void good_runs_are_small(void **state) {
    (void)state;
    /* [A] Gauss, a column's bits a step: log2(deviation / quantum * sqrt(2 pi e)). Deviations are those of
     * invented.c: margin and offset 0.01, levels 0.003, colour differences 0.4. */
    const double gauss = sqrt(2 * acos(-1) * exp(1));
    const double information =
        STEPS * (log2(100 * gauss) + log2(10 * gauss) + 2 * (log2(30 * gauss) + 2 * log2(40 * gauss))) / 8;
    struct invented *invented = invented_new(SEED, 1, STEPS, 1);
    uint8_t *bytes = NULL;
    size_t size = 0;
    assert_true(pack_steps(&invented->plan, invented->runs.runs[0]->steps, STEPS, &bytes, &size));
    print_message("%zu bytes of %.0f that are information\n", size, information);
    assert_true((double)size < 1.15 * information);
    free(bytes);
    invented_free(invented);
}

/* With a right check at its end, so that what lies behind it is reached. */
static void sign(uint8_t *bytes, size_t size) {
    const uint32_t sum = (uint32_t)crc32(0, bytes, (uInt)(size - 4));
    for (int i = 0; i < 4; i++) {
        bytes[size - 4 + (size_t)i] = (uint8_t)(sum >> (24 - 8 * i));
    }
}

typedef bool unpack(const uint8_t *bytes, size_t size);

static const struct record_plan *fuzz_plan;
static bool unpack_some_steps(const uint8_t *bytes, size_t size) {
    struct arena arena = {0};
    struct step_result *steps = NULL;
    size_t count = 0;
    const bool good = unpack_steps(fuzz_plan, bytes, size, &arena, &steps, &count);
    for (size_t i = 0; good && i < count; i++) {
        assert_in_range(steps[i].verdict, VERDICT_PASS, VERDICT_INCONCLUSIVE);
    }
    arena_free(&arena);
    return good;
}
static bool unpack_some_plan(const uint8_t *bytes, size_t size) {
    struct arena arena = {0};
    struct record_plan_step *steps = NULL;
    size_t count = 0;
    const bool good = unpack_plan(bytes, size, &arena, &steps, &count);
    for (size_t i = 0; good && i < count; i++) {
        assert_true(strlen(steps[i].name) < size && strlen(steps[i].mode) < size);
    }
    arena_free(&arena);
    return good;
}

/* Every bit turned, every length cut, and the same with a check that agrees. */
static void damage(const uint8_t *whole, size_t size, unpack *read) {
    uint8_t *bytes = malloc(size);
    assert_true(read(whole, size));
    for (size_t length = 0; length < size; length++) {
        memcpy(bytes, whole, length); /* of its own, so that a reader beyond the end is seen */
        uint8_t *cut = length > 0 ? realloc(bytes, length) : bytes;
        assert_false(read(cut, length));
        if (length > 4) {
            sign(cut, length);
            assert_false(read(cut, length));
        }
        bytes = realloc(cut, size);
    }
    for (size_t bit = 0; bit < 8 * size; bit++) {
        memcpy(bytes, whole, size);
        bytes[bit / 8] ^= (uint8_t)(1 << bit % 8);
        assert_false(read(bytes, size));
        sign(bytes, size);
        read(bytes, size); /* may be something else that is well formed */
    }
    free(bytes);
}

static void damaged_bytes_are_noticed(void **state) {
    (void)state;
    struct invented *varied = varied_new();
    uint8_t *bytes = NULL;
    size_t size = 0;
    fuzz_plan = &varied->plan;
    for (int i = 0; i < 6; i += 5) { /* a good run, and the one with all that can be odd */
        const struct record_run *run = varied->runs.runs[i];
        assert_true(pack_steps(fuzz_plan, run->steps, run->step_count, &bytes, &size));
        damage(bytes, size, unpack_some_steps);
        free(bytes);
    }
    assert_true(pack_plan(fuzz_plan->steps, fuzz_plan->step_count, &bytes, &size));
    damage(bytes, size, unpack_some_plan);
    free(bytes);
    invented_free(varied);
}

static void noise_is_no_row(void **state) {
    (void)state;
    uint64_t seed = SEED;
    const int rounds = getenv("SLOTJIG_TEST_SMALL") != NULL ? 1000 : 5000;
    struct invented *varied = varied_new();
    fuzz_plan = &varied->plan;
    for (int round = 0; round < rounds; round++) {
        uint8_t bytes[64];
        for (size_t i = 0; i < sizeof bytes; i++) {
            bytes[i] = (uint8_t)any(&seed);
        }
        bytes[0] = (uint8_t)(1 + round % 2); /* the form */
        sign(bytes, sizeof bytes);
        unpack_some_steps(bytes, sizeof bytes);
        unpack_some_plan(bytes, sizeof bytes);
    }
    invented_free(varied);
}

static void columns_come_back(void **state) {
    (void)state;
    enum { MOST = 1000 };
    static int64_t values[MOST], back[MOST];
    uint64_t seed = SEED;
    for (int round = 0; round < 400; round++) {
        const size_t count = (size_t)(any(&seed) % MOST);
        const int shift = (int)(any(&seed) % 64), base = (int)(any(&seed) % 64);
        const size_t few = 1 + (size_t)(any(&seed) % 40); /* different ones, in each second round */
        for (size_t i = 0; i < count; i++) {
            values[i] = (int64_t)((any(&seed) >> shift) + (UINT64_C(1) << base));
            values[i] = round % 2 == 0 && i >= few ? values[any(&seed) % few] : values[i];
        }
        struct bits_out out = {0};
        bits_put(&out, 5, 3); /* not at a byte's beginning */
        bits_put_column(&out, values, count);
        bits_put_choice(&out, (const uint64_t *)values, count % 50);
        assert_true(bits_finish(&out));
        struct bits_in in = {.bytes = out.bytes, .size = out.size};
        assert_int_equal(bits_get(&in, 3), 5);
        bits_get_column(&in, back, count);
        assert_memory_equal(values, back, count * sizeof *values);
        bits_get_choice(&in, (uint64_t *)back, count % 50);
        assert_memory_equal(values, back, count % 50 * sizeof *values);
        assert_true(bits_done(&in));
        free(out.bytes);
    }
}

/* [A] a list of ten numbers of two bytes each, its length and two parameters, and 190 places of 1, 2 or more
 * bits; each number by itself would take 11 bits. */
static void few_values_take_little(void **state) {
    (void)state;
    enum { COUNT = 190 };
    int64_t values[COUNT];
    for (int i = 0; i < COUNT; i++) {
        values[i] = i % 19 < 10 ? 1152 : 100 * (i % 19);
    }
    struct bits_out out = {0};
    bits_put_column(&out, values, COUNT);
    assert_true(bits_finish(&out));
    assert_in_range(out.size, 10, 3 + 20 + COUNT * 4 / 8);
    free(out.bytes);
}

/* Of colours that no step could show nothing is kept: one of these runs has none, of any step. */
static void colours_unseen_take_nothing(void **state) {
    (void)state;
    struct invented *invented = invented_new(SEED, 1, STEPS, 1);
    struct step_result *steps = (struct step_result *)invented->runs.runs[0]->steps;
    uint8_t *bytes = NULL;
    size_t with = 0, without = 0;
    for (int i = 0; i < STEPS; i += 2) { /* levels 1 and 0: far apart, if they stood in one column */
        steps[i].lit_colour = (struct cell_colour){0};
    }
    assert_true(pack_steps(&invented->plan, steps, STEPS, &bytes, &with));
    free(bytes);
    for (int i = 1; i < STEPS; i += 2) {
        steps[i].lit_colour = (struct cell_colour){0};
    }
    assert_true(pack_steps(&invented->plan, steps, STEPS, &bytes, &without));
    free(bytes);
    /* [A] as in good_runs_are_small: 21.8 bits a step for level and two differences, in half of the steps. */
    print_message("%zu bytes with half of the lit colours, %zu without\n", with, without);
    assert_in_range(with - without, 110, 180);
    invented_free(invented);
}

static void plan_comes_back(void **state) {
    (void)state;
    struct invented *invented = invented_new(SEED, 1, STEPS, 1);
    uint8_t *bytes = NULL;
    size_t size = 0;
    struct arena arena = {0};
    struct record_plan_step *steps = NULL;
    struct record_plan back = invented->plan;
    char why[400] = "";
    assert_true(pack_plan(invented->plan.steps, STEPS, &bytes, &size));
    assert_true(unpack_plan(bytes, size, &arena, &steps, &back.step_count));
    back.steps = steps;
    if (!record_plan_same(&invented->plan, &back, why, sizeof why)) {
        fail_msg("%s", why);
    }
    free(bytes);
    arena_free(&arena);
    invented_free(invented);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(columns_come_back),
        cmocka_unit_test(steps_come_back),
        cmocka_unit_test(wildest_steps_come_back),
        cmocka_unit_test(good_runs_are_small),
        cmocka_unit_test(damaged_bytes_are_noticed),
        cmocka_unit_test(noise_is_no_row),
        cmocka_unit_test(plan_comes_back),
        cmocka_unit_test(few_values_take_little),
        cmocka_unit_test(colours_unseen_take_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
