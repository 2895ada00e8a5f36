/* Faults and impairments that are given as texts. */
#ifndef SLOTJIG_TESTS_VIRTUAL_TEXTS_H
#define SLOTJIG_TESTS_VIRTUAL_TEXTS_H

#include "virtual/bench.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

/* virtual_add_fault(), or another that takes a text. */
typedef bool (*text_taker)(struct virtual_options *options, const char *text, struct problem *problem);

/* A wrong text is refused with a reason or a right spelling, on one line, and changes nothing. */
static inline void check_refused(text_taker take, const struct virtual_options *before, const char *text,
                                 const char *reason) {
    struct virtual_options options = *before;
    struct problem problem = {0};
    if (take(&options, text, &problem)) {
        fail_msg("'%s' was taken", text);
    }
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, reason) == NULL || strchr(problem.text, '\n') != NULL) {
        fail_msg("'%s' said: %s", text, problem.text);
    }
    assert_memory_equal(&options, before, sizeof options);
}

struct wrong_text {
    const char *text, *reason;
};

static inline void check_wrong_texts(text_taker take, const struct wrong_text *cases, size_t count) {
    struct virtual_options options;
    virtual_defaults(STANDARD_NTSC, &options);
    for (size_t i = 0; i < count; i++) {
        check_refused(take, &options, cases[i].text, cases[i].reason);
    }
}

#endif
