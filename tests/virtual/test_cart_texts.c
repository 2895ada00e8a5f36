/* Faults of a cartridge by their texts; and the bench with such a cartridge in its slot. */
#include "virtual/kernel.h"
#include "virtual/texts.h"

#include <stdio.h>
#include <stdlib.h>

static struct virtual_options with(const char *text) {
    struct virtual_options options;
    struct problem problem;
    virtual_defaults(STANDARD_NTSC, &options);
    if (!virtual_add_fault(&options, text, &problem)) {
        fail_msg("%s: %s", text, problem.text);
    }
    return options;
}

static struct cart_faults cart(const char *text) {
    const struct virtual_options options = with(text);
    assert_true(options.faults.of_cartridge);
    return options.faults.cartridge;
}

static void test_what_each_sets(void **state) {
    (void)state;
    assert_int_equal(cart("cart-open=A12").address_open, 0x1000);
    assert_int_equal(cart("cart-open=D3").data_open, 0x08);
    assert_memory_equal(cart("cart-short=A3:A11").address_short[0], ((uint8_t[]){3, 11}), 2);
    assert_memory_equal(cart("cart-short=D7:D1").data_short[0], ((uint8_t[]){7, 1}), 2);
    assert_int_equal(cart("cart-slow=all:333").access_ns, 333);
    assert_int_equal(cart("cart-slow=2.13:333").slow[0].page, 45);
    assert_int_equal(cart("cart-slow=2.13:333").slow[0].ns, 333);
    assert_int_equal(cart("cart-byte=$1fF0:$40").byte[0].offset, 0x1FF0);
    assert_int_equal(cart("cart-byte=17:65").byte[0].exclusive_or, 65);
    assert_int_equal(cart("cart-hotspot=3:none").selects[3], -1);
    assert_int_equal(cart("cart-hotspot=3:5").selects[3], 5);
    assert_int_equal(cart("cart-also=$FF78:2").also_at, 0x1F78);
    assert_int_equal(cart("cart-also=$1F78:2").also_selects, 2);
    assert_true(cart("cart-no-ram").no_ram);
    assert_int_equal(cart("cart-hold=D3:low").held_low, 8);
    assert_int_equal(cart("cart-hold=D4:high").held_high, 16);
    assert_int_equal(cart("cart-release=600").release_ns, 600);
    assert_int_equal(cart("cart-late=200").late_us, 200000);
    assert_int_equal(cart("cart-loose=A7:0.25").loose_address, 0x80);
    assert_int_equal(cart("cart-loose=D7:0.25").loose_data, 0x80);
    assert_int_equal(cart("cart-loose=D7:0.25").loose_rate, UINT32_C(1) << 30);
    assert_int_equal(cart("cart-first=3").first_bank, 3);
    assert_true(cart("cart-first=random").first_bank_random);
}

static void test_ram_texts(void **state) {
    (void)state;
    static const struct {
        const char *text;
        struct cart_ram_fault fault;
    } cases[] = {{"cart-ram=stuck:127.7:high", {CART_RAM_STUCK, 127, 7, 1, 0, 0, 0}},
                 {"cart-ram=transition:5.3:low", {CART_RAM_TRANSITION, 5, 3, 0, 0, 0, 0}},
                 {"cart-ram=inversion:5.3:9.1:high", {CART_RAM_INVERSION, 5, 3, 0, 9, 1, 1}},
                 {"cart-ram=idempotent:5.3:high:9.1:low", {CART_RAM_IDEMPOTENT, 5, 3, 1, 9, 1, 0}},
                 {"cart-ram=state:5.3:low:5.1:high", {CART_RAM_STATE, 5, 3, 0, 5, 1, 1}},
                 {"cart-ram=no-cell:64", {CART_RAM_NO_CELL, 64, 0, 0, 0, 0, 0}},
                 {"cart-ram=other-cell:64:0", {CART_RAM_OTHER_CELL, 64, 0, 0, 0, 0, 0}},
                 {"cart-ram=both-cells:1:65", {CART_RAM_BOTH_CELLS, 1, 0, 0, 65, 0, 0}}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct cart_faults faults = cart(cases[i].text);
        assert_int_equal(faults.ram_faults, 1);
        assert_memory_equal(&faults.ram[0], &cases[i].fault, sizeof cases[i].fault);
    }
}

static void test_wrong_texts(void **state) {
    (void)state;
    static const struct wrong_text cases[] = {
        {"cart-opn=A3", "cart-open"},
        {"cart-open", "value is missing"},
        {"cart-open=A13", "A0 to A12"},
        {"cart-open=D8", "D0 to D7"},
        {"cart-open=5", "A0 to A12"},
        {"cart-short=A3", "two different"},
        {"cart-short=A3:A3", "two different"},
        {"cart-short=A3:D3", "two different"},
        {"cart-slow=1.16:600", "0 to 15"},
        {"cart-slow=8.1:600", "0 to 7"},
        {"cart-slow=1:600", "a dot"},
        {"cart-slow=1.2", "colon"},
        {"cart-slow=all:0", "1 to 60000"},
        {"cart-byte=$8000:1", "$7FFF"},
        {"cart-byte=$:1", "$7FFF"},
        {"cart-byte=$12g:1", "$7FFF"},
        {"cart-byte=$-1:1", "$7FFF"},
        {"cart-byte=5", "colon"},
        {"cart-byte=5:0", "1 to 255"},
        {"cart-byte=5:256", "1 to 255"},
        {"cart-hotspot=1", "another one"},
        {"cart-hotspot=1:1", "another one"},
        {"cart-hotspot=8:1", "0 to 7"},
        {"cart-also=$0F78:1", "$1000"},
        {"cart-also=$1F78", "colon"},
        {"cart-also=$1F78:8", "0 to 7"},
        {"cart-no-ram=1", "no value"},
        {"cart-ram=stuck", "stuck:5.3:low"},
        {"cart-ram=sticky:1.1:low", "stuck, transition"},
        {"cart-ram=stuck:128.0:low", "0-127"},
        {"cart-ram=stuck:1.8:low", "stuck:5.3:low"},
        {"cart-ram=stuck:1.7:low:low", "stuck:5.3:low"},
        {"cart-ram=inversion:5.3:5.3:low", "another"},
        {"cart-ram=idempotent:5.3:9.1:low", "idempotent:5.3:low:9.1:high"},
        {"cart-ram=other-cell:5:5", "two different"},
        {"cart-ram=no-cell:5:6", "no-cell:5"},
        {"cart-hold=A3:low", "D0 to D7"},
        {"cart-hold=D3", "low or high"},
        {"cart-release=0", "1 to 60000"},
        {"cart-late=60001", "1 to 60000"},
        {"cart-loose=A7", "fraction"},
        {"cart-loose=A7:1", "fraction"},
        {"cart-loose=A7:nan", "fraction"},
        {"cart-first=8", "0 to 7"},
    };
    check_wrong_texts(virtual_add_fault, cases, sizeof cases / sizeof cases[0]);
}

static void test_contradictions(void **state) {
    (void)state;
    static const struct {
        const char *first, *second, *reason;
    } pairs[] = {{"cart-open=A3", "cart-open=A3", "same line"},
                 {"cart-open=A3", "cart-address=3:low", "same line"},
                 {"cart-address=3:low", "cart-open=A3", "same line"},
                 {"cart-data=3:low", "cart-short=D3:D2", "same line"},
                 {"cart-short=D3:D2", "cart-data=2:low", "same line"},
                 {"cart-open=D3", "cart-loose=D3:0.5", "same line"},
                 {"cart-short=A1:A2", "cart-open=A2", "same line"},
                 {"cart-hold=D3:low", "cart-hold=D3:high", "other level"},
                 {"cart-loose=A1:0.5", "cart-loose=A2:0.25", "one fraction"},
                 {"cart-also=$1F78:1", "cart-also=$1F79:1", "already"},
                 {"cart-no-ram", "cart-ram=no-cell:1", "already"},
                 {"cart-ram=no-cell:1", "cart-no-ram", "already"},
                 {"cart-ram=no-cell:1", "cart-ram=other-cell:1:2", "same cell"},
                 {"cart-ram=stuck:1.1:low", "cart-ram=stuck:1.1:high", "same cell"}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        struct virtual_options options = with(pairs[i].first);
        check_refused(virtual_add_fault, &options, pairs[i].second, pairs[i].reason);
    }
}

/* Of a scheme: 13 open address lines and 78 pairs of them, 8 and 28 of data lines, 25 and 16 levels, a
 * hotspot for each bank and other bank or none, neighbours of the first by 12 lines and two more less those
 * that are hotspots or the same one, two for each page, three times, 16 held levels, 21 loose contacts; with
 * RAM 1 + 32
 * + 8 * 10 + 15, and a page of each bank is hidden (not of 2 KiB, which shows twice). [A] */
static void test_every_text_is_taken_and_is_another_fault(void **state) {
    (void)state;
    enum { MOST = 800 };
    static struct virtual_options seen[MOST];
    /* Of 12 lines: at $1FF8 A0 is the other hotspot, and $1FFA is A1's and the one above; at $1FF6 A0 is one;
     * at $1FF4 A0 and A1 are, and $1FFC is A3's and the one above. [A] */
    static const size_t also[WIRE_SCHEMES] = {0, 0, 12, 13, 11}, banks[WIRE_SCHEMES] = {1, 1, 2, 4, 8};
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (int ram = 0; ram < 2; ram++) {
            char text[64];
            size_t count = 0;
            struct problem problem;
            struct cart_faults faults;
            for (; count < MOST && virtual_cartridge_fault_text(scheme, ram, count, text, sizeof text);
                 count++) {
                seen[count] = with(text);
                assert_true(virtual_cartridge_faults(&seen[count], scheme, ram, &faults, &problem));
                for (size_t i = 0; i < count; i++) {
                    if (memcmp(&seen[i].faults, &seen[count].faults, sizeof seen[i].faults) == 0) {
                        fail_msg("scheme %d: %s is the same as text %zu", scheme, text, i);
                    }
                }
            }
            const size_t pages = scheme == WIRE_2K ? 8 : banks[scheme] * (ram ? 15 : 16);
            const size_t spots = banks[scheme] > 1 ? banks[scheme] * banks[scheme] : 0;
            assert_int_equal(count, 13 + 78 + 8 + 28 + 25 + 16 + spots + also[scheme] + 2 * pages + 3 + 16 +
                                        21 + (ram ? 1 + 32 + 80 + 15 : 0));
        }
    }
}

static void test_a_fault_must_fit_the_cartridge(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int scheme;
        bool ram, fits;
    } cases[] = {{"cart-hotspot=2:1", WIRE_F8, false, false},  {"cart-hotspot=1:2", WIRE_F8, false, false},
                 {"cart-hotspot=1:0", WIRE_F8, false, true},   {"cart-hotspot=0:none", WIRE_4K, false, false},
                 {"cart-also=$1F00:4", WIRE_F6, false, false}, {"cart-slow=1.0:600", WIRE_4K, false, false},
                 {"cart-slow=0.8:600", WIRE_2K, false, false}, {"cart-slow=7.15:600", WIRE_F4, false, true},
                 {"cart-byte=$1000:1", WIRE_4K, false, false}, {"cart-no-ram", WIRE_4K, false, false},
                 {"cart-no-ram", WIRE_4K, true, true},         {"cart-ram=no-cell:1", WIRE_F4, false, false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct problem problem = {0};
        struct cart_faults faults;
        const struct virtual_options options = with(cases[i].text);
        const bool fits =
            virtual_cartridge_faults(&options, cases[i].scheme, cases[i].ram, &faults, &problem);
        if (fits != cases[i].fits) {
            fail_msg("%s on scheme %d: %s", cases[i].text, cases[i].scheme, problem.text);
        }
        assert_true(fits || problem.kind == PROBLEM_INPUT);
    }
}

/* ---- in the slot ---- */

static uint8_t image[4096];

static void open_kernel(const struct virtual_options *options, int scheme, struct video_source *source) {
    struct problem problem;
    kernel(image);
    kernel(image + KERNEL_SIZE);
    if (!virtual_open_cartridge(options, scheme, false, image, source, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static int lines_of_fields(const struct virtual_options *options) {
    struct virtual_notes notes;
    struct video_source source;
    open_kernel(options, WIRE_2K, &source);
    for (int i = 0; i < 30; i++) {
        virtual_run_field(&source);
    }
    virtual_notes(&source, &notes);
    source.close(source.state);
    return notes.lines;
}

/* The same frames as from the bytes alone, the grabber's noise included. */
static void test_a_good_cartridge_shows_what_its_image_shows(void **state) {
    (void)state;
    static const size_t sizes[] = {[WIRE_2K] = KERNEL_SIZE, [WIRE_4K] = 2 * KERNEL_SIZE};
    struct virtual_options options;
    virtual_defaults(STANDARD_NTSC, &options);
    options.grabber.noise_db = 30;
    for (int scheme = WIRE_2K; scheme <= WIRE_4K; scheme++) {
        struct video_source one, other;
        struct problem problem;
        open_kernel(&options, scheme, &one);
        assert_true(virtual_open(&options, image, sizes[scheme], &other, &problem));
        for (int i = 0; i < 6; i++) {
            struct frame a, b;
            assert_int_equal(one.next(one.state, &a, &problem), NEXT_FRAME);
            assert_int_equal(other.next(other.state, &b, &problem), NEXT_FRAME);
            assert_memory_equal(a.y.data, b.y.data, (size_t)a.y.stride * (size_t)a.height);
        }
        assert_non_null(virtual_cartridge(&one));
        one.close(one.state);
        other.close(other.state);
    }
}

/* A cartridge that is right by other ways than the quick one draws the same; the slot's faults are its own.
 */
static void test_faults_reach_the_console(void **state) {
    (void)state;
    const struct virtual_options good = with("cart-slow=all:400");
    const struct virtual_options held = with("cart-hold=D0:high"), low = with("cart-hold=D1:low");
    const struct virtual_options slow = with("cart-slow=all:600"), stuck = with("cart-data=0:low");
    const struct virtual_options late = with("cart-late=15"), later = with("cart-late=2000");
    assert_int_equal(lines_of_fields(&good), KERNEL_LINES);
    assert_int_equal(lines_of_fields(&held), KERNEL_LINES); /* low wins: nothing is changed that is driven */
    assert_int_equal(lines_of_fields(&late), KERNEL_LINES); /* before the console's reset ends */
    assert_true(lines_of_fields(&low) != KERNEL_LINES);     /* VSYNC is D1 [H] */
    assert_true(lines_of_fields(&slow) != KERNEL_LINES);
    assert_true(lines_of_fields(&stuck) != KERNEL_LINES);
    assert_true(lines_of_fields(&later) != KERNEL_LINES);
}

static void test_without_such_a_cartridge_they_are_refused(void **state) {
    (void)state;
    const struct virtual_options options = with("cart-open=A5"), others = with("cart-data=0:low");
    struct video_source source;
    struct problem problem = {0};
    kernel(image);
    assert_false(virtual_open(&options, image, KERNEL_SIZE, &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_true(virtual_open(&others, image, KERNEL_SIZE, &source, &problem));
    source.close(source.state);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_each_sets),
        cmocka_unit_test(test_ram_texts),
        cmocka_unit_test(test_wrong_texts),
        cmocka_unit_test(test_contradictions),
        cmocka_unit_test(test_every_text_is_taken_and_is_another_fault),
        cmocka_unit_test(test_a_fault_must_fit_the_cartridge),
        cmocka_unit_test(test_a_good_cartridge_shows_what_its_image_shows),
        cmocka_unit_test(test_faults_reach_the_console),
        cmocka_unit_test(test_without_such_a_cartridge_they_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
