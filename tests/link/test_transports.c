/* The same tests over every transport of the table. */
#include "core/bytes.h"
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

static void on_every_row(row_test *test) {
    for (size_t i = 0; i < transport_row_count; i++) {
        const struct transport_row *row = &transport_rows[i];
        const char *why = row->missing != NULL ? row->missing() : NULL;
        if (why != NULL) {
            print_message("    skipped over %s: %s\n", row->name, why);
            continue;
        }
        start(row);
        test(row);
        stop(row);
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

static void hello_pushes(void **unused) {
    (void)unused;
    on_every_row(says_hello);
}

static void every_size(void **unused) {
    (void)unused;
    on_every_row(pushes_every_size);
}

static void one_byte(void **unused) {
    (void)unused;
    on_every_row(sends_only_what_changed);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hello_pushes),
        cmocka_unit_test(every_size),
        cmocka_unit_test(one_byte),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
