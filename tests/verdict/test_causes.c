/* Every single fault at every position it can have, on the plan `bits`: the one right finding and exit 1. */
#include "bits.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>

/* Sequence position to register and bit, typed in from the same table as draw.h's. */
static const int table_reg[20] = {0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 2, 2};
static const int table_bit[20] = {4, 5, 6, 7, 7, 6, 5, 4, 3, 2, 1, 0, 0, 1, 2, 3, 4, 5, 6, 7};

static void expect_only(const struct fault *fault, enum finding_kind kind, int reg, int bit) {
    unsigned counter = 7;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    draw_round(judge, plan, fault, 3, &counter);
    const struct result *result = judge_result(judge);
    const struct finding *finding = &result->findings[0];
    if (result->finding_count != 1 || finding->kind != kind || finding->reg != reg || finding->bit != bit ||
        finding->alternative || verdict_exit(result->verdict) != 1) {
        draw_findings(result);
        fail_msg("low %x high %x reversed %d swap %d late %d unconnected %x data %x %x: %zu findings, exit "
                 "%d, wanted %s "
                 "reg %d bit %d",
                 fault->low, fault->high, fault->reversed, fault->swap, fault->late, fault->unconnected,
                 fault->data_low, fault->data_high, result->finding_count, verdict_exit(result->verdict),
                 finding_name(kind), reg, bit);
    }
    assert_true(strlen(finding->next) > 40 && strlen(finding->next) < sizeof finding->next - 1);
    assert_true(strlen(finding->text) > 20 && strlen(finding->text) < sizeof finding->text - 1);
    judge_free(judge);
}

static void test_stuck_bits(void **state) {
    (void)state;
    for (int position = 0; position < 20; position++) {
        int reg = REG_PF0 + table_reg[position];
        struct fault low = {.low = 1u << position}, high = {.high = 1u << position};
        expect_only(&low, FINDING_BIT_STUCK_LOW, reg, table_bit[position]);
        expect_only(&high, FINDING_BIT_STUCK_HIGH, reg, table_bit[position]);
    }
}

static void test_wiring(void **state) {
    (void)state;
    for (int i = 0; i < 3; i++) {
        struct fault reversed = {.reversed = i + 1}, swapped = {.swap = i + 1};
        expect_only(&reversed, FINDING_REGISTER_ORDER_REVERSED, REG_PF0 + i, -1);
        expect_only(&swapped, FINDING_REGISTERS_SWAPPED, i == 2 ? REG_PF1 : REG_PF0, -1);
    }
}

static void test_modes(void **state) {
    (void)state;
    struct fault mirror = {.mirror_ignored = true}, copy = {.copy_ignored = true};
    expect_only(&mirror, FINDING_MIRROR_IGNORED, REG_CTRLPF, 0);
    expect_only(&copy, FINDING_COPY_IGNORED, REG_CTRLPF, 0);
}

static void test_unconnected(void **state) {
    (void)state;
    for (unsigned mask = 1; mask < 16; mask++) {
        struct fault fault = {.unconnected = mask};
        bool single = (mask & (mask - 1)) == 0;
        expect_only(&fault, FINDING_UNCONNECTED_BITS_DRAWN, REG_PF0, single ? __builtin_ctz(mask) : -1);
    }
}

/* D2 or D3 of PF1 and of PF2 stuck low look like that data line stuck low: the line is told first, as it is
 * one fault and not two, and the two bits as the other way to explain it. */
static void expect_line_or_pair(const struct fault *fault, int bit) {
    unsigned counter = 7;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    draw_round(judge, plan, fault, 3, &counter);
    const struct result *result = judge_result(judge);
    const struct finding *finding = result->findings;
    bool right = result->finding_count == 3 && finding[0].kind == FINDING_DATA_LINE_STUCK &&
                 finding[1].kind == FINDING_BIT_STUCK_LOW && finding[2].kind == FINDING_BIT_STUCK_LOW;
    for (int i = 0; right && i < 3; i++) {
        right = finding[i].bit == bit && finding[i].alternative && finding[i].explanation == (i > 0);
    }
    if (!right || finding[1].reg != REG_PF1 || finding[2].reg != REG_PF2) {
        draw_findings(result);
        fail_msg("data line D%d: %zu findings", bit, result->finding_count);
    }
    assert_non_null(strstr(finding[0].text, "PF1 D"));
    assert_non_null(strstr(finding[1].text, "Same pictures: data line D"));
    judge_free(judge);
}

static void test_data_lines(void **state) {
    (void)state;
    for (int line = 0; line < 8; line++) {
        struct fault low = {.data_low = (uint8_t)(1 << line)}, high = {.data_high = (uint8_t)(1 << line)};
        if (line == 1) {
            continue; /* VSYNC's and VBLANK's bit: no picture would come [H] */
        }
        expect_only(&high, FINDING_DATA_LINE_STUCK, -1, line);
        if (line == 2 || line == 3) {
            expect_line_or_pair(&low, line); /* black stays black and white is merely less */
        } else {
            expect_only(&low, FINDING_DATA_LINE_STUCK, -1, line);
        }
    }
}

static void test_shifts(void **state) {
    (void)state;
    for (int late = 1; late <= 16; late++) {
        struct fault fault = {.late = late};
        expect_only(&fault, FINDING_SHIFTED, -1, -1);
        char want[40];
        unsigned counter = 0;
        struct judge *judge = judge_new(plan, DRAW_HASH);
        draw_round(judge, plan, &fault, 4, &counter);
        snprintf(want, sizeof want, "is %d colour clock", late);
        assert_non_null(strstr(judge_result(judge)->findings[0].text, want));
        judge_free(judge);
    }
}

static bool has(const struct result *result, enum finding_kind kind, int position) {
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        if (finding->kind == kind && finding->reg == REG_PF0 + table_reg[position] &&
            finding->bit == table_bit[position]) {
            return true;
        }
    }
    return false;
}

/* Both stuck low in a line that the pair of PF1 and PF2 shares with no other register of the playfield. */
static bool is_data_line(int a, int b, unsigned levels) {
    return levels == 0 && table_bit[a] == table_bit[b] && table_reg[a] != table_reg[b] &&
           (table_bit[a] == 2 || table_bit[a] == 3);
}

static void expect_pair(int a, int b, unsigned levels) {
    unsigned counter = 0;
    bool high_a = levels & 1, high_b = levels & 2;
    struct fault fault = {0};
    *(high_a ? &fault.high : &fault.low) |= 1u << a;
    *(high_b ? &fault.high : &fault.low) |= 1u << b;
    if (is_data_line(a, b, levels)) {
        expect_line_or_pair(&fault, table_bit[a]);
        return;
    }
    struct judge *judge = judge_new(plan, DRAW_HASH);
    draw_round(judge, plan, &fault, 3, &counter);
    const struct result *result = judge_result(judge);
    bool right = result->finding_count == 2 &&
                 has(result, high_a ? FINDING_BIT_STUCK_HIGH : FINDING_BIT_STUCK_LOW, a) &&
                 has(result, high_b ? FINDING_BIT_STUCK_HIGH : FINDING_BIT_STUCK_LOW, b);
    if (!right || result->verdict != VERDICT_FAIL || result->findings[0].alternative ||
        result->findings[0].explanation != result->findings[1].explanation) {
        draw_findings(result);
        fail_msg("positions %d and %d, levels %u: %zu findings", a, b, levels, result->finding_count);
    }
    judge_free(judge);
}

/* All 760 pairs of different bits: 190 times low-low, high-low, low-high, high-high. */
static void test_pairs(void **state) {
    (void)state;
    int pairs = 0;
    bool small = getenv("SLOTJIG_TEST_SMALL") != NULL;
    for (int a = 0; a < 20; a++) {
        for (int b = a + 1; b < 20; b++) {
            for (unsigned levels = 0; levels < 4; levels++) {
                if (!small || (unsigned)(a * 7 + b) % 4 == levels) {
                    expect_pair(a, b, levels);
                }
                pairs++;
            }
        }
    }
    assert_int_equal(pairs, 760);
}

/* Two causes that are no set of stuck bits: fail, and honest about it. */
static void test_unexplained(void **state) {
    (void)state;
    unsigned counter = 0;
    struct fault fault = {.reversed = 2, .swap = 2, .low = 1};
    struct judge *judge = judge_new(plan, DRAW_HASH);
    draw_round(judge, plan, &fault, 3, &counter);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_int_equal(result->finding_count, 1);
    assert_int_equal(result->findings[0].kind, FINDING_UNEXPLAINED);
    assert_non_null(strstr(result->findings[0].text, "Nearest: "));
    judge_free(judge);
}

/* One torn field among many does not hide a cause, and is told; a tenth of them do. */
static void test_torn_fields(void **state) {
    (void)state;
    for (unsigned every = 10; every <= 300; every += 290) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        struct fault late = {.late = 7};
        for (unsigned n = 0; n < plan->step_count * 4; n++) {
            struct reading reading;
            draw_step(&late, plan, n / 4, n, &reading);
            for (int line = 0; line < reading.lines && n % every == every - 1; line++) {
                reading.lit[line] ^= UINT64_C(1) << 33;
            }
            judge_reading(judge, &reading, 2);
        }
        const struct result *result = judge_result(judge);
        assert_int_equal(result->verdict, VERDICT_FAIL);
        assert_int_equal(result->findings[0].kind, every == 10 ? FINDING_UNEXPLAINED : FINDING_SHIFTED);
        assert_true(every == 10 || strstr(result->findings[0].text, "1 other field fits nothing") != NULL);
        judge_free(judge);
    }
}

/* A plan of one step cannot tell some causes apart; all are named, with a step that would. */
static void test_alternatives(void **state) {
    (void)state;
    unsigned counter = 0;
    struct problem problem = {0};
    struct plan *poor = plan_new("poor", STANDARD_NTSC);
    assert_true(plan_add_hold(poor, "PF1 D3", 0, 0, 0x08, 0, &problem));
    struct fault fault = {.low = 1u << 8};
    struct judge *judge = judge_new(poor, DRAW_HASH);
    draw_round(judge, poor, &fault, 3, &counter);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->finding_count, 3); /* PF1's D3 in PF0's place is not connected: dark as well */
    assert_int_equal(result->findings[0].kind, FINDING_BIT_STUCK_LOW);
    assert_int_equal(result->findings[1].kind, FINDING_REGISTERS_SWAPPED);
    assert_int_equal(result->findings[2].kind, FINDING_DATA_LINE_STUCK);
    assert_true(result->findings[0].alternative && result->findings[1].alternative);
    assert_non_null(strstr(result->findings[1].text, "Same pictures: data line D3 stuck low"));
    assert_non_null(strstr(result->findings[0].text, "Told apart by"));
    judge_free(judge);
    plan_free(poor);
}

/* One cell lit, half a cell late: which cells are unclear is all that tells 2 clocks from 6. */
static void test_half_cell_late(void **state) {
    (void)state;
    unsigned counter = 0;
    struct problem problem = {0};
    struct fault fault = {.late = 2};
    struct plan *poor = plan_new("poor", STANDARD_NTSC);
    assert_true(plan_add_hold(poor, "PF1 D3", 0, 0, 0x08, 0, &problem));
    struct judge *judge = judge_new(poor, DRAW_HASH);
    draw_round(judge, poor, &fault, 20, &counter); /* enough to be sure that it is so throughout */
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_int_equal(result->finding_count, 1);
    assert_non_null(strstr(result->findings[0].text, "is 2 colour clocks"));
    judge_free(judge);
    plan_free(poor);
}

/* A fault that shows in the second band only. */
static void test_second_band(void **state) {
    (void)state;
    struct problem problem = {0};
    struct plan *banded = plan_new("banded", STANDARD_NTSC);
    struct band bands[2] = {{.lines = 84, .count = 1, .writes = {{REG_PF1, 0x81, WRITE_BEFORE}}},
                            {.lines = 84, .count = 1, .writes = {{REG_PF2, 0x10, WRITE_BEFORE}}}};
    assert_true(plan_add_step(banded, "two bands", bands, 2, &problem));
    struct judge *judge = judge_new(banded, DRAW_HASH);
    struct fault none = {0}, low = {.low = 1u << 16}; /* PF2 D4 */
    uint8_t above[REG_COUNT] = {[REG_PF1] = 0x81, [REG_COLUPF] = 0x0E};
    uint8_t below[REG_COUNT] = {[REG_PF1] = 0x81, [REG_PF2] = 0x10, [REG_COLUPF] = 0x0E};
    for (unsigned counter = 0; counter < 3; counter++) {
        struct reading reading, second;
        draw_reading(&none, above, 0, counter, &reading);
        draw_reading(&low, below, 0, counter, &second);
        memcpy(&reading.lit[84], &second.lit[84], 84 * sizeof reading.lit[0]);
        judge_reading(judge, &reading, 2);
    }
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_int_equal(result->steps[0].wrong_line, 84);
    assert_int_equal(result->findings[0].kind, FINDING_BIT_STUCK_LOW);
    assert_int_equal(result->findings[0].reg, REG_PF2);
    assert_int_equal(result->findings[0].bit, 4);
    judge_free(judge);
    plan_free(banded);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stuck_bits),  cmocka_unit_test(test_wiring),
        cmocka_unit_test(test_modes),       cmocka_unit_test(test_unconnected),
        cmocka_unit_test(test_data_lines),  cmocka_unit_test(test_shifts),
        cmocka_unit_test(test_torn_fields), cmocka_unit_test(test_pairs),
        cmocka_unit_test(test_unexplained), cmocka_unit_test(test_alternatives),
        cmocka_unit_test(test_second_band), cmocka_unit_test(test_half_cell_late),
    };
    return cmocka_run_group_tests(tests, open_plan, close_plan);
}
