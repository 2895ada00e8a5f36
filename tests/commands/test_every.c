/*
 * Plan every all the way: console, grabber, judge. Shorter plans than the whole one, so that it takes a
 * second or two.
 */
#include "commands/loop.h"
#include "plan/every.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char path[4096];

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

/* What a grabber mixes, and the lines a pattern that its user needs. */
static void mixing_grabbers_get_more_lines(void **state) {
    (void)state;
    static const struct {
        const char *impair[3];
        int wanted;
    } grabbers[] = {
        {{NULL}, 0},
        {{"comb=0.3"}, 0},
        {{"comb=0.3", "noise=38"}, 0},
        {{"comb=0.5"}, 3},
        {{"comb=0.45", "noise=34"}, 3},
        {{"comb=0.5:adaptive"}, 3},
        {{"comb=0.4:adaptive", "noise=30"}, 3},
        {{"layout=bobbed", "noise=36"}, 0},
        {{"noise=12"}, 0},
        {{"mjpeg=20"}, 0},
    };
    for (size_t i = 0; i < sizeof grabbers / sizeof grabbers[0]; i++) {
        struct loop loop;
        run(&loop, 16384, 1, STANDARD_NTSC, grabbers[i].impair, NULL);
        const struct result *result = loop.session.result;
        printf("%s: wanted %d: %d\n", grabbers[i].impair[0], grabbers[i].wanted, result->repeat_wanted);
        const int repeat = result->repeat_wanted;
        loop_end(&loop);
        if (repeat) {
            run(&loop, 16384, repeat, STANDARD_NTSC, grabbers[i].impair, NULL);
            check_passes(&loop, grabbers[i].impair[0]);
            loop_end(&loop);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_consoles_pass),
        cmocka_unit_test(mixing_grabbers_get_more_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
