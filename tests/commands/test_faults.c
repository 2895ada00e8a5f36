/* Every fault of the virtual bench, at every position it can have: right exit status, right finding. */
#include "commands/loop.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct promise {
    int exit;
    enum finding_kind kind, or_kind; /* either will do; the same twice where there is one answer */
    int reg, bit;
};

static struct promise one(int exit, enum finding_kind kind, int reg, int bit) {
    return (struct promise){exit, kind, kind, reg, bit};
}

static struct promise on_bit(enum finding_kind kind, const char *position) {
    int reg = 0, bit = 0;
    assert_int_equal(sscanf(position, "PF%d.%d", &reg, &bit), 2);
    return one(1, kind, REG_PF0 + reg, bit);
}

/* D1 is the bit of VSYNC and VBLANK: with it stuck there is no vertical sync to lock to, whatever the
 * playfield does [H]. */
static struct promise on_data_input(const char *line) {
    int bit = atoi(line);
    if (bit == 1) {
        return (struct promise){4, FINDING_NO_VIDEO, FINDING_NO_SLATE, REG_COUNT, -1};
    }
    return one(1, FINDING_DATA_LINE_STUCK, REG_COUNT, bit);
}

static struct promise promise_of(const char *fault) {
    const char *value = strchr(fault, '=');
    value = value == NULL ? "" : value + 1;
    if (strncmp(fault, "bit-low", 7) == 0) {
        return on_bit(FINDING_BIT_STUCK_LOW, value);
    }
    if (strncmp(fault, "bit-high", 8) == 0) {
        return on_bit(FINDING_BIT_STUCK_HIGH, value);
    }
    if (strncmp(fault, "flaky", 5) == 0) {
        return on_bit(FINDING_INTERMITTENT, value);
    }
    if (strncmp(fault, "order", 5) == 0) {
        return one(1, FINDING_REGISTER_ORDER_REVERSED, REG_PF0 + value[2] - '0', -1);
    }
    if (strncmp(fault, "unconnected", 11) == 0) {
        return one(1, FINDING_UNCONNECTED_BITS_DRAWN, REG_PF0, value[0] == 'a' ? -1 : atoi(value));
    }
    if (strncmp(fault, "tia-data", 8) == 0) {
        return on_data_input(value);
    }
    if (strncmp(fault, "cart-address=11", 15) == 0) {
        return one(0, FINDING_UNEXPLAINED, -1, -1); /* an image of 2 KiB does not use A11 */
    }
    if (strncmp(fault, "cart-", 5) == 0 || strcmp(fault, "no-console") == 0) {
        return (struct promise){4, FINDING_NO_VIDEO, FINDING_NO_SLATE, REG_COUNT, -1};
    }
    static const struct {
        const char *start;
        int exit;
        enum finding_kind kind;
    } plain[] = {{"swap", 1, FINDING_REGISTERS_SWAPPED},    {"mirror-ignored", 1, FINDING_MIRROR_IGNORED},
                 {"copy-ignored", 1, FINDING_COPY_IGNORED}, {"late", 1, FINDING_SHIFTED},
                 {"no-video", 4, FINDING_NO_VIDEO},         {"no-supply", 4, FINDING_NO_VIDEO},
                 {"frozen", 4, FINDING_FROZEN_VIDEO}};
    for (size_t i = 0; i < sizeof plain / sizeof plain[0]; i++) {
        if (strncmp(fault, plain[i].start, strlen(plain[i].start)) == 0) {
            return one(plain[i].exit, plain[i].kind, REG_COUNT, -1);
        }
    }
    fail_msg("no promise written for fault %s", fault);
    return one(0, FINDING_UNEXPLAINED, 0, 0);
}

static void check_fault(const char *fault, enum standard standard, uint64_t seed, double noise_db) {
    struct loop loop;
    struct virtual_options options;
    struct promise promise = promise_of(fault);
    virtual_defaults(standard, &options);
    options.seed = seed;
    options.grabber.noise_db = noise_db;
    if (!loop_run(&loop, "bits", &options, fault, NULL)) {
        fail_msg("fault %s: %s", fault, loop.problem.text);
    }
    int exit = verdict_exit(loop.session.result->verdict);
    bool found = promise.exit == 0 ? loop.session.result->finding_count == 0
                                   : loop_found(&loop, promise.kind, promise.reg, promise.bit) ||
                                         loop_found(&loop, promise.or_kind, promise.reg, promise.bit);
    if (exit != promise.exit || !found ||
        (promise.exit != 0 && loop.session.result->findings[0].kind == FINDING_UNEXPLAINED)) {
        fail_msg("fault %s, %s, seed %llu: exit %d (wanted %d), wanted %s, got %s", fault,
                 standard_table[standard].name, (unsigned long long)seed, exit, promise.exit,
                 finding_name(promise.kind), loop_findings(&loop));
    }
    loop_end(&loop);
}

static void test_every_fault(void **state) {
    (void)state;
    char fault[64];
    size_t count = 0;
    while (virtual_fault_text(count, fault, sizeof fault)) {
        check_fault(fault, STANDARD_NTSC, 1 + count, 40);
        count++;
    }
    assert_true(count >= 2 * 20 + 3 + 3 + 2 + 8 + 2 * 20 + 16 + 16 + 25 + 2 + 4 + 2);
    printf("%zu faults\n", count);
}

static void test_some_on_pal_and_secam(void **state) {
    (void)state;
    static const char *const faults[] = {
        "bit-low=PF2.7", "bit-high=PF0.4", "order=PF1", "mirror-ignored",
        "late=2",        "tia-data=0:low", "frozen=10", "flaky=PF1.0:high:0.2"};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        check_fault(faults[i], STANDARD_PAL, 300 + i, 30);
        check_fault(faults[i], STANDARD_SECAM, 400 + i, 30);
    }
}

static void test_no_fault_passes_on_every_standard(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        struct loop loop;
        struct virtual_options options;
        virtual_defaults((enum standard)standard, &options);
        if (!loop_run(&loop, "bits", &options, NULL, NULL)) {
            fail_msg("%s: %s", standard_table[standard].name, loop.problem.text);
        }
        if (loop.session.result->verdict != VERDICT_PASS || loop.session.result->finding_count != 0) {
            fail_msg("%s: %s", standard_table[standard].name, loop_findings(&loop));
        }
        assert_true(loop.session.result->margin > 0.8);
        loop_end(&loop);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_no_fault_passes_on_every_standard),
        cmocka_unit_test(test_every_fault),
        cmocka_unit_test(test_some_on_pal_and_secam),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
