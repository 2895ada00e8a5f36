/* The whole way with every packing of the virtual grabber, combined with what else such grabbers do: the
 * layout is found out, and a good and a broken console are told apart all the same. */
#include "loop.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { TEXTS_MAX = 4, HOLD = 8 };

static const struct packing {
    const char *impairments[TEXTS_MAX];
    enum layout layout;
    int older, stale; /* -1: not known, both fresh */
    bool half_black, lossy;
} packings[] = {
    {{"older=top"}, LAYOUT_WOVEN, 0, -1, false, false},
    {{"older=bottom", "noise=24"}, LAYOUT_WOVEN, 1, -1, false, false},
    {{"pairs", "slip"}, LAYOUT_WOVEN, 1, -1, false, false},
    {{"layout=stacked", "older=top"}, LAYOUT_STACKED, 0, -1, false, false},
    {{"layout=stacked", "older=bottom", "noise=24"}, LAYOUT_STACKED, 1, -1, false, false},
    {{"layout=single", "chroma=420"}, LAYOUT_SINGLE, -1, -1, false, false},
    {{"layout=bobbed", "noise=24"}, LAYOUT_BOBBED, -1, -1, false, false},
    {{"layout=bobbed", "mjpeg=50"}, LAYOUT_BOBBED, -1, -1, false, false},
    {{"layout=blended"}, LAYOUT_BLENDED, -1, -1, false, false},
    {{"layout=blended", "noise=24", "ghost=0.1:1.5"}, LAYOUT_BLENDED, -1, -1, false, false},
    {{"layout=blended", "noise=30", "slant=0.01"}, LAYOUT_BLENDED, -1, -1, false, false},
    {{"stale=top"}, LAYOUT_WOVEN, -2, 0, false, false},
    {{"stale=bottom:30", "noise=24"}, LAYOUT_WOVEN, -2, 1, false, false},
    {{"stale=bottom:7", "pairs"}, LAYOUT_WOVEN, -2, 1, false, false},
    {{"stale=top", "drop=0.1", "swap=0.05"}, LAYOUT_WOVEN, -2, 0, false, true},
    {{"layout=stacked", "stale=bottom"}, LAYOUT_STACKED, -2, 1, false, false},
    {{"half-black=top"}, LAYOUT_WOVEN, -1, -1, true, true},
    {{"half-black=bottom", "noise=24"}, LAYOUT_WOVEN, -1, -1, true, true},
    {{"layout=stacked", "half-black=lower"}, LAYOUT_STACKED, -1, -1, true, true},
    {{"drop=0.1", "double=0.1", "swap=0.05", "older=top"}, LAYOUT_WOVEN, 0, -1, false, true},
    {{"layout=single", "drop=0.2", "double=0.2"}, LAYOUT_SINGLE, -1, -1, false, true},
};

static const char *name_of(const struct packing *packing) {
    static char name[200];
    name[0] = '\0';
    for (int i = 0; i < TEXTS_MAX && packing->impairments[i] != NULL; i++) {
        strcat(strcat(name, packing->impairments[i]), " ");
    }
    return name;
}

static void options_of(const struct packing *packing, struct virtual_options *options) {
    struct problem problem = {0};
    virtual_defaults(STANDARD_NTSC, options);
    for (int i = 0; i < TEXTS_MAX && packing->impairments[i] != NULL; i++) {
        if (!virtual_add_impairment(options, packing->impairments[i], &problem)) {
            fail_msg("%s", problem.text);
        }
    }
}

static void check_facts(const struct packing *packing, const struct frames_facts *facts) {
    bool older = packing->older == -2 || facts->older == packing->older;
    bool lossy = packing->lossy || facts->lost + facts->swapped <= 1;
    bool black = packing->half_black ? facts->half_black + 4 > facts->frames : facts->half_black <= 2;
    if (facts->layout != packing->layout || facts->stale != packing->stale || !older || !lossy || !black ||
        facts->changes != 0) {
        fail_msg("%s: %s, older %d, stale %d, changes %d, lost %d, swapped %d, half black %d of %d frames",
                 name_of(packing), layout_name(facts->layout), facts->older, facts->stale, facts->changes,
                 (int)facts->lost, (int)facts->swapped, (int)facts->half_black, (int)facts->frames);
    }
}

static void run(const struct packing *packing, const char *fault) {
    struct virtual_options options;
    struct loop loop;
    options_of(packing, &options);
    if (!loop_run(&loop, "bits", &options, fault, NULL)) {
        fail_msg("%s: %s", name_of(packing), loop.problem.text);
    }
    const struct result *result = loop.session.result;
    bool named = fault == NULL ||
                 (result->finding_count == 1 && loop_found(&loop, FINDING_BIT_STUCK_HIGH, REG_PF2, 6));
    if (result->verdict != (fault == NULL ? VERDICT_PASS : VERDICT_FAIL) || !named) {
        fail_msg("%s%s: %s %s", name_of(packing), fault == NULL ? "" : fault, verdict_name(result->verdict),
                 loop_findings(&loop));
    }
    check_facts(packing, frames_facts(loop.session.frames));
    loop_end(&loop);
}

static void every_packing(void **state) {
    (void)state;
    bool small = getenv("SLOTJIG_TEST_SMALL") != NULL;
    loop_hold = HOLD;
    for (size_t i = 0; i < sizeof packings / sizeof packings[0]; i += small ? 3 : 1) {
        run(&packings[i], NULL);
        run(&packings[i], "bit-high=PF2.6");
    }
}

/* A lean that mixed fields hide is no fault of the console. */
static void mixed_and_leaning(void **state) {
    (void)state;
    static const struct packing packing = {
        {"layout=blended", "noise=30", "slant=0.04"}, LAYOUT_BLENDED, -1, -1, false, false};
    struct virtual_options options;
    struct loop loop;
    options_of(&packing, &options);
    loop_hold = HOLD;
    assert_true(loop_run(&loop, "bits", &options, NULL, NULL));
    if (loop.session.result->verdict == VERDICT_FAIL) {
        fail_msg("%s", loop_findings(&loop));
    }
    loop_end(&loop);
}

/* Mixed slates tell nothing of a lean, so what one odd first field said of it must not stand for the run. */
static void late_in_mixed_fields(void **state) {
    (void)state;
    static const struct {
        uint64_t seed;
        const char *fault;
    } cases[] = {{1619, "late=1"}, {1624, "late=6"}, {1628, "late=10"}, {1681, "tia-data=6:high"}};
    loop_hold = HOLD;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct virtual_options options;
        struct problem problem = {0};
        struct loop loop;
        virtual_defaults(STANDARD_NTSC, &options);
        options.seed = cases[i].seed;
        assert_true(virtual_use_set(&options, "blend", &problem));
        if (!loop_run(&loop, "bits", &options, cases[i].fault, NULL)) {
            fail_msg("%s: %s", cases[i].fault, loop.problem.text);
        }
        enum finding_kind kind = cases[i].fault[0] == 'l' ? FINDING_SHIFTED : FINDING_DATA_LINE_STUCK;
        if (loop.session.result->finding_count == 0 || loop.session.result->findings[0].kind != kind) {
            fail_msg("%s: %s", cases[i].fault, loop_findings(&loop));
        }
        loop_end(&loop);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_packing), cmocka_unit_test(mixed_and_leaning),
                                       cmocka_unit_test(late_in_mixed_fields)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
