/*
 * The USB transport: real libusb against boards that tests/usb/stage.h plugs in. Under umockdev the kernel's
 * behaviour is modelled; `make check-kernel` runs this same program under a real kernel.
 *
 * Started without umockdev's library this program starts itself again under umockdev-wrapper.
 */
#include "link/discover.h"
#include "link/transport.h"
#include "link/usb_device.h"
#include "usb/stage.h"
#include "usb/start.h"

#include <libusb.h>
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#define SERIAL_A "00112233445566AA"
#define SERIAL_B "00112233445566BB"

/* A board that gives back what it takes. */
struct echo {
    uint8_t bytes[1 << 16];
    size_t taken, given;
};

static void echo_receive(void *state, const uint8_t *bytes, size_t count) {
    struct echo *echo = state;
    size_t room = sizeof echo->bytes - echo->taken;
    count = count < room ? count : room;
    memcpy(echo->bytes + echo->taken, bytes, count);
    echo->taken += count;
}

static size_t echo_take(void *state, uint8_t *bytes, size_t size) {
    struct echo *echo = state;
    size_t count = echo->taken - echo->given;
    count = count < size ? count : size;
    memcpy(bytes, echo->bytes + echo->given, count);
    echo->given += count;
    return count;
}

static struct echo echoes[STAGE_PORTS];

static const struct model_identity board_a = {
    USB_VENDOR,     USB_PRODUCT, {USB_MANUFACTURER, USB_PRODUCT_TEXT, SERIAL_A},
    .interface = 0, .in = 1,     .out = 1};
/* Same program, other numbers. */
static const struct model_identity board_b = {
    USB_VENDOR,     USB_PRODUCT, {USB_MANUFACTURER, USB_PRODUCT_TEXT, SERIAL_B},
    .interface = 2, .in = 5,     .out = 3};

static struct stage_port *plug(int number, const struct model_identity *identity) {
    const struct model_board board = {&echoes[number], echo_receive, echo_take};
    memset(&echoes[number], 0, sizeof echoes[number]);
    struct stage_port *port = stage_plug(number, identity, &board, NULL);
    assert_non_null(port);
    return port;
}

static struct transport open_usb(const char *choice) {
    struct transport transport;
    struct problem problem = {0};
    if (!transport_usb(choice, &transport, &problem)) {
        fail_msg("%s", problem.text);
    }
    return transport;
}

static void send_all(const struct transport *transport, const uint8_t *bytes, size_t count) {
    size_t done = 0;
    assert_int_equal(transport->send(transport->state, bytes, count, 2000, &done), IO_OK);
    assert_int_equal(done, count);
}

static void receive_all(const struct transport *transport, uint8_t *bytes, size_t count) {
    for (size_t have = 0; have < count;) {
        size_t done = 0;
        assert_int_equal(transport->receive(transport->state, bytes + have, count - have, 2000, &done),
                         IO_OK);
        assert_true(done > 0);
        have += done;
    }
}

static void fill(uint8_t *bytes, size_t count) {
    for (size_t i = 0; i < count; i++) {
        bytes[i] = (uint8_t)(i * 7 + (i >> 8));
    }
}

static void sleep_ms(long ms) {
    nanosleep(&(struct timespec){.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000}, NULL);
}

/* Something that happens while the program under test waits. */
struct later {
    long ms;
    void (*act)(void *state);
    void *state;
    pthread_t thread;
};

static void *later_run(void *argument) {
    struct later *later = argument;
    sleep_ms(later->ms);
    later->act(later->state);
    return NULL;
}

static void later_start(struct later *later) {
    assert_int_equal(pthread_create(&later->thread, NULL, later_run, later), 0);
}

static void later_join(struct later *later) {
    pthread_join(later->thread, NULL);
}

static void act_unplug(void *port) {
    stage_unplug(port);
}

static int unplug_all(void **state) {
    (void)state;
    stage_clear();
    return 0;
}

/* ---- bytes ---- */

/* A packet's border, and one byte to either side; full packets at the end are followed by no empty one. */
static void every_length_comes_back(void **state) {
    (void)state;
    const size_t lengths[] = {1, 63, 64, 65, 127, 128, 129, 512, 1000, 4096};
    uint8_t out[4096], in[4096];
    fill(out, sizeof out);
    for (int board = 0; board < 2; board++) {
        plug(board, board == 0 ? &board_a : &board_b);
        struct transport transport = open_usb(board == 0 ? SERIAL_A : SERIAL_B);
        assert_string_equal(transport.name, "usb");
        for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++) {
            send_all(&transport, out, lengths[i]);
            receive_all(&transport, in, lengths[i]);
            assert_memory_equal(in, out, lengths[i]);
        }
        transport.close(transport.state);
    }
}

static void bytes_may_be_taken_singly(void **state) {
    (void)state;
    uint8_t out[300], in[300];
    fill(out, sizeof out);
    plug(0, &board_a);
    struct transport transport = open_usb(NULL);
    send_all(&transport, out, sizeof out);
    for (size_t i = 0; i < sizeof in; i++) {
        receive_all(&transport, in + i, 1);
    }
    assert_memory_equal(in, out, sizeof out);
    transport.close(transport.state);
}

struct trickle {
    struct stage_port *port;
    struct echo *echo;
    size_t count;
};

/* Packets come at times that do not fit the reader's waits. */
static void act_trickle(void *state) {
    struct trickle *trickle = state;
    uint32_t random = 12345;
    for (size_t i = 0; i < trickle->count;) {
        random = random * 1664525 + 1013904223;
        stage_lock();
        for (size_t part = random >> 26; part > 0 && i < trickle->count; part--, i++) {
            uint8_t byte = (uint8_t)(i * 7 + (i >> 8));
            echo_receive(trickle->echo, &byte, 1);
        }
        stage_run(trickle->port);
        stage_unlock();
        sleep_ms(1 + (random >> 16) % 3);
    }
}

static void a_wait_that_runs_out_loses_nothing(void **state) {
    (void)state;
    static uint8_t in[8000], wanted[8000];
    fill(wanted, sizeof wanted);
    struct trickle trickle = {plug(0, &board_a), &echoes[0], sizeof in};
    struct later later = {0, act_trickle, &trickle, 0};
    struct transport transport = open_usb(NULL);
    later_start(&later);
    size_t have = 0;
    unsigned timeouts = 0;
    for (int calls = 0; have < sizeof in && calls < 100000; calls++) {
        size_t done = 0;
        enum io io = transport.receive(transport.state, in + have, sizeof in - have, calls % 2, &done);
        assert_int_not_equal(io, IO_LOST);
        assert_int_equal(done > 0, io == IO_OK);
        timeouts += io == IO_TIMEOUT;
        have += done;
    }
    later_join(&later);
    assert_int_equal(have, sizeof in);
    assert_memory_equal(in, wanted, sizeof in);
    assert_true(timeouts > 0);
    assert_int_equal(trickle.port->model.cancelled, 0);
    transport.close(transport.state);
}

static void silence_is_a_timeout(void **state) {
    (void)state;
    uint8_t in[64];
    size_t done = 99;
    plug(0, &board_a);
    struct transport transport = open_usb(NULL);
    uint64_t before = transport.now_us(transport.state);
    assert_int_equal(transport.receive(transport.state, in, sizeof in, 50, &done), IO_TIMEOUT);
    assert_int_equal(done, 0);
    assert_true(transport.now_us(transport.state) - before >= 50000);
    assert_int_equal(transport.receive(transport.state, in, sizeof in, 0, &done), IO_TIMEOUT);
    transport.close(transport.state);
}

/* What went out before the wait ended is counted, and is not sent again. */
static void a_full_board_takes_the_rest_later(void **state) {
    (void)state;
    uint8_t out[500], in[500];
    fill(out, sizeof out);
    struct stage_port *port = plug(0, &board_a);
    struct transport transport = open_usb(NULL);
    stage_lock();
    port->model.room = 0;
    stage_unlock();
    size_t done = 99;
    assert_int_equal(transport.send(transport.state, out, sizeof out, 30, &done), IO_TIMEOUT);
    assert_int_equal(done, 0);
    stage_lock();
    port->model.room = 3 * MODEL_PACKET;
    stage_unlock();
    enum io io = transport.send(transport.state, out, sizeof out, 30, &done);
    if (stage_counts_cancelled()) {
        assert_int_equal(io, IO_OK);
        assert_int_equal(done, 3 * MODEL_PACKET);
    } else {
        assert_int_equal(io, IO_TIMEOUT);
        done = 3 * MODEL_PACKET;
    }
    stage_lock();
    assert_true(port->model.cancelled >= 2);
    port->model.room = SIZE_MAX;
    stage_unlock();
    send_all(&transport, out + done, sizeof out - done);
    receive_all(&transport, in, sizeof in);
    assert_memory_equal(in, out, sizeof out);
    transport.close(transport.state);
}

/* ---- stalls ---- */

static void a_stall_is_cleared(void **state) {
    (void)state;
    uint8_t out[200], in[200];
    fill(out, sizeof out);
    struct stage_port *port = plug(1, &board_b);
    struct transport transport = open_usb(NULL);
    for (int round = 0; round < 3; round++) {
        send_all(&transport, out, sizeof out);
        stage_lock();
        port->model.halted_in = round != 1;
        port->model.halted_out = round != 0;
        stage_run(port);
        stage_unlock();
        send_all(&transport, out, sizeof out);
        receive_all(&transport, in, sizeof in);
        assert_memory_equal(in, out, sizeof in);
        receive_all(&transport, in, sizeof in);
        assert_memory_equal(in, out, sizeof in);
    }
    stage_lock();
    assert_int_equal(port->model.cleared_in, 2);
    assert_int_equal(port->model.cleared_out, 2);
    stage_unlock();
    transport.close(transport.state);
}

static void a_stall_for_ever_ends(void **state) {
    (void)state;
    uint8_t bytes[200] = {0};
    size_t done;
    struct stage_port *port = plug(0, &board_a);
    struct transport transport = open_usb(NULL);
    stage_lock();
    port->model.halted_in = port->model.halted_out = port->model.halt_sticks = true;
    stage_unlock();
    assert_int_not_equal(transport.receive(transport.state, bytes, sizeof bytes, 50, &done), IO_OK);
    assert_int_not_equal(transport.send(transport.state, bytes, sizeof bytes, 50, &done), IO_OK);
    assert_int_equal(done, 0);
    transport.close(transport.state);
}

/* ---- comes and goes ---- */

static void nothing_is_left_behind(void **state) {
    (void)state;
    struct stage_port *port = plug(0, &board_a);
    for (int i = 0; i < 3; i++) {
        struct transport transport = open_usb(NULL);
        transport.close(transport.state);
        sleep_ms(20); /* the kernel's side of a close may come later than the close */
        stage_lock();
        assert_null(port->model.waiting);
        assert_null(port->model.finished);
        stage_unlock();
    }
}

/* Pulled out in a wait and in a send; back again; another board meanwhile is not the one. */
static void unplugged_and_back(void **state) {
    (void)state;
    static uint8_t out[4096], in[4096];
    fill(out, sizeof out);
    for (int sending = 0; sending < 2; sending++) {
        struct stage_port *port = plug(0, &board_a);
        struct transport transport = open_usb(NULL);
        size_t done;
        stage_lock();
        port->model.room = 1000;
        stage_unlock();
        struct later later = {30, act_unplug, port, 0};
        later_start(&later);
        if (sending == 1) {
            enum io io = transport.send(transport.state, out, sizeof out, 5000, &done);
            assert_int_equal(io, IO_LOST);
            assert_true(done < sizeof out);
        } else {
            assert_int_equal(transport.receive(transport.state, in, sizeof in, 5000, &done), IO_LOST);
        }
        later_join(&later);
        assert_int_equal(transport.receive(transport.state, in, sizeof in, 0, &done), IO_LOST);
        assert_int_equal(transport.send(transport.state, out, 1, 0, &done), IO_LOST);

        struct problem problem = {0};
        plug(1, &board_b);
        assert_false(transport.reopen(transport.state, 120, &problem));
        assert_int_equal(problem.kind, PROBLEM_BENCH);
        assert_non_null(strstr(problem.text, SERIAL_A));
        assert_int_equal(transport.receive(transport.state, in, sizeof in, 0, &done), IO_LOST);

        /* On another port than before. */
        plug(2, &board_a);
        if (!transport.reopen(transport.state, 3000, &problem)) {
            fail_msg("%s", problem.text);
        }
        send_all(&transport, out, sizeof out);
        receive_all(&transport, in, sizeof in);
        assert_memory_equal(in, out, sizeof in);
        transport.close(transport.state);
        stage_clear();
    }
}

static void act_plug_a(void *unused) {
    (void)unused;
    plug(0, &board_a);
}

static void waits_for_a_board_that_is_late(void **state) {
    (void)state;
    struct stage_port *port = plug(0, &board_a);
    struct transport transport = open_usb(NULL);
    size_t done;
    uint8_t byte = 1;
    stage_unplug(port);
    assert_int_equal(transport.receive(transport.state, &byte, 1, 2000, &done), IO_LOST);
    struct later later = {150, act_plug_a, NULL, 0};
    later_start(&later);
    struct problem problem = {0};
    bool back = transport.reopen(transport.state, 5000, &problem);
    later_join(&later);
    assert_true(back);
    send_all(&transport, &byte, 1);
    transport.close(transport.state);
}

/* ---- which board ---- */

/* The choice fails with that outcome, and says all of these. */
static void refused(const char *choice, enum usb_outcome outcome, enum problem_kind kind,
                    const char *const said[]) {
    struct transport transport;
    struct problem problem = {0};
    assert_int_equal(usb_transport(choice, &transport, &problem), outcome);
    assert_int_equal(problem.kind, kind);
    for (size_t i = 0; said[i] != NULL; i++) {
        if (strstr(problem.text, said[i]) == NULL) {
            fail_msg("\"%s\" is not in: %s", said[i], problem.text);
        }
    }
    assert_false(transport_usb(choice, &transport, &problem));
}

static void two_boards_and_no_choice(void **state) {
    (void)state;
    const struct stage_port *a = plug(0, &board_a), *b = plug(2, &board_b);
    refused(NULL, USB_NOT_CHOSEN, PROBLEM_INPUT,
            (const char *const[]){"2 boards", SERIAL_A, SERIAL_B, a->where, b->where, NULL});
    refused("1122", USB_NOT_FOUND, PROBLEM_BENCH, (const char *const[]){"1122", SERIAL_A, SERIAL_B, NULL});
    const char *const choices[] = {SERIAL_A, "00112233445566aa", a->where};
    for (size_t i = 0; i < sizeof choices / sizeof *choices; i++) {
        struct transport transport = open_usb(choices[i]);
        send_all(&transport, (const uint8_t *)"x", 1);
        assert_int_equal(echoes[0].taken, i + 1);
        assert_int_equal(echoes[2].taken, 0);
        transport.close(transport.state);
    }
    struct transport transport = open_usb(b->where);
    send_all(&transport, (const uint8_t *)"x", 1);
    assert_int_equal(echoes[2].taken, 1);
    transport.close(transport.state);
}

static void two_boards_with_one_serial(void **state) {
    (void)state;
    plug(0, &board_a);
    plug(1, &board_a);
    refused(SERIAL_A, USB_NOT_CHOSEN, PROBLEM_INPUT, (const char *const[]){"2 boards", NULL});
}

static void no_board(void **state) {
    (void)state;
    refused(NULL, USB_NOT_FOUND, PROBLEM_BENCH, (const char *const[]){"no board on USB", NULL});
    refused("1-9", USB_NOT_FOUND, PROBLEM_BENCH, (const char *const[]){"1-9", NULL});
}

/* Others use the test identity too; they are never taken for ours. */
static void another_product(void **state) {
    (void)state;
    struct model_identity other = board_a;
    for (int i = 0; i < 2; i++) {
        other.texts[0] = i == 0 ? USB_MANUFACTURER : "someone else";
        other.texts[1] = i == 0 ? "thermometer" : USB_PRODUCT_TEXT;
        const struct stage_port *port = plug(0, &other);
        const char *const said[] = {port->where, "not a slotjig board", other.texts[0], other.texts[1], NULL};
        refused(NULL, USB_NOT_FOUND, PROBLEM_BENCH, said);
        refused(port->where, USB_NOT_FOUND, PROBLEM_BENCH, said);
        refused(SERIAL_A, USB_NOT_FOUND, PROBLEM_BENCH, (const char *const[]){SERIAL_A, NULL});
        assert_int_equal(echoes[0].taken, 0);
    }
    /* Beside it, ours is the only one. */
    plug(1, &board_b);
    struct transport transport = open_usb(NULL);
    send_all(&transport, (const uint8_t *)"x", 1);
    assert_int_equal(echoes[1].taken, 1);
    transport.close(transport.state);
}

static void the_loader(void **state) {
    (void)state;
    const struct model_identity loader = {
        USB_LOADER_VENDOR, USB_LOADER_PRODUCT, {"x", "y", "z"}, .in = 1, .out = 1};
    const struct stage_port *port = plug(0, &loader);
    refused(NULL, USB_NOT_FOUND, PROBLEM_BENCH,
            (const char *const[]){"boot loader", port->where, "uf2", NULL});
}

static void no_interface(void **state) {
    (void)state;
    struct model_identity odd = board_b;
    odd.no_interface = true;
    plug(0, &odd);
    refused(NULL, USB_NO_INTERFACE, PROBLEM_BENCH, (const char *const[]){"no interface", "flash", NULL});
}

static void no_permission(void **state) {
    (void)state;
    struct stage_port *port = plug(0, &board_a);
    uid_t user;
    if (!stage_deny(port, &user)) {
        skip();
    }
    struct transport transport;
    struct problem problem = {0};
    enum usb_outcome outcome = usb_transport(NULL, &transport, &problem);
    stage_become(user);
    assert_int_equal(outcome, USB_NO_PERMISSION);
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(problem.text, "60-slotjig.rules"));
    assert_non_null(strstr(problem.text, port->where));
}

static void busy(void **state) {
    (void)state;
    plug(1, &board_b);
    struct transport first = open_usb(NULL);
    refused(NULL, USB_BUSY, PROBLEM_BENCH, (const char *const[]){"another program", NULL});
    first.close(first.state);
    struct transport second = open_usb(NULL);
    second.close(second.state);
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(every_length_comes_back, unplug_all),
        cmocka_unit_test_teardown(bytes_may_be_taken_singly, unplug_all),
        cmocka_unit_test_teardown(a_wait_that_runs_out_loses_nothing, unplug_all),
        cmocka_unit_test_teardown(silence_is_a_timeout, unplug_all),
        cmocka_unit_test_teardown(a_full_board_takes_the_rest_later, unplug_all),
        cmocka_unit_test_teardown(a_stall_is_cleared, unplug_all),
        cmocka_unit_test_teardown(a_stall_for_ever_ends, unplug_all),
        cmocka_unit_test_teardown(nothing_is_left_behind, unplug_all),
        cmocka_unit_test_teardown(unplugged_and_back, unplug_all),
        cmocka_unit_test_teardown(waits_for_a_board_that_is_late, unplug_all),
        cmocka_unit_test_teardown(two_boards_and_no_choice, unplug_all),
        cmocka_unit_test_teardown(two_boards_with_one_serial, unplug_all),
        cmocka_unit_test_teardown(no_board, unplug_all),
        cmocka_unit_test_teardown(another_product, unplug_all),
        cmocka_unit_test_teardown(the_loader, unplug_all),
        cmocka_unit_test_teardown(no_interface, unplug_all),
        cmocka_unit_test_teardown(no_permission, unplug_all),
        cmocka_unit_test_teardown(busy, unplug_all),
    };
    return usb_tests_run(argv, "usb", tests, sizeof tests / sizeof *tests);
}
