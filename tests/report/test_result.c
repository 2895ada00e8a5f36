/* A result as a person and as a program reads it: how findings are joined, trouble of the capture chain, the
 * colours of a step. */
#include "report/terminal.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct plan *plan;
static struct result result;
static struct step_result steps[128];
static struct report report;

static int make_result(void **state) {
    (void)state;
    struct problem problem;
    if (!plan_open("bits", STANDARD_NTSC, &plan, &problem)) {
        return -1;
    }
    memset(&result, 0, sizeof result);
    memset(steps, 0, sizeof steps);
    result.verdict = VERDICT_FAIL;
    result.step_count = plan->step_count;
    result.steps = steps;
    report = (struct report){.plan = plan, .bench = "virtual", .result = &result, .command = "run"};
    return 0;
}

static int free_plan(void **state) {
    (void)state;
    plan_free(plan);
    return 0;
}

static void find(enum finding_kind kind, bool alternative, int explanation) {
    struct finding *finding = &result.findings[result.finding_count++];
    *finding = (struct finding){
        .kind = kind, .reg = -1, .bit = -1, .alternative = alternative, .explanation = explanation};
}

static char *terminal_text(void) {
    char *text = NULL;
    size_t size = 0;
    FILE *stream = open_memstream(&text, &size);
    struct terminal_style style = {false};
    terminal_result(stream, &report, style);
    fclose(stream);
    return text;
}

static void expect_in(const char *text, const char *wanted) {
    if (strstr(text, wanted) == NULL) {
        fail_msg("\"%s\" is not in:\n%s", wanted, text);
    }
}

/* One data line, or a pair of bits; and beside that a colour with two ways to explain it. */
static void test_joints(void **state) {
    (void)state;
    find(FINDING_DATA_LINE_STUCK, true, 0);
    find(FINDING_BIT_STUCK_LOW, true, 1);
    find(FINDING_BIT_STUCK_LOW, true, 1);
    find(FINDING_COLOUR_WRONG, true, 2);
    find(FINDING_COLOUR_WRONG, true, 3);
    find(FINDING_FROZEN_VIDEO, false, 0);
    char *text = terminal_text();
    const char *at = text;
    static const char *const wanted[] = {"\n  either data_line_stuck", "\n  or bit_stuck_low",
                                         "\n  and bit_stuck_low",      "\n  either colour_wrong",
                                         "\n  or colour_wrong",        "\n  frozen_video"};
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++) {
        expect_in(at, wanted[i]);
        at = strstr(at, wanted[i]);
    }
    free(text);
}

static void test_troubles(void **state) {
    (void)state;
    result.trouble_count = 1;
    result.troubles[0] = (struct finding){.kind = FINDING_NOISY, .reg = -1, .bit = -1};
    snprintf(result.troubles[0].text, sizeof result.troubles[0].text, "Noise: 10 dB.");
    char *text = terminal_text();
    expect_in(text, "\n  capture: noisy: Noise: 10 dB.");
    free(text);
    result.verdict = VERDICT_INCONCLUSIVE; /* then they are among the findings */
    text = terminal_text();
    assert_null(strstr(text, "capture:"));
    free(text);
}

static void test_colours(void **state) {
    (void)state;
    /* Hue from the -Cb axis towards -Cr: -Cb alone is 0, -Cr alone 90 degrees. */
    steps[0].lit_colour = (struct cell_colour){.count = 9, .level = 0.75, .cb = 0, .cr = -30};
    steps[0].dark_colour = (struct cell_colour){.count = 9, .level = 0.01, .cb = 1, .cr = 1};
    find(FINDING_BIT_STUCK_LOW, false, 4);
    json_t *json = json_result(&report);
    json_t *list = json_object_get(json, "steps");
    json_t *colours = json_object_get(json_array_get(list, 0), "colours");
    json_t *lit = json_object_get(colours, "lit"), *dark = json_object_get(colours, "dark");
    assert_true(json_real_value(json_object_get(lit, "level")) == 0.75);
    assert_true(json_real_value(json_object_get(lit, "saturation")) == 30);
    assert_true(json_real_value(json_object_get(lit, "hue")) == 90);
    assert_true(json_is_null(json_object_get(dark, "hue")));
    assert_true(json_is_null(json_object_get(json_array_get(list, 1), "colours")));
    json_t *registers = json_object_get(json_array_get(list, 1), "registers");
    assert_int_equal(json_integer_value(json_object_get(registers, "COLUPF")), 0x0E);
    json_t *finding = json_array_get(json_object_get(json, "findings"), 0);
    assert_int_equal(json_integer_value(json_object_get(finding, "explanation")), 4);
    json_decref(json);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_joints, make_result, free_plan),
        cmocka_unit_test_setup_teardown(test_troubles, make_result, free_plan),
        cmocka_unit_test_setup_teardown(test_colours, make_result, free_plan),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
