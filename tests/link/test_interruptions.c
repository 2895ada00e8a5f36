/*
 * One interruption at every message of a push, and power cut at every flash operation: at every moment the
 * old or the new image is served, the error says what happened, nothing hangs, and another push succeeds.
 */
#include "core/frame.h"
#include "link/link.h"
#include "link/shaky.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { SIZE = 8192, FLASH_MS = 2 };

static struct rig rig;
static uint8_t old_image[SIZE], new_image[SIZE];
static long half_images; /* moments at which neither was served */

static struct link_image image_of(const uint8_t *bytes) {
    return (struct link_image){.bytes = bytes, .size = SIZE, .scheme = WIRE_F8};
}

static void make_images(bool alike) {
    uint32_t seed = 5;
    for (size_t i = 0; i < SIZE; i++) {
        seed = seed * 1664525u + 1013904223u;
        old_image[i] = (uint8_t)(seed >> 24);
        new_image[i] = alike && i / WIRE_BLOCK != 2 ? old_image[i] : (uint8_t)(seed >> 16);
    }
}

/* Looking takes the board's time, in which it may lose its power: asked last. */
static bool old_or_new(void) {
    return rig_serves(&rig, old_image, SIZE) || rig_serves(&rig, new_image, SIZE) ||
           virtual_board_dead(rig.board);
}

static void look(void *user) {
    (void)user;
    half_images += !old_or_new();
}

static void push_well(const uint8_t *bytes, const char *when) {
    struct transport transport;
    struct link *link;
    struct link_options options;
    struct problem problem;
    const struct link_image image = image_of(bytes);
    link_defaults(&options);
    transport_virtual(rig.board, &transport, &problem);
    if (!link_open(&transport, &options, &link, &problem) || !link_push(link, &image, NULL, &problem)) {
        fail_msg("%s: push: %s", when, problem.text);
    }
    link_close(link);
    assert_true(rig_serves(&rig, bytes, SIZE));
}

/* ---- one push with one interruption ---- */

struct run {
    struct shaky shaky;
    struct link_options options;
    long power_cut_after;
    bool opened, pushed;
    struct link_push push;
    struct problem problem;
};

static void run_push(struct run *run) {
    struct transport inner;
    struct transport transport;
    struct link *link;
    const struct link_image image = image_of(new_image);
    rig_prepare(&rig);
    rig.options.erase_us = rig.options.program_us = FLASH_MS * 1000;
    rig.board = virtual_board_new(&rig.options, &run->problem);
    push_well(old_image, "before");
    run->shaky.rig = &rig;
    run->shaky.look = look;
    transport_virtual(rig.board, &inner, &run->problem);
    shaky_transport(&run->shaky, &inner, &transport);
    if (run->power_cut_after >= 0) {
        rig.options.power_cut_after = run->power_cut_after;
        virtual_board_free(rig.board);
        rig.board = virtual_board_new(&rig.options, &run->problem);
        transport_virtual(rig.board, &run->shaky.inner, &run->problem);
    }
    run->opened = link_open(&transport, &run->options, &link, &run->problem);
    if (run->opened) {
        run->pushed = link_push(link, &image, &run->push, &run->problem);
        link_close(link);
    }
}

static void end_run(const char *when) {
    if (virtual_board_dead(rig.board)) {
        struct problem problem;
        virtual_board_free(rig.board);
        rig.options.power_cut_after = -1;
        rig.board = virtual_board_new(&rig.options, &problem);
    }
    virtual_board_advance(rig.board, 1000000);
    if (!old_or_new() || half_images > 0) {
        fail_msg("%s: neither the old nor the new image was served (%ld times on the way)", when,
                 half_images);
    }
    push_well(new_image, when);
    virtual_board_free(rig.board);
}

static const char *const shake_names[] = {"nothing", "cut", "unplug", "power", "reset"};

static long messages_of_a_push(bool whole) {
    struct run run = {.power_cut_after = -1};
    link_defaults(&run.options);
    run.options.whole = whole;
    run_push(&run);
    assert_true(run.pushed);
    end_run("without an interruption");
    return run.shaky.messages;
}

/* ---- interruptions that the link gets over ---- */

static void interrupt(enum shake what, long at, bool arrives, bool whole) {
    char when[100];
    struct run run = {.shaky = {.what = what, .at = at, .arrives = arrives}, .power_cut_after = -1};
    snprintf(when, sizeof when, "%s at message %ld, which %s", shake_names[what], at,
             arrives ? "arrives" : "is lost");
    link_defaults(&run.options);
    run.options.whole = whole;
    run_push(&run);
    if (!run.opened) {
        /* Hello itself was lost: opening does not come back by itself. */
        assert_in_range(at, 1, 2);
        assert_non_null(strstr(run.problem.text, "nothing answers"));
    } else if (!run.pushed) {
        fail_msg("%s: %s", when, run.problem.text);
    } else if (!rig_serves(&rig, new_image, SIZE)) {
        fail_msg("%s: pushed, and something else is served", when);
    }
    end_run(when);
}

static void interrupt_everywhere(bool alike, bool whole) {
    make_images(alike);
    const long messages = messages_of_a_push(whole);
    const long step = getenv("SLOTJIG_TEST_SMALL") != NULL ? 3 : 1;
    assert_true(messages > 10);
    for (int what = SHAKE_CUT; what <= SHAKE_RESET; what++) {
        for (long at = 1; at <= messages; at += step) {
            interrupt((enum shake)what, at, false, whole);
            interrupt((enum shake)what, at, true, whole);
        }
    }
}

static void any_message_of_a_push(void **unused) {
    (void)unused;
    interrupt_everywhere(false, false);
}

static void any_message_of_a_push_of_one_block(void **unused) {
    (void)unused;
    interrupt_everywhere(true, false);
}

static void any_message_of_a_whole_push_of_the_same(void **unused) {
    (void)unused;
    make_images(true);
    memcpy(new_image, old_image, SIZE);
    const long messages = messages_of_a_push(true);
    for (long at = 1; at <= messages; at++) {
        interrupt(SHAKE_POWER, at, true, true);
        interrupt(SHAKE_RESET, at, false, true);
    }
}

/* ---- the same without coming back: the error ---- */

static void without_coming_back(void **unused) {
    (void)unused;
    make_images(false);
    const long messages = messages_of_a_push(false);
    for (int what = SHAKE_CUT; what <= SHAKE_POWER; what++) {
        for (long at = 3; at <= messages; at++) {
            char when[100];
            struct run run = {.shaky = {.what = (enum shake)what, .at = at}, .power_cut_after = -1};
            snprintf(when, sizeof when, "%s for good at message %ld", shake_names[what], at);
            link_defaults(&run.options);
            run.options.reconnect_ms = 0;
            run_push(&run);
            if (run.pushed || run.problem.kind != PROBLEM_BENCH ||
                strstr(run.problem.text, "was lost") == NULL) {
                fail_msg("%s: %s", when, run.pushed ? "pushed" : run.problem.text);
            }
            end_run(when);
        }
    }
}

/* ---- power cut at every flash operation ---- */

static void power_cut_anywhere(bool alike, int reconnect_ms) {
    make_images(alike);
    int cuts = 0;
    for (long after = 0;; after++) {
        char when[100];
        struct run run = {.power_cut_after = after};
        snprintf(when, sizeof when, "power cut after %ld flash operations", after);
        link_defaults(&run.options);
        run.options.reconnect_ms = reconnect_ms;
        run_push(&run);
        const bool cut = rig.options.power_cut_after < 0 || virtual_board_dead(rig.board);
        cuts += cut;
        if (run.pushed != (reconnect_ms > 0 || !cut)) {
            fail_msg("%s: %s", when, run.pushed ? "pushed" : run.problem.text);
        }
        end_run(when);
        if (!cut) {
            break;
        }
    }
    /* A header sector, two sectors of image, a header page at least. */
    assert_true(cuts >= 4);
}

static void power_cut_at_every_flash_operation(void **unused) {
    (void)unused;
    power_cut_anywhere(false, 5000);
    power_cut_anywhere(true, 5000);
    power_cut_anywhere(false, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_message_of_a_push),
        cmocka_unit_test(any_message_of_a_push_of_one_block),
        cmocka_unit_test(any_message_of_a_whole_push_of_the_same),
        cmocka_unit_test(without_coming_back),
        cmocka_unit_test(power_cut_at_every_flash_operation),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
