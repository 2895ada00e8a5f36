/*
 * A window that the 6532's timer bounds: what the proof takes for granted of it, and what it works out.
 * Programs that are wrong in one thing each beside one that is right. Cycles [A] by the MCS6500 Family
 * Programming Manual, 1976; 76 a line [H]; the timer's first step one cycle after it is set [M], the others
 * 64 apart [H 6532].
 */
#include "rom/kernel.h"
#include "rom/programs.h"
#include "rom/prove.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { BEFORE = 5, TIM64T = 0x296, TIM8T = 0x295, INTIM = 0x284 };

static struct encoder *e;
static struct rom_account account;
static struct problem problem;

static void lines(int count) {
    for (int i = 0; i < count; i++) {
        zp(e, "STA", TIA_WSYNC);
    }
}

/* Set with cycle 6 + delay of line 5, the timer is at 0 from cycle 7 + delay + 64 * (set_to - 1) on. */
struct window {
    int delay, set_to, frame_lines;
    bool unknown;     /* what the timer is set to */
    bool none;        /* it is not set */
    bool other;       /* another of its registers is set */
    const char *read; /* the instruction that looks at it; NULL: LDA */
    int read_at;      /* 0: INTIM */
    bool longer;      /* the branch goes back further */
};

static void set_timer(const struct window *window) {
    encode_delay(e, window->delay);
    if (window->unknown) {
        zp(e, "LDA", 0xC0);
    } else {
        imm(e, "LDA", window->set_to);
    }
    if (!window->none) {
        encode(e, "STA", MODE_ABSOLUTE, window->other ? TIM8T : TIM64T, NULL);
    }
}

static bool proved(const struct window *window) {
    const struct prove_limits limits = {
        .frame_lines = window->frame_lines, .slate_from = 0x80, .slate_to = 0xB8, .handover = 0};
    e = new_program(2048);
    encode_label(e, "reset");
    imm(e, "LDX", 0xFF), one(e, "TXS");
    encode_label(e, "frame");
    imm(e, "LDA", 2), lines(1), zp(e, "STA", TIA_VSYNC), lines(3);
    imm(e, "LDA", 0), zp(e, "STA", TIA_VSYNC), zp(e, "STA", 0x80), lines(2);
    set_timer(window);
    jump(e, "work");
    encode_window(e, "done");
    encode_label(e, "work"); /* whatever it is */
    encode(e, "BRK", MODE_IMPLIED, 0, NULL);
    encode_label(e, "done");
    if (window->longer) {
        one(e, "NOP");
    }
    encode_label(e, "wait");
    encode(e, window->read == NULL ? "LDA" : window->read, MODE_ABSOLUTE,
           window->read_at == 0 ? INTIM : (uint16_t)window->read_at, NULL);
    encode_to(e, "BNE", MODE_RELATIVE, "wait", window->longer ? -1 : 0, NULL);
    encode_timer(e);
    jump(e, "frame");
    vectors(e, "reset");
    memset(&account, 0, sizeof account);
    memset(&problem, 0, sizeof problem);
    const bool good = encoder_finish(e, &problem) && prove(e, &limits, &account, &problem);
    free(e);
    return good;
}

static void accepted(struct window window) {
    if (!proved(&window)) {
        fail_msg("refused: %s", problem.text);
    }
    assert_int_equal(account.frame_lines, window.frame_lines);
}

static void refused(struct window window, const char *why) {
    if (proved(&window)) {
        fail_msg("accepted, though: %s", why);
    }
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, why) == NULL) {
        fail_msg("'%s' in '%s'", why, problem.text);
    }
}

/* Line and cycle in which the wait is over at the latest: a turn of 7 cycles, the read in its fourth, and the
 * branch that is not taken. */
static int over(const struct window *window) {
    return BEFORE * 76 + window->delay + 7 + 64 * (window->set_to - 1) + 6 + 2;
}

static void test_good(void **state) {
    (void)state;
    for (int set_to = 20; set_to < 150; set_to++) {
        struct window window = {.set_to = set_to};
        const int line = over(&window) / 76, cycle = over(&window) % 76;
        window.frame_lines = line + 1;
        if (cycle >= 6 && cycle + 3 + 2 + 3 <= 76) { /* JMP, LDA #, STA WSYNC */
            accepted(window);
        } else {
            assert_false(proved(&window));
        }
    }
}

/* Two lines share a wait that is over in one or the other. */
static void test_edge(void **state) {
    (void)state;
    int edges = 0;
    for (int delay = 2; delay < 66; delay++) {
        struct window window = {.set_to = 30, .delay = delay};
        window.frame_lines = over(&window) / 76 + 1;
        if (over(&window) % 76 < 6) {
            refused(window, "one line or another");
            edges++;
        }
    }
    assert_int_equal(edges, 6);
}

static void test_wrong(void **state) {
    (void)state;
    struct window good = {.set_to = 30};
    good.frame_lines = over(&good) / 76 + 1;
    accepted(good);
    struct window wrong = good;
    wrong.frame_lines++;
    refused(wrong, "another number of lines");
    wrong = good;
    wrong.frame_lines--;
    refused(wrong, "after the frame's end");
    wrong = good, wrong.set_to = 32;
    refused(wrong, "after the frame\'s end");
    wrong = good, wrong.unknown = true;
    refused(wrong, "a timer that is set to what, or when, is not known");
    wrong = good, wrong.none = true;
    refused(wrong, "a window without a timer");
    wrong = good, wrong.other = true;
    refused(wrong, "a store to what is neither RAM nor a register");
    wrong = good, wrong.set_to = 0;
    refused(wrong, "not known");
    wrong = good, wrong.read = "LDX";
    refused(wrong, "no wait for the timer");
    wrong = good, wrong.read_at = 0x285;
    refused(wrong, "no wait for the timer");
    wrong = good, wrong.longer = true;
    refused(wrong, "no wait for the timer");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_good), cmocka_unit_test(test_edge),
                                       cmocka_unit_test(test_wrong)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
