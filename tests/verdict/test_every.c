/* Plan every judged from fields in memory: what is counted, what is asked for, and that trouble of the
 * capture chain never makes a picture wrong. */
#include "verdict/every_draw.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct plan *open_every(uint32_t count, int repeat, enum standard standard) {
    struct plan *plan = NULL;
    struct problem problem;
    if (!every_plan(count, repeat, standard, &plan, &problem)) {
        fail_msg("%s", problem.text);
    }
    return plan;
}

/* The base that a free-running console shows after this many others. */
static uint32_t base_in_turn(const struct plan *plan, uint32_t turn) {
    const uint32_t bases = plan->every.bases, index = turn % (2 * bases);
    return every_base(&plan->every, index >= bases, index % bases);
}

static enum judged show(struct judge *judge, const struct plan *plan, const struct every_fault *fault,
                        uint32_t base, unsigned *counter) {
    struct reading reading;
    every_draw(plan, fault, base, (*counter)++, &reading);
    return judge_reading(judge, &reading, 2);
}

/* Whole rounds of a free-running console. */
static void show_rounds(struct judge *judge, const struct plan *plan, const struct every_fault *fault,
                        uint32_t rounds) {
    unsigned counter = 0;
    for (uint32_t turn = 0; turn < rounds * 2 * plan->every.bases; turn++) {
        show(judge, plan, fault, base_in_turn(plan, turn), &counter);
    }
}

static const char *findings(const struct result *result) {
    static char text[4000];
    text[0] = '\0';
    for (size_t i = 0; i < result->finding_count; i++) {
        const size_t used = strlen(text);
        snprintf(text + used, sizeof text - used, "%s: %s\n", finding_name(result->findings[i].kind),
                 result->findings[i].text);
    }
    return text;
}

static void check(const struct result *result, enum verdict verdict, uint64_t seen, uint64_t wrong,
                  uint64_t open) {
    if (result->verdict != verdict || result->coverage.seen != seen || result->coverage.wrong != wrong ||
        result->coverage.open != open) {
        fail_msg("%s, %llu of %llu seen, %llu wrong, %llu open; wanted %s, %llu, %llu, %llu\n%s",
                 verdict_name(result->verdict), (unsigned long long)result->coverage.seen,
                 (unsigned long long)result->coverage.of, (unsigned long long)result->coverage.wrong,
                 (unsigned long long)result->coverage.open, verdict_name(verdict), (unsigned long long)seen,
                 (unsigned long long)wrong, (unsigned long long)open, findings(result));
    }
}

/* ---- a good console ---- */

static void whole_plan(uint32_t count, int repeat, enum standard standard) {
    struct plan *plan = open_every(count, repeat, standard);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    assert_int_equal(judge_owed(judge), plan_pictures(plan));
    show_rounds(judge, plan, NULL, 1);
    assert_true(judge_complete(judge));
    const struct result *result = judge_result(judge);
    check(result, VERDICT_PASS, count, 0, 0);
    assert_int_equal(result->coverage.of, count);
    assert_int_equal(result->finding_count, 0);
    assert_int_equal(result->fields_judged, plan_pictures(plan));
    assert_int_equal(result->repeat_wanted, 0);
    judge_free(judge);
    plan_free(plan);
}

/* 2^21 pictures, 168 a field: 2 * ceil(2^20 / 168) = 12,484 fields [A]. */
static void good_console_passes(void **state) {
    (void)state;
    struct plan *plan = open_every(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    assert_int_equal(plan_pictures(plan), 12484);
    plan_free(plan);
    whole_plan(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    whole_plan(2 * EVERY_VALUES, 1, STANDARD_PAL);
    for (int repeat = 1; repeat <= EVERY_REPEAT_MAX; repeat++) {
        whole_plan(EVERY_LEAST, repeat, STANDARD_NTSC);
        whole_plan(EVERY_LEAST + 2, repeat, STANDARD_PAL);
    }
}

static void part_is_inconclusive(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    unsigned counter = 0;
    for (uint32_t turn = 0; turn < 10; turn++) {
        assert_int_equal(show(judge, plan, NULL, base_in_turn(plan, turn), &counter), JUDGED_PASS);
    }
    assert_int_equal(judge_owed(judge), plan_pictures(plan) - 10);
    const struct result *result = judge_result(judge);
    check(result, VERDICT_INCONCLUSIVE, 10 * 168, 0, 0);
    assert_true(result->finding_count > 0);
    judge_free(judge);
    plan_free(plan);
}

/* A value between two bases is nobody's; so is one past the plan's last. */
static void other_values_are_not_read(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    unsigned counter = 0;
    const uint32_t between = (base_in_turn(plan, 3) + 2 * EVERY_STEP) % EVERY_VALUES & ~1u;
    assert_int_equal(show(judge, plan, NULL, between, &counter), JUDGED_NOT);
    const uint32_t past = (uint32_t)((uint64_t)plan->every.bases * 168 * EVERY_STEP % EVERY_VALUES);
    assert_int_equal(show(judge, plan, NULL, past, &counter), JUDGED_NOT);
    const struct result *result = judge_result(judge);
    check(result, VERDICT_INCONCLUSIVE, 0, 0, 0);
    assert_int_equal(result->fields_unreadable, 2);
    judge_result(judge);
    assert_int_equal(judge_result(judge)->fields_unreadable, 2);
    judge_free(judge);
    plan_free(plan);
}

/* ---- faults ---- */

static void check_fault(const struct plan *plan, const struct every_fault *fault, const char *what) {
    struct judge *judge = judge_new(plan, EVERY_HASH);
    show_rounds(judge, plan, fault, 2);
    assert_true(judge_complete(judge));
    const struct result *result = judge_result(judge);
    if (result->finding_count == 0 || result->findings[0].kind == FINDING_UNEXPLAINED) {
        fail_msg("%s: not named\n%s", what, findings(result));
    }
    check(result, VERDICT_FAIL, 2 * plan->every.count, every_wrong(plan, fault), 0);
    judge_free(judge);
}

static bool found(const struct result *result, enum finding_kind kind, int reg, int bit) {
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        if (finding->kind == kind && finding->reg == reg && finding->bit == bit) {
            return true;
        }
    }
    return false;
}

/* Each part by name, and nothing else. */
static void check_names(const struct plan *plan, const struct every_fault *fault) {
    static const enum finding_kind kinds[PART_KINDS] = {FINDING_UNEXPLAINED,    FINDING_BIT_STUCK_LOW,
                                                        FINDING_BIT_STUCK_HIGH, FINDING_BIT_COUPLED,
                                                        FINDING_BITS_ANDED,     FINDING_BITS_ORED};
    struct judge *judge = judge_new(plan, EVERY_HASH);
    show_rounds(judge, plan, fault, 2);
    const struct result *result = judge_result(judge);
    size_t parts = 0;
    for (int i = 0; i < FAULT_PARTS; i++) {
        const struct part *part = &fault->part[i];
        if (part->kind != PART_NONE) {
            const int reg = part->at < 4 ? REG_PF0 : part->at < 12 ? REG_PF1 : REG_PF2;
            const int bit = part->at < 4 ? part->at + 4 : part->at < 12 ? 11 - part->at : part->at - 12;
            parts++;
            if (!found(result, kinds[part->kind], reg, bit)) {
                fail_msg("%s: part %d not named\n%s", every_fault_name(fault), i, findings(result));
            }
        }
    }
    /* A data line that would draw the same is told beside. */
    const bool either =
        result->findings[0].kind == FINDING_DATA_LINE_STUCK && result->findings[0].alternative;
    if (result->finding_count != parts + either) {
        fail_msg("%s: %zu findings\n%s", every_fault_name(fault), result->finding_count, findings(result));
    }
    check(result, VERDICT_FAIL, 2 * plan->every.count, every_wrong(plan, fault), 0);
    judge_free(judge);
}

/* All 2^21, so that what is counted is what arithmetic over all values says, and a smaller plan for many
 * more. */
static void random_faults_are_counted_and_named(void **state) {
    (void)state;
    const bool small = getenv("SLOTJIG_TEST_SMALL") != NULL;
    const char *told = getenv("SLOTJIG_SEED");
    uint64_t random = told != NULL ? strtoull(told, NULL, 10) : 1;
    printf("seed %llu\n", (unsigned long long)random);
    struct plan *plan = open_every(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    struct every_fault fault;
    for (int i = 0; i < (small ? 1 : 8); i++) {
        every_random_fault(&random, &fault);
        check_names(plan, &fault);
    }
    plan_free(plan);
    plan = open_every(16384, 1, STANDARD_NTSC);
    for (int i = 0; i < (small ? 10 : 200); i++) {
        every_random_fault(&random, &fault);
        check_names(plan, &fault);
    }
    plan_free(plan);
}

static void modes_are_named(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    const struct every_fault mirror = {.mirror_ignored = true}, copy = {.copy_ignored = true};
    check_fault(plan, &mirror, "mirror ignored");
    check_fault(plan, &copy, "copy ignored");
    plan_free(plan);
}

/* ---- asking ---- */

/* A board with a queue, and a grabber that loses fields. */
struct bench {
    const struct plan *plan;
    struct judge *judge;
    uint32_t queue[64];
    size_t queued, most; /* values kept in the queue */
    uint32_t base;       /* that a console which is told nothing shows next, in turn */
    unsigned counter;
    uint64_t shown, random;
    double loss;
    uint64_t burst_at, burst;
    const struct every_fault *fault;
};

static uint32_t next_shown(struct bench *bench) {
    if (bench->queued == 0) {
        return base_in_turn(bench->plan, bench->base++);
    }
    const uint32_t value = bench->queue[0];
    memmove(bench->queue, bench->queue + 1, --bench->queued * sizeof bench->queue[0]);
    return value;
}

static bool is_lost(struct bench *bench) {
    const bool burst = bench->shown >= bench->burst_at && bench->shown < bench->burst_at + bench->burst;
    return burst || (double)(every_random(&bench->random) >> 11) * 0x1p-53 < bench->loss;
}

/* Until nothing is owed, or too many fields have passed. */
static void run_bench(struct bench *bench, bool told, uint64_t most) {
    while (!judge_complete(bench->judge) && bench->shown < most) {
        if (told && bench->queued < bench->most) {
            bench->queued +=
                judge_ask(bench->judge, bench->queue + bench->queued, bench->most - bench->queued);
        }
        const uint32_t base = next_shown(bench);
        const bool lost = is_lost(bench);
        bench->shown++;
        if (!lost) {
            show(bench->judge, bench->plan, bench->fault, base, &bench->counter);
        } else {
            bench->counter++;
        }
    }
}

static struct bench new_bench(struct plan *plan, size_t queue) {
    return (struct bench){.plan = plan,
                          .judge = judge_new(plan, EVERY_HASH),
                          .most = queue,
                          .random = 1,
                          .burst_at = UINT64_MAX};
}

/* A console that is told goes through the plan as one that runs free, and no field is wasted. */
static void asks_in_the_console_s_order(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct bench bench = new_bench(plan, 6);
    uint32_t values[256];
    const size_t count = judge_ask(bench.judge, values, 50);
    assert_int_equal(count, 50);
    for (uint32_t i = 0; i < count; i++) {
        assert_int_equal(values[i], base_in_turn(plan, i));
    }
    assert_int_equal(judge_ask(bench.judge, values, 256), plan_pictures(plan) - 50);
    assert_int_equal(judge_ask(bench.judge, values, 256), 0); /* all are under way */
    judge_free(bench.judge);
    bench = new_bench(plan, 6);
    run_bench(&bench, true, 100000);
    assert_int_equal(bench.shown, plan_pictures(plan));
    check(judge_result(bench.judge), VERDICT_PASS, 16384, 0, 0);
    judge_free(bench.judge);
    plan_free(plan);
}

/* What is on the screen before anything was asked for is not asked for. */
static void what_was_seen_is_not_asked_for(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct bench bench = new_bench(plan, 6);
    uint32_t value;
    for (uint32_t i = 0; i < 5; i++) {
        show(bench.judge, plan, NULL, base_in_turn(plan, i), &bench.counter);
    }
    assert_int_equal(judge_ask(bench.judge, &value, 1), 1);
    assert_int_equal(value, base_in_turn(plan, 5));
    judge_free(bench.judge);
    plan_free(plan);
}

/* One asked for is asked for again once one asked for eight later was seen, and not before. */
static void a_lost_base_is_asked_for_again(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct bench bench = new_bench(plan, 6);
    uint32_t values[128], again;
    const size_t count = judge_ask(bench.judge, values, 128);
    assert_int_equal(count, plan_pictures(plan));
    for (uint32_t i = 1; i < 8; i++) { /* the first one is lost */
        show(bench.judge, plan, NULL, values[i], &bench.counter);
        assert_int_equal(judge_ask(bench.judge, &again, 1), 0);
    }
    show(bench.judge, plan, NULL, values[8], &bench.counter);
    assert_int_equal(judge_ask(bench.judge, &again, 1), 1);
    assert_int_equal(again, values[0]);
    assert_int_equal(judge_ask(bench.judge, &again, 1), 0);
    judge_free(bench.judge);
    plan_free(plan);
}

/* 5 % lost, and 200 in a burst: N / 0.95 + 200 fields and 10 % [A]. A field shown again may be lost too. */
static void lost_fields_cost_what_arithmetic_says(void **state) {
    (void)state;
    struct plan *plan = open_every(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    const double bases = plan_pictures(plan), most = 1.1 * (bases / 0.95 + 200);
    static const size_t queues[] = {1, 4, 16, 64};
    for (size_t i = getenv("SLOTJIG_TEST_SMALL") != NULL ? 3 : 0; i < sizeof queues / sizeof queues[0]; i++) {
        struct bench bench = new_bench(plan, queues[i]);
        bench.random = 1 + i;
        bench.loss = 0.05;
        bench.burst_at = 5000;
        bench.burst = 200;
        run_bench(&bench, true, (uint64_t)most);
        printf("queue %zu: %llu fields for %.0f bases, at most %.0f\n", queues[i],
               (unsigned long long)bench.shown, bases, most);
        check(judge_result(bench.judge), VERDICT_PASS, 2 * EVERY_VALUES, 0, 0);
        judge_free(bench.judge);
    }
    struct bench bench = new_bench(plan, 0);
    bench.loss = 0.05;
    bench.burst_at = 5000;
    bench.burst = 200;
    run_bench(&bench, false, 4 * plan_pictures(plan));
    printf("free-running: %llu fields\n", (unsigned long long)bench.shown);
    check(judge_result(bench.judge), VERDICT_PASS, 2 * EVERY_VALUES, 0, 0);
    judge_free(bench.judge);
    plan_free(plan);
}

/* The very last bases lost, so that none asked for later can be seen. */
static void the_last_ones_are_asked_for_again(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct bench bench = new_bench(plan, 16);
    bench.burst_at = plan_pictures(plan) - 5;
    bench.burst = 5;
    run_bench(&bench, true, plan_pictures(plan) + 200);
    check(judge_result(bench.judge), VERDICT_PASS, 16384, 0, 0);
    judge_free(bench.judge);
    plan_free(plan);
}

static void wrong_pictures_are_asked_for_again(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    const struct every_fault fault = {.part = {{PART_LOW, 4, 0}}};
    struct bench bench = new_bench(plan, 16);
    bench.fault = &fault;
    run_bench(&bench, true, 100000);
    assert_true(bench.shown <= 2 * plan_pictures(plan) + 16);
    check(judge_result(bench.judge), VERDICT_FAIL, 16384, every_wrong(plan, &fault), 0);
    judge_free(bench.judge);
    plan_free(plan);
}

/* ---- two different fields ---- */

static uint64_t wrong_now(struct judge *judge) {
    return judge_result(judge)->coverage.wrong;
}

/* PF1 D7 is dark in the first field, PF1 D2 in the next: where both are set, each field shows other cells. A
 * third field that shows what the second did makes those wrong. */
static void two_fields_must_say_the_same(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    const struct every_fault one = {.part = {{PART_LOW, 4, 0}}}, other = {.part = {{PART_LOW, 9, 0}}};
    const uint32_t base = base_in_turn(plan, 3);
    unsigned counter = 0;
    uint64_t both = 0;
    for (int place = 0; place < 168; place++) {
        const uint32_t v = every_value(base, place);
        both += (v >> 15 & v >> 10 & 1) != 0; /* PF1 is bits 8-15 [H serial output table] */
    }
    assert_in_range(both, 1, 167);
    assert_int_equal(show(judge, plan, &one, base, &counter), JUDGED_FAIL);
    assert_int_equal(wrong_now(judge), 0);
    assert_int_equal(show(judge, plan, &other, base, &counter), JUDGED_FAIL);
    assert_int_equal(wrong_now(judge), 0);
    assert_int_equal(judge_result(judge)->coverage.open, both);
    show(judge, plan, &other, base, &counter);
    assert_true(wrong_now(judge) >= both);
    judge_free(judge);
    plan_free(plan);
}

/* The same field given twice is one field. */
static void a_doubled_field_says_nothing_twice(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    const struct every_fault fault = {.part = {{PART_LOW, 4, 0}}};
    const uint32_t base = base_in_turn(plan, 3);
    unsigned counter = 7;
    for (int i = 0; i < 4; i++) {
        unsigned same = counter;
        show(judge, plan, &fault, base, &same);
    }
    assert_int_equal(wrong_now(judge), 0);
    counter++;
    show(judge, plan, &fault, base, &counter);
    assert_true(wrong_now(judge) > 0);
    judge_free(judge);
    plan_free(plan);
}

/* ---- trouble of the capture chain ---- */

/* What spoils the fields: given a good one, and the one shown before. */
typedef void (*spoiler)(struct reading *reading, const struct reading *before, uint64_t *random, int times);

/* Goes through the plan for some rounds, each field spoilt where the spoiler likes. */
static const struct result *spoil(struct judge *judge, const struct plan *plan, spoiler spoil_it,
                                  uint32_t rounds, const struct every_fault *fault) {
    struct reading before = {.state = FIELD_READ}, reading, clean;
    uint64_t random = 7;
    unsigned counter = 0;
    for (uint32_t turn = 0; turn < rounds * plan_pictures(plan); turn++) {
        every_draw(plan, fault, base_in_turn(plan, turn), counter++, &reading);
        clean = reading;
        spoil_it(&reading, &before, &random, (int)(turn / plan_pictures(plan)));
        before = clean;
        judge_reading(judge, &reading, 2);
    }
    return judge_result(judge);
}

static void never_wrong(spoiler spoil_it, uint32_t rounds, bool passes) {
    struct plan *plan = open_every(65536, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    const struct result *result = spoil(judge, plan, spoil_it, rounds, NULL);
    if (result->verdict == VERDICT_FAIL || result->coverage.wrong > 0 ||
        (passes && result->verdict != VERDICT_PASS)) {
        fail_msg("%s, %llu wrong, %llu open: %s", verdict_name(result->verdict),
                 (unsigned long long)result->coverage.wrong, (unsigned long long)result->coverage.open,
                 findings(result));
    }
    judge_free(judge);
    plan_free(plan);
}

/* Every field's lower part is that of the field before, always from the same line on: the same cells in every
 * round. */
static void spoil_lower(struct reading *reading, const struct reading *before, uint64_t *random, int times) {
    (void)random, (void)times;
    memcpy(&reading->lit[100], &before->lit[100], 68 * sizeof reading->lit[0]);
}

/* One in ten, from any line on, upper or lower part, of the field before. */
static void spoil_some(struct reading *reading, const struct reading *before, uint64_t *random, int times) {
    (void)times;
    if (every_random(random) % 10 == 0) {
        const size_t line = every_random(random) % 168;
        const bool upper = every_random(random) % 2 != 0;
        memcpy(&reading->lit[upper ? 0 : line], &before->lit[upper ? 0 : line],
               (upper ? line : 168 - line) * sizeof reading->lit[0]);
    }
}

/* A line is missing half way down, so that all below stand a line higher, in every field. */
static void spoil_displaced(struct reading *reading, const struct reading *before, uint64_t *random,
                            int times) {
    (void)before, (void)random, (void)times;
    memmove(&reading->lit[80], &reading->lit[81], 87 * sizeof reading->lit[0]);
}

/* All lines stand a line higher. */
static void spoil_raster(struct reading *reading, const struct reading *before, uint64_t *random, int times) {
    (void)before, (void)random, (void)times;
    memmove(&reading->lit[0], &reading->lit[1], 167 * sizeof reading->lit[0]);
}

/* A word in the picture, as recorders put it there: cells 3 to 9 of lines 20 to 40. */
static void spoil_overlaid(struct reading *reading, const struct reading *before, uint64_t *random,
                           int times) {
    (void)before, (void)random, (void)times;
    for (int line = 20; line < 40; line++) {
        reading->lit[line] = (reading->lit[line] & ~UINT64_C(0x3F8)) | (line % 3 == 0 ? 0x2A8 : 0x150);
    }
}

/* The last lines are black in every field. */
static void spoil_cut(struct reading *reading, const struct reading *before, uint64_t *random, int times) {
    (void)before, (void)random, (void)times;
    memset(&reading->lit[160], 0, 8 * sizeof reading->lit[0]);
}

/* Black from some line on, or all of it, in one field of twenty. */
static void spoil_black(struct reading *reading, const struct reading *before, uint64_t *random, int times) {
    (void)before, (void)times;
    if (every_random(random) % 20 == 0) {
        const size_t line = every_random(random) % 4 == 0 ? 0 : every_random(random) % 168;
        memset(&reading->lit[line], 0, (168 - line) * sizeof reading->lit[0]);
    }
}

/* Noise that misreads one cell in a thousand clearly and leaves twenty times as many unclear. */
static void spoil_noisy(struct reading *reading, const struct reading *before, uint64_t *random, int times) {
    (void)before, (void)times;
    for (int line = 0; line < 168; line++) {
        for (int cell = 0; cell < CELLS; cell++) {
            const uint64_t draw = every_random(random) % 1000;
            reading->lit[line] ^= (uint64_t)(draw == 0) << cell;
            reading->unclear[line] |= (uint64_t)(draw > 980) << cell;
        }
    }
}

/* Compression that misreads what it cannot keep, the same way each time: one line in 3,000 clearly, fifty
 * times as many unclear. */
static void spoil_compressed(struct reading *reading, const struct reading *before, uint64_t *random,
                             int times) {
    (void)before, (void)random, (void)times;
    for (int line = 0; line < 168; line++) {
        uint64_t hash = reading->lit[line] * UINT64_C(0x9E3779B97F4A7C15);
        const uint64_t draw = every_random(&hash) % 3000;
        reading->unclear[line] |= (uint64_t)(draw > 2949) << 7;
        reading->lit[line] ^= (uint64_t)(draw == 0) << 11;
    }
}

/* Clear misreadings, one line in a hundred, of any cell: twice the same cell in one of 40 of those that are
 * hit twice. */
static void spoil_flips(struct reading *reading, const struct reading *before, uint64_t *random, int times) {
    (void)before, (void)times;
    for (int line = 0; line < 168; line++) {
        const uint64_t draw = every_random(random);
        reading->lit[line] ^= draw % 100 == 0 ? UINT64_C(1) << (draw >> 32) % CELLS : 0;
    }
}

/* One base in 19 is hard to compress: a few lines unclear and about as many misread, the same in every
 * round. */
static void spoil_some_bases(struct reading *reading, const struct reading *before, uint64_t *random,
                             int times) {
    (void)before, (void)random, (void)times;
    for (int line = 0; reading->slate.value % 19 == 3 && line < 168; line++) {
        reading->unclear[line] |= line % 14 == 0 ? 0x80 : 0;
        reading->lit[line] ^= line % 14 == 5 ? UINT64_C(1) << line % CELLS : 0;
    }
}

/* Each says that its cells are not to be trusted, and all of them are wrong. */
static void spoil_told(struct reading *reading, const struct reading *before, uint64_t *random, int times) {
    (void)before;
    const uint64_t which = every_random(random) % 5;
    reading->unsettled = which == 0;
    reading->blended = which == 1;
    reading->echo = which == 2 ? -0.3 : 0;
    reading->mixing = which == 3 ? 0.45 : 0;
    reading->noise = which == 4 ? 90 : 2;
    for (int line = 0; times < 2 && line < 168; line++) {
        reading->lit[line] ^= UINT64_C(1) << 17 | UINT64_C(1) << 37;
    }
}

/* Such a field is not taken for a wrong one even once. */
static void a_displaced_field_fails_nothing(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    for (uint32_t turn = 0; turn < 6; turn++) {
        struct reading reading;
        every_draw(plan, NULL, base_in_turn(plan, turn), turn, &reading);
        spoil_displaced(&reading, NULL, NULL, 0);
        assert_int_equal(judge_reading(judge, &reading, 2), JUDGED_PASS);
    }
    judge_free(judge);
    plan_free(plan);
}

static void torn_fields_make_nothing_wrong(void **state) {
    (void)state;
    never_wrong(spoil_lower, 3, false);
    never_wrong(spoil_some, 4, true);
    never_wrong(spoil_displaced, 3, false);
    never_wrong(spoil_raster, 3, false);
    never_wrong(spoil_black, 4, true);
}

static void what_lies_over_the_picture_makes_nothing_wrong(void **state) {
    (void)state;
    never_wrong(spoil_overlaid, 3, false);
    never_wrong(spoil_cut, 3, false);
}

static void bad_video_makes_nothing_wrong(void **state) {
    (void)state;
    never_wrong(spoil_noisy, 4, false);
    never_wrong(spoil_compressed, 4, false);
    never_wrong(spoil_told, 3, true);
    never_wrong(spoil_flips, 4, true);
    never_wrong(spoil_some_bases, 3, false);
}

/* Half of a field's lines may be torn away: the fault is still counted to a picture, for each is shown again.
 */
static void a_fault_is_counted_through_torn_fields(void **state) {
    (void)state;
    struct plan *plan = open_every(65536, 1, STANDARD_NTSC);
    const struct every_fault fault = {.part = {{PART_AND, 4, 17}, {PART_HIGH, 9, 0}}};
    struct judge *judge = judge_new(plan, EVERY_HASH);
    check(spoil(judge, plan, spoil_some, 8, &fault), VERDICT_FAIL, 65536, every_wrong(plan, &fault), 0);
    assert_true(judge_result(judge)->findings[0].kind != FINDING_UNEXPLAINED);
    judge_free(judge);
    plan_free(plan);
}

/* ---- faults that come and go ---- */

static void check_flaky(double rate, bool high, int position, uint64_t random) {
    struct plan *plan = open_every(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    const struct every_fault fault = {.part = {{high ? PART_HIGH : PART_LOW, position, 0}}};
    struct judge *judge = judge_new(plan, EVERY_HASH);
    unsigned counter = 0, hits = 0, shown = 0;
    for (uint32_t turn = 0; turn < 2 * plan_pictures(plan) && !judge_complete(judge); turn++) {
        const bool hit = (double)(every_random(&random) >> 11) * 0x1p-53 < rate;
        hits += hit;
        shown++;
        show(judge, plan, hit ? &fault : NULL, base_in_turn(plan, turn), &counter);
    }
    const struct result *result = judge_result(judge);
    if (result->verdict != VERDICT_FAIL || result->finding_count != 1 ||
        result->findings[0].kind != FINDING_INTERMITTENT) {
        fail_msg("rate %g: %s\n%s", rate, verdict_name(result->verdict), findings(result));
    }
    /* Every field can show it; so what is told is what was shown [A]. */
    assert_true(fabs(result->findings[0].rate - (double)hits / shown) < 1e-9);
    assert_int_equal(result->findings[0].bit, position < 4 ? position + 4 : 11 - position);
    judge_free(judge);
    plan_free(plan);
}

static void a_bit_that_comes_and_goes_is_found(void **state) {
    (void)state;
    check_flaky(0.3, false, 8, 1);
    if (getenv("SLOTJIG_TEST_SMALL") != NULL) {
        return;
    }
    check_flaky(0.3, true, 2, 2);
    check_flaky(0.9, false, 8, 3);
    check_flaky(0.001, true, 10, 4);
}

/* Values that no rule describes: counted, and told by counts. */
static void what_no_rule_covers_is_counted(void **state) {
    (void)state;
    struct plan *plan = open_every(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    struct reading reading;
    uint64_t wrong = 0;
    unsigned counter = 0;
    for (uint32_t turn = 0; turn < 2 * plan_pictures(plan); turn++) {
        const uint32_t base = base_in_turn(plan, turn);
        every_draw(plan, NULL, base, counter++, &reading);
        for (int place = 0; place < 168; place++) {
            /* Four ones in a row of PF1, and no others there: 1 value in 256 of either mode [A]. */
            const uint32_t v = every_value(base, place);
            if ((v >> 8 & 0xFF) == 0x3C) {
                reading.lit[place] &= ~(UINT64_C(1) << 6);
                wrong++;
            }
        }
        judge_reading(judge, &reading, 2);
    }
    const struct result *result = judge_result(judge);
    assert_true(wrong > 2 * EVERY_VALUES / 256);
    check(result, VERDICT_FAIL, 2 * EVERY_VALUES, 2 * EVERY_VALUES / 256, 0);
    assert_int_equal(result->finding_count, 1);
    assert_int_equal(result->findings[0].kind, FINDING_UNEXPLAINED);
    assert_non_null(strstr(result->findings[0].text, "8192 pictures"));
    assert_non_null(strstr(result->findings[0].text, "4096 in copy, 4096 in mirror"));
    assert_non_null(strstr(result->findings[0].text, "cell 6 (in copy PF1 D5) in 8192"));
    judge_free(judge);
    plan_free(plan);
}

/* ---- one half, one mode ---- */

/* PF1 D4 (place 7) dark in some of the places where it is drawn: cell 7, and 27 in copy or 32 in mirror. */
static const struct result *show_dark(struct judge *judge, const struct plan *plan, bool left, bool right,
                                      bool copy, bool mirrored) {
    struct reading reading;
    unsigned counter = 0;
    for (uint32_t turn = 0; turn < 2 * plan_pictures(plan); turn++) {
        const uint32_t base = base_in_turn(plan, turn);
        const bool mirror = (base & 1) != 0;
        every_draw(plan, NULL, base, counter++, &reading);
        for (int line = 0; line < 168; line++) {
            const uint64_t cells =
                (left ? UINT64_C(1) << 7 : 0) | (right ? UINT64_C(1) << (mirror ? 32 : 27) : 0);
            reading.lit[line] &= (mirror ? mirrored : copy) ? ~cells : UINT64_MAX;
        }
        judge_reading(judge, &reading, 2);
    }
    return judge_result(judge);
}

static void halves_and_modes_are_said(void **state) {
    (void)state;
    static const struct {
        bool left, right, copy, mirrored;
        const char *text;
    } cases[] = {{true, false, true, true, "in the left half only"},
                 {false, true, true, true, "in the right half only"},
                 {true, true, true, false, "in copy mode only"},
                 {true, true, false, true, "in mirror mode only"},
                 {false, true, false, true, "in the right half in mirror mode only"}};
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct judge *judge = judge_new(plan, EVERY_HASH);
        const struct result *result =
            show_dark(judge, plan, cases[i].left, cases[i].right, cases[i].copy, cases[i].mirrored);
        assert_int_equal(result->verdict, VERDICT_FAIL);
        assert_int_equal(result->finding_count, 1);
        if (!found(result, FINDING_BIT_STUCK_LOW, REG_PF1, 4) ||
            strstr(result->findings[0].text, cases[i].text) == NULL) {
            fail_msg("wanted %s: %s", cases[i].text, findings(result));
        }
        judge_free(judge);
    }
    plan_free(plan);
}

/* ---- grabbers that mix lines ---- */

/* Each line holds as much of a line next to it as of itself: cells that differ lie half way. by: -1, 1, or 0,
 * both, where a cell is half way only if both differ. */
static void mix_lines(const struct plan *plan, struct reading *reading, int by) {
    static uint64_t whole[PICTURE_LINES_MAX];
    const int lines = plan->every.lines;
    memcpy(whole, reading->lit, sizeof whole);
    for (int line = 0; line < lines; line++) {
        const int above = line > 0 ? line - 1 : line, below = line < lines - 1 ? line + 1 : line;
        const uint64_t over = whole[line] ^ whole[above], under = whole[line] ^ whole[below];
        reading->unclear[line] = by < 0 ? over : by > 0 ? under : over & under;
    }
}

static int wanted_with(int repeat, int by, enum verdict *verdict) {
    struct plan *plan = open_every(16384, repeat, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    struct reading reading;
    for (uint32_t turn = 0; turn < 100 || turn < plan_pictures(plan); turn++) {
        every_draw(plan, NULL, base_in_turn(plan, turn), turn, &reading);
        mix_lines(plan, &reading, by);
        judge_reading(judge, &reading, 2);
    }
    const int wanted = judge_repeat_wanted(judge);
    assert_int_equal(judge_result(judge)->repeat_wanted, wanted);
    assert_int_equal(judge_result(judge)->coverage.wrong, 0);
    *verdict = judge_result(judge)->verdict;
    judge_free(judge);
    plan_free(plan);
    return wanted;
}

/* One neighbour: of two lines alike one is whole. Both: of three the middle one is [A]. */
static void mixed_lines_are_held_longer(void **state) {
    (void)state;
    enum verdict verdict;
    assert_int_equal(wanted_with(1, -1, &verdict), 2);
    assert_int_equal(verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(wanted_with(1, 1, &verdict), 2);
    assert_int_equal(wanted_with(1, 0, &verdict), 3);
    for (int by = -1; by <= 1; by++) {
        assert_int_equal(wanted_with(by == 0 ? 3 : 2, by, &verdict), 0);
        assert_int_equal(verdict, VERDICT_PASS);
    }
}

/* A field that says it mixes: a cell against both its neighbours would read as theirs, clearly. */
static void what_neighbours_may_have_made_is_not_wrong(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    struct reading reading;
    uint64_t whole[PICTURE_LINES_MAX];
    for (uint32_t turn = 0; turn < 3 * plan_pictures(plan); turn++) {
        every_draw(plan, NULL, base_in_turn(plan, turn), turn, &reading);
        memcpy(whole, reading.lit, sizeof whole);
        for (int line = 1; line < 167; line++) {
            reading.lit[line] ^= (whole[line] ^ whole[line - 1]) & (whole[line] ^ whole[line + 1]);
        }
        reading.mixing = 0.7;
        judge_reading(judge, &reading, 2);
    }
    assert_int_equal(judge_result(judge)->coverage.wrong, 0);
    assert_int_equal(judge_result(judge)->verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(judge_repeat_wanted(judge), 3);
    judge_free(judge);
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_console_passes),
        cmocka_unit_test(part_is_inconclusive),
        cmocka_unit_test(other_values_are_not_read),
        cmocka_unit_test(random_faults_are_counted_and_named),
        cmocka_unit_test(modes_are_named),
        cmocka_unit_test(halves_and_modes_are_said),
        cmocka_unit_test(mixed_lines_are_held_longer),
        cmocka_unit_test(what_neighbours_may_have_made_is_not_wrong),
        cmocka_unit_test(asks_in_the_console_s_order),
        cmocka_unit_test(what_was_seen_is_not_asked_for),
        cmocka_unit_test(a_lost_base_is_asked_for_again),
        cmocka_unit_test(lost_fields_cost_what_arithmetic_says),
        cmocka_unit_test(the_last_ones_are_asked_for_again),
        cmocka_unit_test(wrong_pictures_are_asked_for_again),
        cmocka_unit_test(two_fields_must_say_the_same),
        cmocka_unit_test(a_doubled_field_says_nothing_twice),
        cmocka_unit_test(a_displaced_field_fails_nothing),
        cmocka_unit_test(torn_fields_make_nothing_wrong),
        cmocka_unit_test(what_lies_over_the_picture_makes_nothing_wrong),
        cmocka_unit_test(bad_video_makes_nothing_wrong),
        cmocka_unit_test(a_fault_is_counted_through_torn_fields),
        cmocka_unit_test(a_bit_that_comes_and_goes_is_found),
        cmocka_unit_test(what_no_rule_covers_is_counted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
