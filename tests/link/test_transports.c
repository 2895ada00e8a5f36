/* The same tests over every transport of the table. */
#include "core/bytes.h"
#include "core/frame.h"
#include "link/inside.h"
#include "link/link.h"
#include "link/shaky.h"
#include "link/transports.h"
#include "slotjig/mailbox.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* ---- a link over a row ---- */

static struct rig rig;
static struct link_options options;
static struct problem problem;
static struct link *link;
static uint8_t image[WIRE_IMAGE_MAX];

static void must(bool done, const char *row, const char *what) {
    if (!done) {
        fail_msg("%s: %s: %s", row, what, problem.text);
    }
}

static void start(const struct transport_row *row) {
    struct transport transport;
    rig_prepare(&rig);
    link_defaults(&options);
    memset(&problem, 0, sizeof problem);
    must(row->start(&rig, &transport, &problem), row->name, "start");
    must(link_open(&transport, &options, &link, &problem), row->name, "open");
}

static void stop(const struct transport_row *row) {
    link_close(link);
    row->stop(&rig);
}

static void fill(uint8_t *bytes, size_t size, uint32_t seed) {
    for (size_t i = 0; i < size; i++) {
        seed = seed * 1664525u + 1013904223u;
        bytes[i] = (uint8_t)(seed >> 24);
    }
}

static struct link_image image_of(size_t size, unsigned flags) {
    struct link_image made = {.bytes = image, .size = size, .flags = flags};
    assert_true(link_scheme(size, &made.scheme));
    return made;
}

static struct link_push push(const struct transport_row *row, const struct link_image *what) {
    struct link_push done;
    must(link_push(link, what, &done, &problem), row->name, "push");
    return done;
}

typedef void row_test(const struct transport_row *row);

/* SLOTJIG_TEST_ROW names the only row to run: tests/usb/test_rows.sh runs the one that needs a USB bus. */
static void on_every_row(row_test *test) {
    const char *only = getenv("SLOTJIG_TEST_ROW");
    bool known = only == NULL;
    for (size_t i = 0; i < transport_row_count; i++) {
        const struct transport_row *row = &transport_rows[i];
        if (only != NULL && strcmp(only, row->name) != 0) {
            continue;
        }
        known = true;
        const char *why = row->missing != NULL ? row->missing() : NULL;
        if (why != NULL) {
            print_message("    skipped over %s: %s\n", row->name, why);
            continue;
        }
        start(row);
        test(row);
        stop(row);
    }
    if (!known) {
        fail_msg("there is no row %s", only);
    }
}

/* ---- the tests ---- */

static void says_hello(const struct transport_row *row) {
    const struct link_facts *facts = link_facts(link);
    char serial[2 * WIRE_SERIAL + 1];
    for (int i = 0; i < WIRE_SERIAL; i++) {
        snprintf(serial + 2 * i, 3, "%02X", rig.options.serial[i]);
    }
    (void)row;
    assert_int_equal(facts->version, WIRE_VERSION);
    assert_string_equal(facts->serial, serial);
    assert_int_equal(facts->block, WIRE_BLOCK);
    assert_int_equal(facts->image_max, WIRE_IMAGE_MAX);
    assert_in_range(facts->window, WIRE_WINDOW, WIRE_BLOCKS_MAX);
}

static void pushes_every_size(const struct transport_row *row) {
    for (size_t size = 2048; size <= WIRE_IMAGE_MAX; size *= 2) {
        struct link_status status;
        fill(image, size, (uint32_t)size);
        const struct link_image what = image_of(size, 0);
        const struct link_push done = push(row, &what);
        assert_int_equal(done.sent, size / WIRE_BLOCK);
        assert_int_equal(done.kept, 0);
        assert_int_equal(done.start, WIRE_START_FORCED); /* there is no console */
        must(link_status(link, &status, &problem), row->name, "status");
        assert_int_equal(status.crc, frame_crc(0, image, size));
        assert_int_equal(status.size, size);
        assert_int_equal(status.scheme, what.scheme);
        assert_int_equal(status.state, WIRE_SERVING);
        assert_true(rig_serves(&rig, image, size));
    }
}

static void sends_only_what_changed(const struct transport_row *row) {
    fill(image, sizeof image, 1);
    const struct link_image what = image_of(sizeof image, 0);
    push(row, &what);
    image[12345] ^= 0x10;
    const struct link_push changed = push(row, &what);
    assert_int_equal(changed.sent, 1);
    assert_int_equal(changed.kept, 31);
    assert_true(rig_serves(&rig, image, sizeof image));
    const struct link_push same = push(row, &what);
    assert_true(same.skipped);
    assert_int_equal(same.bytes_out + same.bytes_in, 0);
}

/* The transport is lost in the middle, and what the board has is not sent again. */
static void resumes(const struct transport_row *row) {
    struct transport inner;
    struct transport transport;
    struct shaky shaky = {.rig = &rig, .what = SHAKE_CUT, .at = 12, .arrives = true};
    link_close(link);
    row->stop(&rig);
    rig_prepare(&rig);
    must(row->start(&rig, &inner, &problem), row->name, "start again");
    shaky_transport(&shaky, &inner, &transport);
    must(link_open(&transport, &options, &link, &problem), row->name, "open again");
    fill(image, sizeof image, 7);
    const struct link_image what = image_of(sizeof image, 0);
    const struct link_push done = push(row, &what);
    assert_true(shaky.happened);
    assert_int_equal(done.reconnects, 1);
    assert_in_range(done.sent, done.blocks, done.blocks + (size_t)link_facts(link)->window);
    assert_true(rig_serves(&rig, image, sizeof image));
}

/* The line itself goes, under a link that has been used and is to be used again. */
static void survives_unplugging(const struct transport_row *row) {
    struct link_status status;
    if (row->unplug == NULL) {
        return;
    }
    fill(image, 8192, 8);
    const struct link_image what = image_of(8192, 0);
    push(row, &what);
    row->unplug(&rig);
    must(link_status(link, &status, &problem), row->name, "status after unplugging");
    assert_int_equal(status.crc, frame_crc(0, image, 8192));
    row->unplug(&rig);
    image[5000] ^= 1;
    const struct link_push done = push(row, &what);
    assert_int_equal(done.reconnects, 1);
    assert_true(rig_serves(&rig, image, 8192));
}

static void ask_status(const struct transport_row *row, const struct question *question, uint8_t status) {
    struct reply reply;
    if (link_ask(link, question, &reply) != ANSWER_GIVEN) {
        fail_msg("%s: no answer to type %02X", row->name, question->type);
    }
    assert_int_equal(reply.status, status);
}

/* BEGIN, then ABORT: the old image stays, and nothing of the push is left. */
static void gives_up(const struct transport_row *row) {
    struct link_status status;
    uint8_t payload[11] = {1, 2, 3, 4, 2, WIRE_2K};
    const struct question begin = {.type = WIRE_BEGIN, .payload = payload, .count = sizeof payload};
    const struct question commit = {.type = WIRE_COMMIT};
    fill(image, 4096, 9);
    const struct link_image what = image_of(4096, 0);
    push(row, &what);
    ask_status(row, &begin, WIRE_OK);
    must(link_status(link, &status, &problem), row->name, "status");
    assert_int_equal(status.state, WIRE_RECEIVING);
    must(link_abort(link, &problem), row->name, "abort");
    must(link_status(link, &status, &problem), row->name, "status");
    assert_int_equal(status.state, WIRE_SERVING);
    ask_status(row, &commit, WIRE_NOT_BEGUN);
    assert_true(rig_serves(&rig, image, 4096));
}

/* A console's reset, some frames and a picture's end, put on the slot by hand; the board is given its
 * second. */
static void watches(const struct transport_row *row) {
    struct link_watch watch;
    pthread_mutex_lock(&rig.lock);
    virtual_board_supply(rig.board, true);
    pthread_mutex_unlock(&rig.lock);
    rig_slot(&rig, RESET_VECTOR);
    rig_slot(&rig, RESET_VECTOR + 1);
    for (int i = 0; i < 10; i++) {
        rig_slot(&rig, 0x1F00);
        rig_slot(&rig, 0x0000);
        rig_slot(&rig, MAILBOX_MODE);
    }
    for (int i = 0; i < 100; i++) {
        must(link_watch(link, &watch, &problem), row->name, "watch");
        if (watch.resets > 0) {
            break;
        }
        link_pause(link, 50);
    }
    assert_true(watch.supply);
    assert_int_equal(watch.resets, 1);
    assert_int_equal(watch.vsyncs, 10);
    assert_int_equal(watch.mailbox, 10);
    assert_int_equal(watch.cycles, 32);
    assert_int_equal(watch.traced, WIRE_TRACE);
    assert_int_equal(watch.trace[0], 0x1F00);
    assert_int_equal(watch.high, 0x1FFF);
}

static void selects(const struct transport_row *row) {
    struct link_status status;
    fill(image, 4096, 10);
    const struct link_image plain = image_of(4096, 0);
    push(row, &plain);
    assert_false(link_select(link, WIRE_HOLD_STEP, 3, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(problem.text, "takes no step to hold"));
    const struct link_image held = image_of(4096, WIRE_IMAGE_MAILBOX);
    push(row, &held);
    must(link_select(link, WIRE_HOLD_STEP, 3, &problem), row->name, "select");
    must(link_status(link, &status, &problem), row->name, "status");
    assert_int_equal(status.select, WIRE_HOLD_STEP);
    assert_int_equal(status.step, 3);
    assert_int_equal(rig_slot(&rig, MAILBOX_MODE), MAILBOX_HOLD);
    assert_int_equal(rig_slot(&rig, MAILBOX_STEP), 3);
    must(link_select(link, WIRE_RUN_FREE, 0, &problem), row->name, "select");
    assert_int_equal(rig_slot(&rig, MAILBOX_MODE), MAILBOX_FREE);
    /* A push ends with a plan that steps on, also when the board had the image. */
    must(link_select(link, WIRE_HOLD_STEP, 3, &problem), row->name, "select");
    push(row, &held);
    assert_int_equal(rig_slot(&rig, MAILBOX_MODE), MAILBOX_FREE);
    assert_false(link_select(link, WIRE_HOLD_STEP, 256, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
}

/* A field of a console, put on the slot by hand: the mode, and where it says so the value. -1: none given. */
static long shown_field(void) {
    long value = -1;
    if (rig_slot(&rig, MAILBOX_MODE) == MAILBOX_GIVEN) {
        value = 0;
        for (int i = 0; i < 3; i++) {
            value |= (long)rig_slot(&rig, (uint16_t)(MAILBOX_VALUE + i)) << 8 * i;
        }
    }
    rig_slot(&rig, 0x1000);
    link_pause(link, 6);
    return value;
}

/* The queue is filled in pieces, one of them twice; the console gets each value once, in this order. A board
 * that is served by a thread may be late and a value come twice, never two in the wrong order. */
static void gives_values(const struct transport_row *row) {
    enum { COUNT = 90 };
    uint32_t values[COUNT];
    struct link_queue queue;
    uint32_t shown = 0;
    long last = -1;
    for (uint32_t i = 0; i < COUNT; i++) {
        values[i] = (i * 0x9E3779u) & 0xFFFFFF;
    }
    fill(image, 4096, 13);
    const struct link_image plain = image_of(4096, 0);
    push(row, &plain);
    assert_false(link_values(link, 1, 0, values, 1, &queue, &problem));
    assert_non_null(strstr(problem.text, "does not ask which picture"));
    const struct link_image told = image_of(4096, WIRE_IMAGE_MAILBOX);
    push(row, &told);
    must(link_values(link, 1, 0, values, COUNT, &queue, &problem), row->name, "values");
    assert_true(queue.next == WIRE_VALUES_MAX && queue.taken == 0 && queue.room == 0);
    for (int field = 0; field < 40 * COUNT && shown < COUNT; field++) {
        const long value = shown_field();
        if (value >= 0 && value != last) {
            assert_int_equal(value, values[shown++]);
            last = value;
        }
        const uint32_t first = field % 2 == 0 ? queue.next : queue.next - 9;
        must(link_values(link, 1, first, values + first, COUNT - first, &queue, &problem), row->name,
             "values");
        assert_in_range(queue.next, WIRE_VALUES_MAX, COUNT);
    }
    assert_int_equal(shown, COUNT);
    link_pause(link, 12);
    must(link_values(link, 1, COUNT, NULL, 0, &queue, &problem), row->name, "how far");
    assert_true(queue.next == COUNT && queue.taken == COUNT && queue.room == WIRE_VALUES_QUEUE);
    assert_int_equal(rig_slot(&rig, MAILBOX_MODE), MAILBOX_FREE);
    /* A push ends it, also when the board had the image. */
    must(link_values(link, 1, COUNT, values, 9, &queue, &problem), row->name, "some more");
    assert_true(push(row, &told).skipped);
    link_pause(link, 12);
    assert_int_equal(rig_slot(&rig, MAILBOX_MODE), MAILBOX_FREE);
    assert_false(link_values(link, 1, COUNT + 9, values, 1, &queue, &problem));
    assert_non_null(strstr(problem.text, "start again"));
}

static void reads(const struct transport_row *row) {
    static uint8_t back[3000];
    fill(image, 16384, 11);
    const struct link_image what = image_of(16384, 0);
    push(row, &what);
    must(link_read(link, 5001, back, sizeof back, &problem), row->name, "read");
    assert_memory_equal(back, image + 5001, sizeof back);
    must(link_read(link, 16383, back, 1, &problem), row->name, "read the last");
    assert_int_equal(back[0], image[16383]);
    assert_false(link_read(link, 16383, back, 2, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_false(link_read(link, UINT32_MAX, back, 2, &problem));
}

/* Every message, one byte too short and one too long, and types that do not exist. The lengths are those of
 * the layouts in slotjig/wire.h. */
static void refuses_wrong_messages(const struct transport_row *row) {
    static const struct {
        uint8_t type;
        size_t length;
    } messages[] = {{WIRE_HELLO, 2}, {WIRE_BEGIN, 11},  {WIRE_COMMIT, 0},    {WIRE_ABORT, 0},
                    {WIRE_READ, 6},  {WIRE_SUMS, 0},    {WIRE_SELECT, 2},    {WIRE_STATUS, 0},
                    {WIRE_WATCH, 0}, {WIRE_DATA, 1024}, {WIRE_LOG_LEVEL, 1}, {WIRE_LOADER, 4},
                    {WIRE_VALUES, 6}};
    static const uint8_t unknown[] = {0x00, 0x0E, 0x20, 0x40, 0x7F};
    static uint8_t payload[WIRE_PAYLOAD_MAX];
    for (size_t i = 0; i < sizeof messages / sizeof messages[0]; i++) {
        struct question question = {
            .type = messages[i].type, .payload = payload, .count = messages[i].length + 1};
        ask_status(row, &question, WIRE_BAD_LENGTH);
        if (messages[i].length > 0) {
            question.count = messages[i].length - 1;
            ask_status(row, &question, WIRE_BAD_LENGTH);
        }
    }
    for (size_t i = 0; i < sizeof unknown; i++) {
        const struct question question = {.type = unknown[i], .payload = payload, .count = i};
        ask_status(row, &question, WIRE_UNKNOWN);
    }
}

static struct {
    int lines;
    char last[128];
} logged;

static void keep_log(void *user, int level, const char *text) {
    (void)user;
    logged.lines += level > 0;
    snprintf(logged.last, sizeof logged.last, "%s", text);
}

static void tells_the_log(const struct transport_row *row) {
    struct transport transport;
    link_close(link);
    row->stop(&rig);
    rig_prepare(&rig);
    memset(&logged, 0, sizeof logged);
    options.log = keep_log;
    must(row->start(&rig, &transport, &problem), row->name, "start again");
    must(link_open(&transport, &options, &link, &problem), row->name, "open again");
    must(link_log_level(link, 2, &problem), row->name, "log level");
    fill(image, 2048, 12);
    const struct link_image what = image_of(2048, 0);
    push(row, &what);
    assert_true(logged.lines > 0);
    assert_true(strlen(logged.last) > 0);
    assert_false(link_log_level(link, 3, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
}

/* The loader takes the board away: what is asked next is an error that says so, and soon. */
static void goes_to_the_loader(const struct transport_row *row) {
    struct link_status status;
    struct transport transport;
    link_close(link);
    row->stop(&rig);
    rig_prepare(&rig);
    options.reconnect_ms = 100;
    options.reply_ms = 50;
    must(row->start(&rig, &transport, &problem), row->name, "start again");
    must(link_open(&transport, &options, &link, &problem), row->name, "open again");
    must(link_loader(link, &problem), row->name, "loader");
    link_pause(link, 200);
    assert_false(link_status(link, &status, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
}

#define ON_EVERY_ROW(test)                                                                                   \
    static void over_all_##test(void **unused) {                                                             \
        (void)unused;                                                                                        \
        on_every_row(test);                                                                                  \
    }

ON_EVERY_ROW(says_hello)
ON_EVERY_ROW(pushes_every_size)
ON_EVERY_ROW(sends_only_what_changed)
ON_EVERY_ROW(resumes)
ON_EVERY_ROW(survives_unplugging)
ON_EVERY_ROW(gives_up)
ON_EVERY_ROW(watches)
ON_EVERY_ROW(selects)
ON_EVERY_ROW(gives_values)
ON_EVERY_ROW(reads)
ON_EVERY_ROW(refuses_wrong_messages)
ON_EVERY_ROW(tells_the_log)
ON_EVERY_ROW(goes_to_the_loader)

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(over_all_says_hello),
        cmocka_unit_test(over_all_pushes_every_size),
        cmocka_unit_test(over_all_sends_only_what_changed),
        cmocka_unit_test(over_all_resumes),
        cmocka_unit_test(over_all_survives_unplugging),
        cmocka_unit_test(over_all_gives_up),
        cmocka_unit_test(over_all_watches),
        cmocka_unit_test(over_all_selects),
        cmocka_unit_test(over_all_gives_values),
        cmocka_unit_test(over_all_reads),
        cmocka_unit_test(over_all_refuses_wrong_messages),
        cmocka_unit_test(over_all_tells_the_log),
        cmocka_unit_test(over_all_goes_to_the_loader),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
