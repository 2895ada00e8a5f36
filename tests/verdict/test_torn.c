/* Pictures of which the capture chain shows a part only are no fault of the console's, wherever they change.
 */
#include "draw.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static const struct fault none;

/* The field of a step, from `line` on as the step `from` (or -1: black) draws it; up to line end. */
static void draw_torn(const struct plan *plan, const struct fault *fault, uint32_t step, long from, int line,
                      int end, unsigned counter, struct reading *reading) {
    struct reading other;
    draw_step(fault, plan, step, counter, reading);
    draw_step(fault, plan, from < 0 ? step : (uint32_t)from, counter, &other);
    for (; line < end; line++) {
        reading->lit[line] = from < 0 ? 0 : other.lit[line];
        reading->unclear[line] = from < 0 ? 0 : other.unclear[line];
    }
}

struct way {
    int step_away; /* of the picture below; 0: black */
    int line, end;
};

static const struct way ways[] = {
    {1, 100, 168}, {1, 20, 168}, {1, 8, 168}, {-1, 60, 168}, {0, 84, 168}, {0, 10, 168}, {-1, 40, 100},
};

/* All fields of the run but every other one are torn: good ones pass, and the torn ones say nothing. */
static void test_good_console(void **state) {
    (void)state;
    struct problem problem = {0};
    struct plan *plan;
    assert_true(plan_open("bits", STANDARD_NTSC, &plan, &problem));
    for (size_t w = 0; w < sizeof ways / sizeof ways[0]; w++) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        for (unsigned n = 0; n < plan->step_count * 6; n++) {
            struct reading reading;
            long count = (long)plan->step_count, step = n / 6;
            long from = ways[w].step_away == 0 ? -1 : (step + ways[w].step_away + count) % count;
            bool torn = n % 2 == 0;
            draw_torn(plan, &none, (uint32_t)step, from, torn ? ways[w].line : 168, ways[w].end, n, &reading);
            judge_reading(judge, &reading, 2);
        }
        const struct result *result = judge_result(judge);
        if (result->verdict != VERDICT_PASS) {
            draw_findings(result);
            fail_msg("way %zu: %s", w, verdict_name(result->verdict));
        }
        judge_free(judge);
    }
    plan_free(plan);
}

/* The same with a stuck bit: it is named by the other fields. */
static void test_broken_console(void **state) {
    (void)state;
    struct problem problem = {0};
    struct plan *plan;
    struct fault low = {.low = 1u << 8};
    assert_true(plan_open("bits", STANDARD_NTSC, &plan, &problem));
    for (size_t w = 0; w < sizeof ways / sizeof ways[0]; w++) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        for (unsigned n = 0; n < plan->step_count * 6; n++) {
            struct reading reading;
            long count = (long)plan->step_count, step = n / 6;
            long from = ways[w].step_away == 0 ? -1 : (step + ways[w].step_away + count) % count;
            draw_torn(plan, &low, (uint32_t)step, from, n % 2 == 0 ? ways[w].line : 168, ways[w].end, n,
                      &reading);
            judge_reading(judge, &reading, 2);
        }
        const struct result *result = judge_result(judge);
        assert_int_equal(result->verdict, VERDICT_FAIL);
        assert_int_equal(result->findings[0].kind, FINDING_BIT_STUCK_LOW);
        judge_free(judge);
    }
    plan_free(plan);
}

enum { THIN_LINES = 3, THIN_BANDS = 168 / THIN_LINES, THIN_STEPS = 3 };

static uint8_t thin_value(int step, int band) {
    return (uint8_t)(1u << (band * 3 + step * 2) % 8);
}

static struct plan *thin_bands(void) {
    struct problem problem = {0};
    struct plan *plan = plan_new("thin", STANDARD_NTSC);
    for (int step = 0; step < THIN_STEPS; step++) {
        struct band bands[THIN_BANDS];
        for (int n = 0; n < THIN_BANDS; n++) {
            bands[n] = (struct band){.lines = THIN_LINES, .count = 3};
            bands[n].writes[0] = (struct write){REG_PF1, thin_value(step, n), WRITE_BEFORE};
            bands[n].writes[1] = (struct write){REG_PF0, 0, WRITE_BEFORE};
            bands[n].writes[2] = (struct write){REG_PF2, 0, WRITE_BEFORE};
        }
        if (!plan_add_step(plan, (const char *[]){"one", "two", "three"}[step], bands, THIN_BANDS,
                           &problem)) {
            fail_msg("%s", problem.text);
        }
    }
    return plan;
}

/* Bands too thin for a run of lines: the picture below the tear is the next step's, above its own. */
static void test_thin_bands(void **state) {
    (void)state;
    struct plan *plan = thin_bands();
    for (int line = 3; line < 160; line += 13) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        for (unsigned n = 0; n < THIN_STEPS * 6; n++) {
            struct reading reading, one;
            int step = (int)n / 6;
            for (int i = 0; i < 168; i++) {
                int shown = n % 2 == 0 && i >= line ? (step + 1) % THIN_STEPS : step;
                uint8_t registers[REG_COUNT] = {[REG_COLUPF] = 0x0E};
                registers[REG_PF1] = thin_value(shown, i / THIN_LINES);
                draw_reading(&none, registers, (uint32_t)step, n, i == 0 ? &reading : &one);
                reading.lit[i] = i == 0 ? reading.lit[0] : one.lit[0];
            }
            reading.edges = 0;
            judge_reading(judge, &reading, 2);
        }
        const struct result *result = judge_result(judge);
        if (result->verdict != VERDICT_PASS) {
            draw_findings(result);
            fail_msg("torn at line %d: %s", line, verdict_name(result->verdict));
        }
        judge_free(judge);
    }
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good_console),
        cmocka_unit_test(test_broken_console),
        cmocka_unit_test(test_thin_bands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
