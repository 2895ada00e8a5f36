/*
 * Real boards' logic behind USB: lists of what is attached, pushes, and pushes that a loose plug interrupts.
 * On the same stage as test_usb.c, with what that says about modelled kernels.
 */
#include "core/bytes.h"
#include "core/frame.h"
#include "link/discover.h"
#include "link/link.h"
#include "link/usb_device.h"
#include "usb/rig.h"
#include "usb/start.h"

#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

enum { FOUND = 8 };

static struct rig rigs[STAGE_PORTS];
static char serials[STAGE_PORTS][2 * WIRE_SERIAL + 1];
static struct problem problem;

/* A board, plugged in; the last byte of its serial is its port's number. */
static struct stage_port *plug(int number) {
    struct rig *rig = &rigs[number];
    rig_prepare(rig);
    rig->options.serial[7] = (uint8_t)number;
    rig->board = virtual_board_new(&rig->options, &problem);
    assert_non_null(rig->board);
    const struct model_identity identity = usb_rig_identity(rig, serials[number]);
    struct stage_port *port = usb_rig_plug(rig, number, &identity);
    assert_non_null(port);
    return port;
}

static int clear(void **state) {
    (void)state;
    stage_clear();
    for (int i = 0; i < STAGE_PORTS; i++) {
        virtual_board_free(rigs[i].board);
        rigs[i].board = NULL;
    }
    return 0;
}

static uint8_t image[WIRE_IMAGE_MAX];

static struct link_image image_of(size_t size, uint32_t seed) {
    struct link_image made = {.bytes = image, .size = size};
    for (size_t i = 0; i < size; i++) {
        seed = seed * 1664525u + 1013904223u;
        image[i] = (uint8_t)(seed >> 24);
    }
    assert_true(link_scheme(size, &made.scheme));
    return made;
}

static struct board_found found[FOUND];

static size_t find(void) {
    size_t count = 99;
    memset(found, 0, sizeof found);
    if (!boards_find(found, FOUND, &count, &problem)) {
        fail_msg("%s", problem.text);
    }
    return count;
}

static const struct board_found *at(const struct stage_port *port) {
    for (size_t i = 0; i < FOUND; i++) {
        if (strcmp(found[i].where, port->where) == 0) {
            return &found[i];
        }
    }
    fail_msg("nothing is listed at %s", port->where);
    return NULL;
}

static void is_found(const struct board_found *board, enum board_state state, const char *serial) {
    assert_string_equal(board_state_name(board->state), board_state_name(state));
    assert_string_equal(board->serial, serial);
    assert_string_equal(board->transport, "usb");
    assert_int_equal(board->next[0] == '\0', state == BOARD_READY);
}

static void no_boards(void **state) {
    (void)state;
    assert_int_equal(find(), 0);
}

static void ready_boards(void **state) {
    (void)state;
    const struct stage_port *a = plug(0), *b = plug(2);
    assert_int_equal(find(), 2);
    is_found(at(a), BOARD_READY, serials[0]);
    is_found(at(b), BOARD_READY, serials[2]);
    assert_string_equal(at(a)->firmware, "0.2");
    assert_string_equal(at(a)->product, USB_PRODUCT_TEXT);
    /* No room for all of them: counted nevertheless. */
    size_t count;
    memset(found, 0, sizeof found);
    assert_true(boards_find(found, 1, &count, &problem));
    assert_int_equal(count, 2);
    assert_string_equal(found[1].where, "");
    /* Asking did not keep them. */
    assert_int_equal(find(), 2);
    is_found(at(a), BOARD_READY, serials[0]);
    is_found(at(b), BOARD_READY, serials[2]);
}

/* A reader says so of itself; what stands behind it here does not matter. */
static struct stage_port *plug_reader(int number) {
    struct rig *rig = &rigs[number];
    rig_prepare(rig);
    rig->options.serial[7] = (uint8_t)number;
    rig->board = virtual_board_new(&rig->options, &problem);
    assert_non_null(rig->board);
    struct model_identity identity = usb_rig_identity(rig, serials[number]);
    identity.texts[1] = USB_READER_TEXT;
    struct stage_port *port = usb_rig_plug(rig, number, &identity);
    assert_non_null(port);
    return port;
}

static void assert_chosen(const char *choice, const char *serial) {
    struct transport transport;
    struct link *link;
    assert_true(transport_usb(choice, &transport, &problem));
    assert_true(link_open(&transport, NULL, &link, &problem));
    assert_string_equal(link_facts(link)->serial, serial);
    link_close(link);
}

static void assert_not_chosen(const char *choice, enum problem_kind kind, const char *words) {
    struct transport transport;
    assert_false(transport_usb(choice, &transport, &problem));
    assert_int_equal(problem.kind, kind);
    assert_non_null(strstr(problem.text, words));
}

static void readers(void **state) {
    (void)state;
    assert_not_chosen(TRANSPORT_ANY_READER, PROBLEM_BENCH, "no reader on USB; plug one in");
    const struct stage_port *reader = plug_reader(1);
    assert_int_equal(find(), 1);
    is_found(at(reader), BOARD_READY, serials[1]);
    assert_true(at(reader)->reader);
    assert_not_chosen(NULL, PROBLEM_BENCH, "no cartridge board on USB; what is attached is a reader");
    assert_chosen(TRANSPORT_ANY_READER, serials[1]);
    const struct stage_port *board = plug(0);
    assert_int_equal(find(), 2);
    assert_true(at(reader)->reader);
    assert_false(at(board)->reader);
    assert_chosen(NULL, serials[0]);
    assert_chosen(TRANSPORT_ANY_READER, serials[1]);
    assert_chosen(serials[1], serials[1]);
    assert_chosen(at(reader)->where, serials[1]);
    plug_reader(2);
    assert_chosen(NULL, serials[0]);
    assert_not_chosen(TRANSPORT_ANY_READER, PROBLEM_INPUT, "2 readers");
}

static void no_reader(void **state) {
    (void)state;
    plug(0);
    assert_not_chosen(TRANSPORT_ANY_READER, PROBLEM_BENCH,
                      "no reader on USB; what is attached is a cartridge board");
}

static void near_misses(void **state) {
    (void)state;
    const struct model_identity other = {
        USB_VENDOR, USB_PRODUCT, {"someone", "thermometer", "7"}, .in = 1, .out = 1};
    const struct model_identity loader = {
        USB_LOADER_VENDOR, USB_LOADER_PRODUCT, {"x", "y", "E0C9"}, .in = 1, .out = 1};
    struct model_identity odd = {USB_VENDOR, USB_PRODUCT, {USB_MANUFACTURER, USB_PRODUCT_TEXT, "00"},
                                 .in = 1,    .out = 1,    .no_interface = true};
    rig_prepare(&rigs[0]);
    rigs[0].board = virtual_board_new(&rigs[0].options, &problem);
    const struct stage_port *a = usb_rig_plug(&rigs[0], 0, &other);
    const struct stage_port *b = usb_rig_plug(&rigs[0], 1, &loader);
    const struct stage_port *c = usb_rig_plug(&rigs[0], 2, &odd);
    assert_int_equal(find(), 3);
    is_found(at(a), BOARD_WRONG_PRODUCT, "");
    assert_string_equal(at(a)->product, "thermometer");
    is_found(at(b), BOARD_LOADER, "");
    is_found(at(c), BOARD_OLD_FIRMWARE, "00");
}

static void a_silent_board(void **state) {
    (void)state;
    struct stage_port *port = plug(0);
    stage_lock();
    port->model.mute = true;
    stage_unlock();
    assert_int_equal(find(), 1);
    is_found(at(port), BOARD_SILENT, serials[0]);
}

static void a_busy_board(void **state) {
    (void)state;
    struct stage_port *port = plug(1);
    struct transport transport;
    assert_true(transport_usb(NULL, &transport, &problem));
    assert_int_equal(find(), 1);
    is_found(at(port), BOARD_BUSY, serials[1]);
    transport.close(transport.state);
}

static void a_board_without_permission(void **state) {
    (void)state;
    struct stage_port *port = plug(1);
    uid_t user;
    if (!stage_deny(port, &user)) {
        skip();
    }
    size_t count = find();
    stage_become(user);
    assert_int_equal(count, 1);
    is_found(at(port), BOARD_NO_PERMISSION, serials[1]);
}

/* ---- boards with their serial port ---- */

static struct stage_port *plug_with_port(int number) {
    struct rig *rig = &rigs[number];
    rig_prepare(rig);
    rig->options.serial[7] = (uint8_t)number;
    rig->board = virtual_board_new(&rig->options, &problem);
    assert_non_null(rig->board);
    struct model_identity identity = usb_rig_identity(rig, serials[number]);
    identity.port = true;
    struct stage_port *port = usb_rig_plug(rig, number, &identity);
    assert_non_null(port);
    return port;
}

static void listed_once(void **state) {
    (void)state;
    const struct stage_port *a = plug_with_port(0), *b = plug_with_port(1);
    assert_int_equal(find(), 2);
    is_found(at(a), BOARD_READY, serials[0]);
    is_found(at(b), BOARD_READY, serials[1]);
}

/* The USB interface may not be opened, the serial port may: that is told. */
static void the_port_helps(void **state) {
    (void)state;
    struct stage_port *port = plug_with_port(1);
    uid_t user;
    assert_int_equal(chmod(port->tty, 0666), 0);
    if (!stage_deny(port, &user)) {
        skip();
    }
    size_t count = find();
    stage_become(user);
    assert_int_equal(count, 1);
    is_found(at(port), BOARD_NO_PERMISSION, serials[1]);
    assert_non_null(strstr(at(port)->next, port->tty));
}

/* A push over the serial port, by the transport for those. */
static void a_push_over_the_port(void **state) {
    (void)state;
    if (!stage_opens_ports()) {
        /* umockdev 0.17's realpath() crashes on a node that links out of its tree. */
        puts("skip a_push_over_the_port: only where the kernel's own driver serves the port");
        skip();
    }
    struct stage_port *port = plug_with_port(0);
    struct link_options options;
    struct transport transport;
    struct link *link = NULL;
    struct link_push push;
    link_defaults(&options);
    if (!transport_serial(port->tty, 115200, &transport, &problem) ||
        !link_open(&transport, &options, &link, &problem)) {
        fail_msg("%s", problem.text);
    }
    const struct link_image what = image_of(4096, 9);
    if (!link_push(link, &what, &push, &problem)) {
        fail_msg("%s", problem.text);
    }
    assert_true(rig_serves(&rigs[0], image, 4096));
    link_close(link);
}

/* ---- a board that answers what the test says ---- */

struct scripted {
    struct frame_decoder decoder;
    uint8_t reply[64];
    size_t count, sent;
    uint8_t type;
    uint8_t wire[WIRE_FRAME_MAX];
    size_t length;
};

static void scripted_receive(void *state, const uint8_t *bytes, size_t count) {
    struct scripted *scripted = state;
    struct frame_in in;
    for (size_t i = 0; i < count; i++) {
        if (frame_feed(&scripted->decoder, bytes[i], &in)) {
            scripted->length =
                frame_encode(scripted->type, in.sequence, scripted->reply, scripted->count, scripted->wire);
            scripted->sent = 0;
        }
    }
}

static size_t scripted_take(void *state, uint8_t *bytes, size_t size) {
    struct scripted *scripted = state;
    size_t count = scripted->length - scripted->sent;
    count = count < size ? count : size;
    memcpy(bytes, scripted->wire + scripted->sent, count);
    scripted->sent += count;
    return count;
}

static void other_versions(void **state) {
    (void)state;
    static const struct {
        uint8_t type, status, version;
        size_t count;
        enum board_state state;
        const char *next, *firmware;
    } cases[] = {
        {WIRE_HELLO | WIRE_REPLY, WIRE_OK, 1, 24 + 1, BOARD_READY, "", "2.7"},
        /* A later version says more at the end. */
        {WIRE_HELLO | WIRE_REPLY, WIRE_OK, 1, 24 + 9, BOARD_READY, "", "2.7"},
        {WIRE_HELLO | WIRE_REPLY, WIRE_BAD_VERSION, 2, 24 + 1, BOARD_OLD_FIRMWARE, "newer", "2.7"},
        {WIRE_HELLO | WIRE_REPLY, WIRE_OK, 0, 24 + 1, BOARD_OLD_FIRMWARE, "flash", "2.7"},
        {WIRE_HELLO | WIRE_REPLY, WIRE_BAD_VERSION, 0, 1, BOARD_OLD_FIRMWARE, "flash", ""},
        {WIRE_ERROR, WIRE_UNKNOWN, 1, 2, BOARD_OLD_FIRMWARE, "flash", ""},
        {WIRE_LOG, 1, 1, 20, BOARD_SILENT, "unplug", ""},
    };
    struct model_identity identity = {
        USB_VENDOR, USB_PRODUCT, {USB_MANUFACTURER, USB_PRODUCT_TEXT, "0101010101010101"}, .in = 1, .out = 1};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        static struct scripted scripted;
        memset(&scripted, 0, sizeof scripted);
        frame_start(&scripted.decoder);
        memset(scripted.reply, 1, sizeof scripted.reply);
        scripted.type = cases[i].type;
        scripted.reply[0] = cases[i].status;
        scripted.reply[1] = cases[i].version;
        scripted.reply[2] = 7;
        scripted.reply[3] = 2;
        scripted.count = cases[i].count;
        const struct model_board board = {&scripted, scripted_receive, scripted_take};
        struct stage_port *port = stage_plug(0, &identity, &board, NULL);
        assert_non_null(port);
        assert_int_equal(find(), 1);
        is_found(at(port), cases[i].state, "0101010101010101");
        assert_string_equal(at(port)->firmware, cases[i].firmware);
        assert_non_null(strstr(at(port)->next, cases[i].next));
        stage_clear();
    }
}

/* ---- pushes ---- */

/* Pulls a board once it has no more room, and plugs it in again. */
struct loose {
    struct stage_port *port;
    struct rig *rig;
    struct model_identity identity;
    int again; /* the port it comes back on */
};

static void *pull(void *argument) {
    struct loose *loose = argument;
    bool there = false;
    for (int ms = 0; ms < 5000 && !there; ms++) {
        nanosleep(&(struct timespec){.tv_nsec = 1000000}, NULL);
        stage_lock();
        there = loose->port->model.room < MODEL_PACKET;
        stage_unlock();
    }
    stage_unplug(loose->port);
    pthread_mutex_lock(&loose->rig->lock);
    virtual_board_unplug(loose->rig->board);
    pthread_mutex_unlock(&loose->rig->lock);
    nanosleep(&(struct timespec){.tv_nsec = 60000000}, NULL);
    usb_rig_plug(loose->rig, loose->again, &loose->identity);
    return NULL;
}

/* The plug comes loose after so many bytes of a push, and the board comes back on another port: the push goes
 * on where it was. */
static void a_loose_plug(void **state) {
    (void)state;
    static const size_t sizes[] = {4096, 32768};
    for (size_t i = 0; i < 2; i++) {
        for (size_t part = 1; part <= 4; part += getenv("SLOTJIG_TEST_SMALL") != NULL ? 2 : 1) {
            struct stage_port *port = plug(0);
            struct link_options options;
            struct transport transport;
            struct link *link;
            struct link_push push;
            link_defaults(&options);
            assert_true(transport_usb(NULL, &transport, &problem));
            if (!link_open(&transport, &options, &link, &problem)) {
                fail_msg("%s", problem.text);
            }
            struct loose loose = {port, &rigs[0], port->model.identity, 2};
            stage_lock();
            port->model.room = sizes[i] / 4 * part / MODEL_PACKET * MODEL_PACKET;
            stage_unlock();
            pthread_t thread;
            assert_int_equal(pthread_create(&thread, NULL, pull, &loose), 0);
            const struct link_image what = image_of(sizes[i], (uint32_t)(sizes[i] + part));
            bool pushed = link_push(link, &what, &push, &problem);
            pthread_join(thread, NULL);
            if (!pushed) {
                fail_msg("%zu bytes, plug loose after part %zu: %s", sizes[i], part, problem.text);
            }
            assert_int_equal(push.reconnects, 1);
            /* A window may have been on its way. */
            assert_true(push.sent <= push.blocks + WIRE_WINDOW);
            assert_true(rig_serves(&rigs[0], image, sizes[i]));
            link_close(link);
            clear(NULL);
        }
    }
}

static void stalls_in_a_push(void **state) {
    (void)state;
    struct stage_port *port = plug(1);
    struct link_options options;
    struct transport transport;
    struct link *link;
    struct link_push push;
    link_defaults(&options);
    assert_true(transport_usb(serials[1], &transport, &problem));
    assert_true(link_open(&transport, &options, &link, &problem));
    stage_lock();
    port->model.halted_in = port->model.halted_out = true;
    stage_unlock();
    const struct link_image what = image_of(4096, 3);
    if (!link_push(link, &what, &push, &problem)) {
        fail_msg("%s", problem.text);
    }
    assert_int_equal(push.reconnects, 0);
    assert_true(rig_serves(&rigs[1], image, 4096));
    assert_int_equal(port->model.cleared_in, 1);
    assert_int_equal(port->model.cleared_out, 1);
    link_close(link);
}

/* ---- the program itself ---- */

static char said[4000];

/* Its exit status; what it printed is in `said`. */
static int program(const char *arguments) {
    char command[500];
    snprintf(command, sizeof command, BUILD_DIR "/slotjig %s 2>&1", arguments);
    FILE *output = popen(command, "r");
    assert_non_null(output);
    said[fread(said, 1, sizeof said - 1, output)] = '\0';
    int status = pclose(output);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static void ends_with(const char *arguments, int status, const char *const words[]) {
    int ended = program(arguments);
    if (ended != status) {
        fail_msg("%s: ended with %d, not %d: %s", arguments, ended, status, said);
    }
    for (size_t i = 0; words[i] != NULL; i++) {
        if (strstr(said, words[i]) == NULL) {
            fail_msg("%s: \"%s\" is not in: %s", arguments, words[i], said);
        }
    }
}

static void the_program(void **state) {
    (void)state;
    char arguments[200];
    ends_with("boards", 3, (const char *const[]){NULL});
    const struct stage_port *a = plug(0), *b = plug(1);
    ends_with("boards", 0, (const char *const[]){serials[0], serials[1], a->where, b->where, NULL});
    ends_with("push --plan bits", 2, (const char *const[]){"2 boards", serials[0], serials[1], NULL});
    snprintf(arguments, sizeof arguments, "push --plan bits --board %s", serials[1]);
    ends_with(arguments, 0, (const char *const[]){NULL});
    /* The image is in that board, and not in the other one. */
    uint8_t erased[4096];
    memset(erased, 0xFF, sizeof erased);
    assert_memory_equal(rigs[0].flash, erased, sizeof erased);
    assert_memory_not_equal(rigs[1].flash, erased, sizeof erased);
    snprintf(arguments, sizeof arguments, "push --plan bits --board %s", a->where);
    ends_with(arguments, 0, (const char *const[]){NULL});
    assert_memory_not_equal(rigs[0].flash, erased, sizeof erased);
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(no_boards, clear),
        cmocka_unit_test_teardown(ready_boards, clear),
        cmocka_unit_test_teardown(readers, clear),
        cmocka_unit_test_teardown(no_reader, clear),
        cmocka_unit_test_teardown(near_misses, clear),
        cmocka_unit_test_teardown(a_silent_board, clear),
        cmocka_unit_test_teardown(a_busy_board, clear),
        cmocka_unit_test_teardown(a_board_without_permission, clear),
        cmocka_unit_test_teardown(listed_once, clear),
        cmocka_unit_test_teardown(the_port_helps, clear),
        cmocka_unit_test_teardown(a_push_over_the_port, clear),
        cmocka_unit_test_teardown(other_versions, clear),
        cmocka_unit_test_teardown(a_loose_plug, clear),
        cmocka_unit_test_teardown(stalls_in_a_push, clear),
        cmocka_unit_test_teardown(the_program, clear),
    };
    return usb_tests_run(argv, "usb boards", tests, sizeof tests / sizeof *tests);
}
