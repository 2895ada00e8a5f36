/*
 * Plan every all the way: console, grabber, judge. Shorter plans than the whole one, so that it takes a
 * second or two.
 */
#include "commands/loop.h"
#include "verdict/every_draw.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char path[4096];
static uint64_t seed = 1;

/* A plan file of so many pictures, each on so many lines. */
static void write_plan(uint32_t count, int repeat) {
    const char *folder = getenv("TMPDIR");
    snprintf(path, sizeof path, "%s/slotjig-XXXXXX", folder != NULL ? folder : "/tmp");
    int file = mkstemp(path);
    assert_true(file >= 0);
    dprintf(file, "[plan]\nname = every\ncounts = every %u %d\n", count, repeat);
    close(file);
}

static void run(struct loop *loop, uint32_t count, int repeat, enum standard standard,
                const char *const *impair, const char *fault) {
    struct virtual_options options;
    virtual_defaults(standard, &options);
    options.seed = seed;
    for (; impair != NULL && *impair != NULL; impair++) {
        if (!virtual_add_impairment(&options, *impair, &loop->problem)) {
            fail_msg("%s", loop->problem.text);
        }
    }
    write_plan(count, repeat);
    loop_hold = 1;
    const bool good = loop_run(loop, path, &options, fault, NULL);
    unlink(path);
    if (!good) {
        fail_msg("%s", loop->problem.text);
    }
}

static void check_passes(const struct loop *loop, const char *what) {
    const struct result *result = loop->session.result;
    if (result->verdict != VERDICT_PASS || result->coverage.seen != result->coverage.of ||
        result->coverage.wrong != 0) {
        fail_msg("%s: %s, %llu of %llu seen, %llu wrong: %s", what, verdict_name(result->verdict),
                 (unsigned long long)result->coverage.seen, (unsigned long long)result->coverage.of,
                 (unsigned long long)result->coverage.wrong, loop_findings(loop));
    }
}

static void good_consoles_pass(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        struct loop loop;
        run(&loop, 16384, 1, (enum standard)standard, NULL, NULL);
        check_passes(&loop, standard_table[standard].name);
        loop_end(&loop);
    }
}

/* What a grabber mixes, and the lines a pattern that its user needs: three where it takes from both sides or
 * from either. Where lines read well all is as it is. */
static void mixing_grabbers_get_more_lines(void **state) {
    (void)state;
    static const struct {
        const char *impair[3];
        int wanted;
    } grabbers[] = {{{NULL}, 0},
                    {{"comb=0.3", "noise=38", NULL}, 0},
                    {{"comb=0.5", NULL}, 3},
                    {{"comb=0.45", "noise=34", NULL}, 3},
                    {{"comb=0.5:adaptive", NULL}, 3},
                    {{"comb=0.4:adaptive", "noise=30", NULL}, 3},
                    {{"layout=bobbed", "noise=36", NULL}, 0},
                    {{"noise=12", NULL}, 0},
                    {{"bandwidth=1", NULL}, 0},
                    {{"mjpeg=20", NULL}, 0}};
    for (size_t i = 0; i < sizeof grabbers / sizeof grabbers[0]; i++) {
        const char *const what = grabbers[i].impair[0] != NULL ? grabbers[i].impair[0] : "clean";
        struct loop loop;
        run(&loop, 16384, 1, STANDARD_NTSC, grabbers[i].impair, NULL);
        const int wanted = loop.session.result->repeat_wanted;
        if (wanted != grabbers[i].wanted) {
            fail_msg("%s: %d lines a pattern wanted, not %d", what, wanted, grabbers[i].wanted);
        }
        if (wanted > 0) {
            loop_end(&loop);
            run(&loop, 16384, wanted, STANDARD_NTSC, grabbers[i].impair, NULL);
            assert_int_equal(loop.session.result->repeat_wanted, 0);
        }
        check_passes(&loop, what);
        loop_end(&loop);
    }
}

/* Every kind of grabber that does not blend fields: a good console passes, and a fault is counted exactly:
 * PF1 D3 is at place 8 of the serial output, PF2 D6 at 18 [H TIA 1A]. */
static void every_kind_of_grabber(void **state) {
    (void)state;
    const bool small = getenv("SLOTJIG_TEST_SMALL") != NULL;
    const struct every_fault fault = {.part = {{PART_AND, 8, 18}}};
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        if (strcmp(set->name, "blend") == 0 || (small && strcmp(set->name, "stick") != 0)) {
            continue;
        }
        for (int broken = 0; broken < 2; broken++) {
            struct virtual_options options;
            struct loop loop;
            virtual_defaults(STANDARD_NTSC, &options);
            assert_true(virtual_use_set(&options, set->name, &loop.problem));
            write_plan(16384, 1);
            loop_hold = 1;
            assert_true(loop_run(&loop, path, &options, broken ? "and=PF1.3:PF2.6" : NULL, NULL));
            unlink(path);
            const struct result *result = loop.session.result;
            if (!broken) {
                check_passes(&loop, set->name);
            } else if (result->verdict != VERDICT_FAIL || result->coverage.open != 0 ||
                       result->coverage.wrong != every_wrong(loop.plan, &fault) ||
                       !loop_found(&loop, FINDING_BITS_ANDED, REG_PF1, 3)) {
                fail_msg("%s: %llu wrong, %llu open: %s", set->name,
                         (unsigned long long)result->coverage.wrong,
                         (unsigned long long)result->coverage.open, loop_findings(&loop));
            }
            loop_end(&loop);
        }
    }
}

/* Each of the chip's faults that plan `bits` tells, by the same finding. */
static void the_chip_s_faults_are_named(void **state) {
    (void)state;
    static const struct {
        const char *fault;
        enum finding_kind kind;
        int reg, bit;
    } faults[] = {{"bit-low=PF1.3", FINDING_BIT_STUCK_LOW, REG_PF1, 3},
                  {"bit-high=PF0.4", FINDING_BIT_STUCK_HIGH, REG_PF0, 4},
                  {"couple=PF2.7:PF0.5", FINDING_BIT_COUPLED, REG_PF2, 7},
                  {"or=PF2.0:PF2.1", FINDING_BITS_ORED, REG_PF2, 0},
                  {"flaky=PF1.3:low:0.3", FINDING_INTERMITTENT, REG_PF1, 3},
                  {"flaky=PF2.3:high:0.1", FINDING_INTERMITTENT, REG_PF2, 3},
                  {"order=PF2", FINDING_REGISTER_ORDER_REVERSED, REG_PF2, -1},
                  {"swap=PF1,PF2", FINDING_REGISTERS_SWAPPED, REG_COUNT, -1},
                  {"mirror-ignored", FINDING_MIRROR_IGNORED, REG_CTRLPF, 0},
                  {"copy-ignored", FINDING_COPY_IGNORED, REG_CTRLPF, 0},
                  {"tia-data=3:low", FINDING_DATA_LINE_STUCK, REG_COUNT, 3},
                  {"tia-data=0:high", FINDING_DATA_LINE_STUCK, REG_COUNT, 0},
                  {"late=1", FINDING_SHIFTED, REG_COUNT, -1},
                  {"late=2", FINDING_SHIFTED, REG_COUNT, -1},
                  {"late=4", FINDING_SHIFTED, REG_COUNT, -1},
                  {"late=7", FINDING_SHIFTED, REG_COUNT, -1},
                  {"colour-low=COLUPF.3", FINDING_COLOUR_WRONG, REG_COLUPF, -1}};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        struct loop loop;
        run(&loop, 16384, 1, STANDARD_NTSC, NULL, faults[i].fault);
        if (loop.session.result->verdict != VERDICT_FAIL ||
            !loop_found(&loop, faults[i].kind, faults[i].reg, faults[i].bit)) {
            fail_msg("%s: %s", faults[i].fault, loop_findings(&loop));
        }
        assert_int_equal(loop.session.result->repeat_wanted, 0);
        loop_end(&loop);
    }
}

/* Colours take four seconds of video. */
static void colours_are_judged_too(void **state) {
    (void)state;
    static const struct {
        const char *fault;
        int reg, bit;
    } faults[] = {{"colour-low=COLUPF.1", REG_COLUPF, 1},
                  {"colour-high=COLUPF.6", REG_COLUPF, 6},
                  {"colour-high=COLUBK.1", REG_COLUBK, 1}};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        struct loop loop;
        run(&loop, 65536, 1, STANDARD_NTSC, NULL, faults[i].fault);
        if (loop.session.result->verdict != VERDICT_FAIL ||
            !loop_found(&loop, FINDING_COLOUR_WRONG, faults[i].reg, faults[i].bit)) {
            fail_msg("%s: %s", faults[i].fault, loop_findings(&loop));
        }
        assert_int_equal(loop.session.result->coverage.seen, 65536);
        loop_end(&loop);
    }
}

/* Found by a random search over impairments far beyond those of the kinds of grabber: what the video makes of
 * levels and edges is no colour and no shift of the console's. */
static void strong_impairments_make_no_finding(void **state) {
    (void)state;
    static const struct {
        const char *impair[4];
        uint32_t count;
        uint64_t seed;
    } cases[] = {{{"hum=0.34", NULL}, 8192, 168},
                 {{"hum=0.22", "comb=0.27", NULL}, 8192, 119},
                 {{"ghost=0.36:2.91", "slant=-0.005", "sharpen=0.14", NULL}, 65536, 30},
                 {{"ghost=-0.25:0.39", "offset=-0.23", "mjpeg=2", NULL}, 16384, 23}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct loop loop;
        seed = cases[i].seed;
        run(&loop, cases[i].count, 1, STANDARD_NTSC, cases[i].impair, NULL);
        seed = 1;
        const struct result *result = loop.session.result;
        if (result->verdict == VERDICT_FAIL || result->coverage.wrong > 0) {
            fail_msg("%s: %s", cases[i].impair[0], loop_findings(&loop));
        }
        loop_end(&loop);
    }
}

/* A cause that moves bits and a bit that is stuck, together. */
static void two_different_causes_are_named(void **state) {
    (void)state;
    struct virtual_options options;
    struct loop loop;
    virtual_defaults(STANDARD_NTSC, &options);
    assert_true(virtual_add_fault(&options, "order=PF1", &loop.problem));
    write_plan(16384, 1);
    loop_hold = 1;
    assert_true(loop_run(&loop, path, &options, "bit-low=PF2.3", NULL));
    unlink(path);
    if (loop.session.result->finding_count != 2 ||
        !loop_found(&loop, FINDING_REGISTER_ORDER_REVERSED, REG_PF1, -1) ||
        !loop_found(&loop, FINDING_BIT_STUCK_LOW, REG_PF2, 3)) {
        fail_msg("%s", loop_findings(&loop));
    }
    loop_end(&loop);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_consoles_pass),
        cmocka_unit_test(mixing_grabbers_get_more_lines),
        cmocka_unit_test(every_kind_of_grabber),
        cmocka_unit_test(the_chip_s_faults_are_named),
        cmocka_unit_test(colours_are_judged_too),
        cmocka_unit_test(strong_impairments_make_no_finding),
        cmocka_unit_test(two_different_causes_are_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
