/*
 * Seeded fault schedules over the virtual board, under its clock: whatever the line does, a push ends in its
 * bound, with the new image or with a problem and one of the two images whole. SLOTJIG_SEED=N runs one
 * schedule alone and prints it.
 */
#include "core/frame.h"
#include "link/link.h"
#include "link/transports.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum {
    SCHEDULES = 10000,
    SMALL = 300,
    TWICE = 10 /* every so many-th is run again, and must give the same */
};

/* ---- a schedule, from its seed ---- */

struct schedule {
    size_t size;
    unsigned flags;
    bool kept; /* the old image differs in some bytes only */
    struct transport_faults faults;
    struct link_options options;
    uint32_t erase_us, program_us;
};

static uint64_t random_state;

static uint64_t draw(void) {
    random_state ^= random_state << 13;
    random_state ^= random_state >> 7;
    random_state ^= random_state << 17;
    return random_state;
}

static double rate(double most) {
    return draw() % 3 == 0 ? 0 : most * (double)(draw() % 1000) / 1000;
}

/* A third each: a line that is a little bad, bad, and hopeless. */
static struct schedule make_schedule(uint64_t seed) {
    static const double worst[] = {0.01, 0.06, 0.4};
    struct schedule schedule = {0};
    random_state = seed * 0x9E3779B97F4A7C15u | 1;
    for (int i = 0; i < 8; i++) {
        draw();
    }
    const double most = worst[draw() % 3];
    schedule.size = (size_t)2048 << draw() % 5;
    schedule.flags = (unsigned)(draw() % 2) * WIRE_IMAGE_MAILBOX;
    schedule.kept = draw() % 2 == 0;
    schedule.faults = (struct transport_faults){
        .seed = seed,
        .drop = rate(most),
        .flip = rate(most),
        .cut = rate(most),
        .twice = rate(most),
        .reorder = rate(most),
        .stall = rate(most),
        .unplug = rate(most / 4),
        .stall_ms_max = (int)(draw() % 1500),
    };
    link_defaults(&schedule.options);
    schedule.options.whole = draw() % 4 == 0;
    schedule.options.read_back = draw() % 4 != 0;
    schedule.options.reconnect_ms = draw() % 4 == 0 ? (int)(draw() % 1000) : 5000;
    schedule.erase_us = draw() % 2 == 0 ? 0 : (uint32_t)(draw() % 400000);
    schedule.program_us = schedule.erase_us / 100;
    return schedule;
}

/* ---- running it ---- */

struct outcome {
    bool opened, pushed;
    uint64_t open_us, took_us, bound_us;
    uint32_t log; /* CRC-32 of all that went over the wire */
    size_t bytes;
    struct link_push push;
    struct problem problem;
    bool old_served, new_served;
};

static struct rig rig;
static uint8_t old_image[WIRE_IMAGE_MAX], new_image[WIRE_IMAGE_MAX];

static void log_bytes(void *user, char direction, const uint8_t *bytes, size_t count) {
    struct outcome *outcome = user;
    const uint8_t way = (uint8_t)direction;
    outcome->log = frame_crc(frame_crc(outcome->log, &way, 1), bytes, count);
    outcome->bytes += count;
}

static void make_images(const struct schedule *schedule) {
    for (size_t i = 0; i < schedule->size; i++) {
        old_image[i] = (uint8_t)draw();
        new_image[i] = schedule->kept ? old_image[i] : (uint8_t)draw();
    }
    for (uint64_t i = 0, count = 1 + draw() % 5; i < count; i++) {
        new_image[draw() % schedule->size] ^= (uint8_t)(1 + draw() % 255);
    }
}

static struct link_image image_of(const struct schedule *schedule, const uint8_t *bytes) {
    struct link_image image = {.bytes = bytes, .size = schedule->size, .flags = schedule->flags};
    link_scheme(schedule->size, &image.scheme);
    return image;
}

/* The old image is pushed over a good line. */
static void prepare(const struct schedule *schedule) {
    struct transport transport;
    struct link *link;
    struct problem problem;
    const struct link_image image = image_of(schedule, old_image);
    rig_prepare(&rig);
    rig.options.erase_us = schedule->erase_us;
    rig.options.program_us = schedule->program_us;
    rig.board = virtual_board_new(&rig.options, &problem);
    assert_non_null(rig.board);
    assert_true(transport_virtual(rig.board, &transport, &problem));
    if (!link_open(&transport, NULL, &link, &problem) || !link_push(link, &image, NULL, &problem)) {
        fail_msg("on a good line: %s", problem.text);
    }
    link_close(link);
}

static void look_at_board(struct outcome *outcome, const struct schedule *schedule) {
    virtual_board_advance(rig.board, 5000000); /* a commit that is under way, and the hand-over's end */
    outcome->old_served = rig_serves(&rig, old_image, schedule->size);
    outcome->new_served = rig_serves(&rig, new_image, schedule->size);
}

static struct outcome run(const struct schedule *given) {
    struct schedule schedule = *given;
    struct outcome outcome = {0};
    struct transport inner;
    struct transport transport;
    struct link *link;
    const struct link_image image = image_of(&schedule, new_image);
    prepare(&schedule);
    schedule.faults.log = log_bytes;
    schedule.faults.user = &outcome;
    transport_virtual(rig.board, &inner, &outcome.problem);
    transport_faulty(&inner, &schedule.faults, &transport, &outcome.problem);
    const uint64_t opening = virtual_board_now(rig.board);
    outcome.opened = link_open(&transport, &schedule.options, &link, &outcome.problem);
    outcome.open_us = virtual_board_now(rig.board) - opening;
    if (outcome.opened) {
        const uint64_t before = virtual_board_now(rig.board);
        outcome.bound_us = link_push_bound_ms(link, schedule.size) * 1000;
        outcome.pushed = link_push(link, &image, &outcome.push, &outcome.problem);
        outcome.took_us = virtual_board_now(rig.board) - before;
        link_close(link);
    }
    look_at_board(&outcome, &schedule);
    virtual_board_free(rig.board);
    return outcome;
}

/* ---- what must be ---- */

static void complain(uint64_t seed, const struct outcome *outcome, const char *what) {
    fail_msg(
        "seed %llu: %s (opened %d, pushed %d, old served %d, new served %d, %llu of %llu us, problem: %s); "
        "again: SLOTJIG_SEED=%llu build/tests/link/test_schedules",
        (unsigned long long)seed, what, outcome->opened, outcome->pushed, outcome->old_served,
        outcome->new_served, (unsigned long long)outcome->took_us, (unsigned long long)outcome->bound_us,
        outcome->problem.text, (unsigned long long)seed);
}

/* Hello is asked six times: 250 + 500 + 4 * 1000 ms of waits (link.h: reply_ms, retries), and a line that is
 * held up for at most 1500 ms before each. */
static const uint64_t open_bound_us = 13750000;

static void check(uint64_t seed, const struct outcome *outcome) {
    if (outcome->pushed && !outcome->new_served) {
        complain(seed, outcome, "said to be pushed, and the slot shows something else");
    }
    if (!outcome->old_served && !outcome->new_served) {
        complain(seed, outcome, "neither the old nor the new image is served");
    }
    if (!outcome->pushed && (outcome->problem.kind != PROBLEM_BENCH || strlen(outcome->problem.text) < 20)) {
        complain(seed, outcome, "a failure that does not say what is wrong");
    }
    if (outcome->open_us > open_bound_us) {
        complain(seed, outcome, "opening took longer than all its waits");
    }
    if (outcome->took_us > outcome->bound_us) {
        complain(seed, outcome, "longer than its bound");
    }
}

struct tally {
    int opened, pushed, reconnected, failed_new;
    uint64_t longest_us;
};

static void count(struct tally *tally, const struct outcome *outcome) {
    tally->opened += outcome->opened;
    tally->pushed += outcome->pushed;
    tally->reconnected += outcome->push.reconnects > 0;
    tally->failed_new += outcome->opened && !outcome->pushed && outcome->new_served;
    if (outcome->took_us > tally->longest_us) {
        tally->longest_us = outcome->took_us;
    }
}

static void run_seed(uint64_t seed, struct tally *tally) {
    const struct schedule schedule = make_schedule(seed);
    make_images(&schedule);
    const struct outcome outcome = run(&schedule);
    check(seed, &outcome);
    count(tally, &outcome);
    if (seed % TWICE == 0) {
        const struct outcome again = run(&schedule);
        if (again.log != outcome.log || again.bytes != outcome.bytes || again.took_us != outcome.took_us) {
            complain(seed, &again, "not the same on the wire as the first time");
        }
    }
}

static void schedules(void **unused) {
    const char *one = getenv("SLOTJIG_SEED");
    struct tally tally = {0};
    (void)unused;
    if (one != NULL) {
        const uint64_t seed = strtoull(one, NULL, 10);
        run_seed(seed, &tally);
        print_message("seed %llu: opened %d, pushed %d, %llu us\n", (unsigned long long)seed, tally.opened,
                      tally.pushed, (unsigned long long)tally.longest_us);
        return;
    }
    const uint64_t most = getenv("SLOTJIG_TEST_SMALL") != NULL ? SMALL : SCHEDULES;
    for (uint64_t seed = 1; seed <= most; seed++) {
        run_seed(seed, &tally);
    }
    print_message(
        "%llu schedules: %d opened, %d pushed, %d of them over a new connection, %d failed with the new "
        "image in the board; longest %.1f s\n",
        (unsigned long long)most, tally.opened, tally.pushed, tally.reconnected, tally.failed_new,
        (double)tally.longest_us / 1e6);
    /* A test of nothing but failures, or of no trouble, would say little. */
    assert_true((uint64_t)tally.pushed > most / 3);
    assert_true((uint64_t)tally.pushed < most);
    assert_true(tally.reconnected > 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(schedules)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
