/* Faults by their texts: what each sets, and what is said of a wrong one. */
#include "virtual/texts.h"

#include <stdio.h>

static struct virtual_options with(const char *text) {
    struct virtual_options options;
    struct problem problem;
    virtual_defaults(STANDARD_NTSC, &options);
    if (!virtual_add_fault(&options, text, &problem)) {
        fail_msg("%s: %s", text, problem.text);
    }
    return options;
}

static void add(struct virtual_options *options, const char *text) {
    struct problem problem;
    if (!virtual_add_fault(options, text, &problem)) {
        fail_msg("%s: %s", text, problem.text);
    }
}

/* TIA 1A technical manual, playfield registers serial output: PF0 4..7, PF1 7..0, PF2 0..7. [H] */
static const char *const serial_output[20] = {"PF0.4", "PF0.5", "PF0.6", "PF0.7", "PF1.7", "PF1.6", "PF1.5",
                                              "PF1.4", "PF1.3", "PF1.2", "PF1.1", "PF1.0", "PF2.0", "PF2.1",
                                              "PF2.2", "PF2.3", "PF2.4", "PF2.5", "PF2.6", "PF2.7"};

static void test_bits_are_where_the_handbook_has_them(void **state) {
    (void)state;
    for (int position = 0; position < 20; position++) {
        char text[40];
        uint32_t mask = UINT32_C(1) << position;
        snprintf(text, sizeof text, "bit-low=%s", serial_output[position]);
        struct virtual_options low = with(text);
        snprintf(text, sizeof text, "bit-high=%s", serial_output[position]);
        struct virtual_options high = with(text);
        snprintf(text, sizeof text, "flaky=%s:low:0.25", serial_output[position]);
        struct virtual_options flaky_low = with(text);
        snprintf(text, sizeof text, "flaky=%s:high:0.25", serial_output[position]);
        struct virtual_options flaky_high = with(text);
        if (low.faults.chip.stuck_low != mask || high.faults.chip.stuck_high != mask ||
            flaky_low.faults.chip.flaky_low != mask || flaky_high.faults.chip.flaky_high != mask) {
            fail_msg("%s is not at %d", serial_output[position], position);
        }
        assert_true(low.faults.chip.stuck_high == 0 && high.faults.chip.stuck_low == 0);
        assert_true(flaky_low.faults.chip.flaky_high == 0 && flaky_low.faults.chip.flaky_rate == UINT32_C(1)
                                                                                                     << 30);
    }
}

static void test_other_faults(void **state) {
    (void)state;
    assert_int_equal(with("order=PF2").faults.chip.order_reversed, 1 << 2);
    const struct virtual_options joined = with("and=PF1.3:PF2.6");
    assert_int_equal(joined.faults.chip.joints, 1);
    assert_string_equal(serial_output[joined.faults.chip.joint[0].at], "PF1.3");
    assert_string_equal(serial_output[joined.faults.chip.joint[0].from], "PF2.6");
    assert_int_equal(joined.faults.chip.joint[0].how, TIA_ANDED);
    struct virtual_options swapped = with("swap=PF2,PF0");
    assert_memory_equal(swapped.faults.chip.swap, ((uint8_t[]){2, 1, 0}), 3);
    assert_true(with("mirror-ignored").faults.chip.mirror_ignored);
    assert_true(with("copy-ignored").faults.chip.copy_ignored);
    assert_int_equal(with("late=16").faults.chip.late, 16);
    assert_int_equal(with("unconnected=3").faults.chip.unconnected, 8);
    assert_int_equal(with("unconnected=all").faults.chip.unconnected, 15);
    assert_int_equal(with("colour-low=COLUPF.1").faults.chip.colour_low[0], 0x02);
    assert_int_equal(with("colour-low=COLUBK.7").faults.chip.colour_low[1], 0x80);
    assert_int_equal(with("colour-high=COLUPF.5").faults.chip.colour_high[0], 0x20);
    assert_int_equal(with("colour-high=COLUBK.3").faults.chip.colour_high[1], 0x08);
    assert_int_equal(with("tia-data=7:low").faults.chip.data_low, 0x80);
    assert_int_equal(with("tia-data=0:high").faults.chip.data_high, 0x01);
    assert_int_equal(with("cart-data=6:low").faults.cart_low, 0x40);
    assert_int_equal(with("cart-data=2:high").faults.cart_high, 0x04);
    assert_int_equal(with("cart-address=12:low").faults.address_low, 0x1000);
    assert_int_equal(with("cart-address=3:high").faults.address_high, 0x0008);
    assert_true(with("no-console").faults.no_console);
    assert_true(with("no-supply").faults.no_supply);
    assert_true(with("no-video").faults.no_video);
    assert_int_equal(with("frozen=10").faults.frozen_after, 10);
    assert_true(with("frozen").faults.frozen_after > 0);
}

static void test_delay_is_of_one_register_and_all_phases_or_one(void **state) {
    (void)state;
    static const char *const names[TIA_REGS] = {
        [TIA_CTRLPF] = "CTRLPF", [TIA_PF0] = "PF0",       [TIA_PF1] = "PF1",       [TIA_PF2] = "PF2",
        [TIA_COLUPF] = "COLUPF", [TIA_COLUBK] = "COLUBK", [TIA_COLUP0] = "COLUP0", [TIA_COLUP1] = "COLUP1"};
    struct tia_chip wanted;
    for (int reg = 0; reg < TIA_REGS; reg++) {
        char text[40];
        snprintf(text, sizeof text, "delay=%s:11", names[reg]);
        struct virtual_options options = with(text);
        tia_chip_default(&wanted);
        memset(wanted.delay[reg], 11, sizeof wanted.delay[reg]);
        assert_memory_equal(options.faults.chip.delay, wanted.delay, sizeof wanted.delay);
        snprintf(text, sizeof text, "delay=%s.%d:9", names[reg], reg % 4);
        options = with(text);
        tia_chip_default(&wanted);
        wanted.delay[reg][reg % 4] = 9;
        assert_memory_equal(options.faults.chip.delay, wanted.delay, sizeof wanted.delay);
    }
}

static void test_faults_add_up(void **state) {
    (void)state;
    struct virtual_options options = with("bit-low=PF1.3");
    add(&options, "bit-low=PF2.0");
    add(&options, "bit-high=PF0.4");
    add(&options, "unconnected=0");
    add(&options, "unconnected=2");
    add(&options, "tia-data=3:high");
    add(&options, "tia-data=4:high");
    add(&options, "flaky=PF2.7:low:0.3");
    add(&options, "flaky=PF2.6:high:0.3");
    add(&options, "swap=PF0,PF1");
    add(&options, "swap=PF0,PF1"); /* and back again */
    assert_int_equal(options.faults.chip.stuck_low, 1 << 8 | 1 << 12);
    assert_int_equal(options.faults.chip.stuck_high, 1);
    assert_int_equal(options.faults.chip.unconnected, 5);
    assert_int_equal(options.faults.chip.data_high, 0x18);
    assert_int_equal(options.faults.chip.flaky_low, 1 << 19);
    assert_int_equal(options.faults.chip.flaky_high, 1 << 18);
    assert_memory_equal(options.faults.chip.swap, ((uint8_t[]){0, 1, 2}), 3);
}

static void test_every_text_is_taken_and_is_another_fault(void **state) {
    (void)state;
    enum { MOST = 400 };
    static struct virtual_options seen[MOST];
    char text[64];
    size_t count = 0;
    for (; count < MOST && virtual_fault_text(count, text, sizeof text); count++) {
        seen[count] = with(text);
        for (size_t i = 0; i < count; i++) {
            if (memcmp(&seen[i].faults, &seen[count].faults, sizeof seen[i].faults) == 0) {
                fail_msg("%s is the same as text %zu", text, i);
            }
        }
    }
    /* 20 bits stuck or flaky, low or high, or joined with the next in three ways; 3 registers reversed, 3
     * pairs; mirror, copy; 16 clocks; 4 unconnected and all; 7 bits of two colour registers, low or high; 8
     * lines of two chips, low or high; 12 address lines low or high, and one low; no processor, no supply; no
     * video, frozen at once or later */
    assert_int_equal(count, 4 * 20 + 3 * 20 + 3 + 3 + 2 + 16 + 5 + 2 * 14 + 2 * 16 + 2 * 12 + 1 + 2 + 3);
}

static void test_every_spelling_is_taken(void **state) {
    (void)state;
    size_t count = 0;
    for (; virtual_fault_spellings[count].spelling != NULL; count++) {
        with(virtual_fault_spellings[count].spelling);
        assert_true(strlen(virtual_fault_spellings[count].about) > 10);
    }
    assert_int_equal(count, 22 + 14);
}

static void test_wrong_texts(void **state) {
    (void)state;
    static const struct wrong_text cases[] = {
        {"", "no such fault"},
        {"bit-lo=PF1.3", "bit-low=PF1.3"},
        {"miror-ignored", "mirror-ignored"},
        {"frosen", "frozen"},
        {"cartdata=1:low", "cart-data"},
        {"BIT-LOW=PF1.3", "no such fault"},
        {"bit-low", "value is missing"},
        {"bit-low=", "PF0, PF1 or PF2"},
        {"bit-low=PF3.1", "PF0, PF1 or PF2"},
        {"bit-low=PF1", "dot"},
        {"bit-low=PF1.8", "0 to 7"},
        {"bit-low=PF1.+1", "0 to 7"},
        {"bit-high=PF0.3", "unconnected"},
        {"couple=PF1.3", "colon"},
        {"couple=PF1.3:PF1.3", "two different"},
        {"and=PF1.3:PF0.3", "unconnected"},
        {"or=PF3.1:PF1.3", "PF0, PF1 or PF2"},
        {"or=PF1.3:PF1", "dot"},
        {"couple=PF1.3:PF1.2:PF1.1", "0 to 7"},
        {"order=PF3", "PF0, PF1 or PF2"},
        {"swap=PF1", "two different"},
        {"swap=PF1,PF1", "two different"},
        {"mirror-ignored=1", "no value"},
        {"no-video=", "no value"},
        {"late=0", "1 to 16"},
        {"late=17", "1 to 16"},
        {"late=4x", "1 to 16"},
        {"unconnected=4", "0 to 3"},
        {"colour-low=COLUP0.3", "COLUPF or COLUBK"},
        {"colour-low=COLUPF", "1 to 7"},
        {"colour-high=COLUBK.0", "no storage"},
        {"tia-data=8:low", "0 to 7"},
        {"tia-data=1", ":low or :high"},
        {"cart-data=1:middle", ":low or :high"},
        {"flaky=PF1.3", ":low or :high"},
        {"flaky=PF1.3:low", "fraction"},
        {"flaky=PF1.3:low:0", "fraction"},
        {"flaky=PF1.3:low:1", "fraction"},
        {"flaky=PF1.3:low:nan", "fraction"},
        {"frozen=0", "number of fields"},
        {"frozen=2", "number of fields"},
        {"frozen=99999999999999999999", "number of fields"},
        {"delay=PF1:13", "0 to 12"},
        {"delay=PF1.4:2", "0 to 3"},
        {"delay=PF1.:2", "0 to 3"},
        {"delay=PF1.2", "0 to 12"},
        {"delay=PF1", "0 to 12"},
        {"delay=GRP0:2", "CTRLPF"},
        {"late=\n4", "late=?4"},
        {"bit-low=PF1.3                                                                             ", "..."},
    };
    check_wrong_texts(virtual_add_fault, cases, sizeof cases / sizeof cases[0]);
}

static void test_contradictions(void **state) {
    (void)state;
    static const struct {
        const char *first, *second, *reason;
    } pairs[] = {{"bit-low=PF1.3", "bit-high=PF1.3", "other level"},
                 {"bit-high=PF1.3", "bit-low=PF1.3", "other level"},
                 {"flaky=PF1.3:low:0.3", "flaky=PF1.3:high:0.3", "other level"},
                 {"couple=PF1.3:PF1.2", "couple=PF1.3:PF1.1", "joins it"},
                 {"couple=PF1.3:PF1.2", "and=PF1.3:PF1.2", "joins it"},
                 {"bit-low=PF1.3", "or=PF1.3:PF1.2", "joins it"},
                 {"or=PF1.3:PF1.2", "bit-high=PF1.3", "joins it"},
                 {"tia-data=4:low", "tia-data=4:high", "other level"},
                 {"cart-data=4:high", "cart-data=4:low", "other level"},
                 {"colour-low=COLUBK.4", "colour-high=COLUBK.4", "other level"},
                 {"mirror-ignored", "copy-ignored", "already"},
                 {"copy-ignored", "mirror-ignored", "already"},
                 {"flaky=PF1.3:low:0.3", "flaky=PF1.4:low:0.4", "same fraction"}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        struct virtual_options options = with(pairs[i].first);
        check_refused(virtual_add_fault, &options, pairs[i].second, pairs[i].reason);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bits_are_where_the_handbook_has_them),
        cmocka_unit_test(test_other_faults),
        cmocka_unit_test(test_delay_is_of_one_register_and_all_phases_or_one),
        cmocka_unit_test(test_faults_add_up),
        cmocka_unit_test(test_every_text_is_taken_and_is_another_fault),
        cmocka_unit_test(test_every_spelling_is_taken),
        cmocka_unit_test(test_wrong_texts),
        cmocka_unit_test(test_contradictions),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
