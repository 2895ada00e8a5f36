/* What the client makes of boards that answer wrongly, late, not at all, or that are another board. */
#include "core/bytes.h"
#include "link/link.h"
#include "link/puppet.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

typedef bool answerer(struct puppet *puppet, const struct frame_in *in);

static struct puppet puppet;
static struct transport transport;
static struct link_options options;
static struct link *link;
static struct problem problem;
static struct link_push done;
static uint8_t image[WIRE_IMAGE_MAX];

static void reply(const struct frame_in *in, const uint8_t *payload, size_t count) {
    puppet_reply(&puppet, in->type | WIRE_REPLY, in->sequence, payload, count);
}

static bool just(const struct frame_in *in, uint8_t status) {
    reply(in, &status, 1);
    return true;
}

static void prepare(answerer *answer) {
    puppet_start(&puppet, &transport);
    puppet.answer = answer;
    link_defaults(&options);
    memset(&problem, 0, sizeof problem);
    for (size_t i = 0; i < sizeof image; i++) {
        image[i] = (uint8_t)(i * 7 + i / 256);
    }
}

static void says(bool failed, const char *what) {
    if (!failed || problem.kind != PROBLEM_BENCH || strstr(problem.text, what) == NULL) {
        fail_msg("%s: %s\nwanted: %s", failed ? "failed" : "did not fail", problem.text, what);
    }
}

/* ---- hello ---- */

static uint8_t hello_payload[40];
static size_t hello_count;

static bool answer_hello(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    if (in->type != WIRE_HELLO) {
        return false;
    }
    reply(in, hello_payload, hello_count);
    return true;
}

static void good_hello(void) {
    static const uint8_t serial[WIRE_SERIAL] = {0, 0x12, 0xAB, 0xFF, 4, 5, 6, 7};
    memset(hello_payload, 0, sizeof hello_payload);
    hello_payload[1] = WIRE_VERSION;
    put16(hello_payload + 2, 0x0203);
    put32(hello_payload + 4, 0x80000001);
    put16(hello_payload + 8, WIRE_PAYLOAD_MAX);
    put16(hello_payload + 10, WIRE_BLOCK);
    hello_payload[12] = 9;
    put32(hello_payload + 13, WIRE_IMAGE_MAX);
    memcpy(hello_payload + 17, serial, sizeof serial);
    hello_count = 25;
}

static void hello_says_what_the_board_can(void **unused) {
    (void)unused;
    prepare(answer_hello);
    good_hello();
    hello_count = 31; /* a later version may say more */
    if (!link_open(&transport, &options, &link, &problem)) {
        fail_msg("%s", problem.text);
    }
    const struct link_facts *facts = link_facts(link);
    assert_int_equal(facts->firmware_major, 2);
    assert_int_equal(facts->firmware_minor, 3);
    assert_int_equal(facts->capabilities, 0x80000001);
    assert_int_equal(facts->window, 9);
    assert_string_equal(facts->serial, "0012ABFF04050607");
    link_close(link);
}

static void refuse_hello(const char *what) {
    prepare(answer_hello);
    says(!link_open(&transport, &options, &link, &problem), what);
}

static void hello_that_does_not_fit(void **unused) {
    (void)unused;
    good_hello();
    hello_payload[0] = WIRE_BAD_VERSION;
    hello_payload[1] = WIRE_VERSION + 1;
    refuse_hello("renew this program");
    hello_payload[1] = WIRE_VERSION - 1;
    refuse_hello("renew the board's firmware");
    hello_count = 1;
    refuse_hello("renew the board's firmware or this program");
    good_hello();
    hello_payload[1] = WIRE_VERSION + 1;
    refuse_hello("renew this program");
    good_hello();
    hello_count = 24;
    refuse_hello("makes no sense");
    good_hello();
    put16(hello_payload + 10, 512);
    refuse_hello("blocks of 512 bytes");
    good_hello();
    put16(hello_payload + 8, WIRE_BLOCK - 1);
    refuse_hello("payloads of 1023");
    good_hello();
    hello_payload[12] = 0;
    refuse_hello("window of 0");
    good_hello();
    hello_payload[0] = 77;
    refuse_hello("status 77");
}

static bool say_nothing(struct puppet *unused, const struct frame_in *in) {
    (void)unused, (void)in;
    return true;
}

static bool chatter(struct puppet *unused, const struct frame_in *in) {
    static const uint8_t text[] = "login: incorrect\r\nlogin: ";
    (void)unused, (void)in;
    puppet_say(&puppet, text, sizeof text - 1);
    return true;
}

static bool mirror(struct puppet *unused, const struct frame_in *in) {
    uint8_t wire[WIRE_FRAME_MAX];
    (void)unused;
    puppet_say(&puppet, wire, frame_encode(in->type, in->sequence, in->payload, in->count, wire));
    return true;
}

static void nobody_there(void **unused) {
    (void)unused;
    prepare(say_nothing);
    says(!link_open(&transport, &options, &link, &problem), "nothing answers");
    assert_int_equal(puppet.asked[WIRE_HELLO], options.retries + 1);
    /* 250 + 500 + 4 * 1000 ms */
    assert_in_range(puppet.now_us, 4700000, 4800000);
    prepare(chatter);
    says(!link_open(&transport, &options, &link, &problem), "is no slotjig board");
    prepare(mirror);
    says(!link_open(&transport, &options, &link, &problem), "gives back what it gets");
    prepare(NULL);
    puppet.lost = true;
    says(!link_open(&transport, &options, &link, &problem), "nothing answers");
}

/* ---- a push that goes wrong ---- */

static void open_well(answerer *answer) {
    prepare(answer);
    if (!link_open(&transport, &options, &link, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static bool push(size_t size) {
    struct link_image what = {.bytes = image, .size = size};
    assert_true(link_scheme(size, &what.scheme));
    const uint64_t before = puppet.now_us;
    const bool pushed = link_push(link, &what, &done, &problem);
    assert_true(puppet.now_us - before <= 1000 * link_push_bound_ms(link, size));
    return pushed;
}

static void push_says(answerer *answer, const char *what) {
    open_well(answer);
    says(!push(8192), what);
    link_close(link);
}

static uint8_t refused_type, refused_status;
static int refused_times;

static bool refuse(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    if (in->type != refused_type || refused_times == 0) {
        return false;
    }
    refused_times--;
    uint8_t payload[6] = {refused_status};
    reply(in, payload, in->type == WIRE_BEGIN ? 6 : in->type == WIRE_DATA ? 2 : 1);
    return true;
}

static bool refuse_by_error(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    if (in->type != refused_type) {
        return false;
    }
    const uint8_t payload[] = {refused_status, in->type};
    puppet_reply(&puppet, WIRE_ERROR, in->sequence, payload, sizeof payload);
    return true;
}

static void refusals(void **unused) {
    (void)unused;
    static const struct {
        uint8_t type, status;
        int times;
        const char *says; /* NULL: the push succeeds in the end */
    } cases[] = {
        {WIRE_BEGIN, WIRE_BUSY, 99, "another link has a push under way"},
        {WIRE_BEGIN, WIRE_BAD_VALUE, 99, "refused begin"},
        {WIRE_BEGIN, WIRE_FLASH_FAILED, 99, "its flash could not be written"},
        {WIRE_DATA, WIRE_FLASH_FAILED, 1, "its flash could not be written"},
        {WIRE_DATA, WIRE_NOT_BEGUN, 3, NULL},
        {WIRE_DATA, WIRE_NOT_BEGUN, 999, "got no further after 6 attempts (0 of 8 blocks there)"},
        {WIRE_COMMIT, WIRE_MISSING, 2, NULL},
        {WIRE_COMMIT, WIRE_BAD_CRC, 1, NULL},
        {WIRE_COMMIT, WIRE_BAD_CRC, 2, "what arrived is not what was announced"},
        {WIRE_COMMIT, WIRE_FLASH_FAILED, 1, "its flash could not be written"},
        {WIRE_COMMIT, WIRE_NOT_BEGUN, 1, NULL},
        {WIRE_COMMIT, 200, 1, "status 200, which this program does not know"},
        {WIRE_READ, WIRE_BAD_VALUE, 1, "the board said that it holds this image"},
        {WIRE_STATUS, WIRE_UNKNOWN, 1, "does not know this message"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        refused_type = cases[i].type;
        refused_status = cases[i].status;
        refused_times = cases[i].times;
        open_well(refuse);
        const bool pushed = push(8192);
        if (cases[i].says != NULL) {
            says(!pushed, cases[i].says);
        } else if (!pushed || memcmp(puppet.image, image, 8192) != 0) {
            fail_msg("case %zu: %s", i, problem.text);
        }
        link_close(link);
    }
    refused_type = WIRE_DATA;
    refused_status = WIRE_BAD_LENGTH;
    push_says(refuse_by_error, "the message's length is wrong");
    refused_type = WIRE_BEGIN;
    refused_status = WIRE_UNKNOWN;
    push_says(refuse_by_error, "does not know this message");
}

/* Every round all blocks seem to arrive and COMMIT finds them missing: only the bound ends that. */
static bool never_content(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    puppet.busy_us += 1000;
    if (in->type == WIRE_BEGIN) {
        const uint8_t payload[] = {WIRE_OK, (uint8_t)puppet.seen, (uint8_t)(puppet.seen >> 8), 0, 0, 4};
        puppet.seen = puppet.seen * 5 + 1;
        reply(in, payload, sizeof payload);
        return true;
    }
    return in->type == WIRE_COMMIT && just(in, WIRE_MISSING);
}

static void a_push_without_end_ends(void **unused) {
    (void)unused;
    push_says(never_content, "blocks there");
}

/* One block at each BEGIN, never acknowledged, and everything takes its time: progress, but too slow. */
static bool trickle(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    if (in->type == WIRE_BEGIN && puppet.seen > 0) {
        puppet.seen = 0;
        puppet.busy_us = 2300000;
    }
    if (in->type != WIRE_DATA) {
        return false;
    }
    if (puppet.seen++ == 0) {
        puppet.have |= (uint32_t)1 << in->sequence;
    }
    return true;
}

static void a_slow_push_ends_in_its_bound(void **unused) {
    (void)unused;
    open_well(trickle);
    says(!push(WIRE_IMAGE_MAX), "did not take the image within 76 s");
    link_close(link);
}

/* A board that goes away at every block and has it: each coming back takes most of reconnect_ms. */
static bool leave_after_begin(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    if (in->type == WIRE_DATA) {
        puppet.have |= (uint32_t)1 << in->sequence;
        puppet.lost = true;
        return true;
    }
    return false;
}

static int come_back_late(struct puppet *unused) {
    (void)unused;
    return options.reconnect_ms * 7 / 10;
}

static void progress_does_not_outlast_the_bound(void **unused) {
    (void)unused;
    open_well(leave_after_begin);
    puppet.reopened = come_back_late;
    says(!push(WIRE_IMAGE_MAX), "was lost and did not come back within");
    assert_null(strstr(problem.text, "5000 ms")); /* what was left of the bound was less */
    link_close(link);
}

/* ---- little things that are lost ---- */

static bool lose_one_block(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    return in->type == WIRE_DATA && in->sequence == 3 && puppet.seen++ == 0;
}

/* Blocks behind it were seen, so it goes out again at once: no wait, no BEGIN. */
static void a_lost_block_is_sent_again_at_once(void **unused) {
    (void)unused;
    open_well(lose_one_block);
    const uint64_t before = puppet.now_us;
    assert_true(push(8192));
    assert_int_equal(done.sent, 9);
    assert_int_equal(done.retries, 1);
    assert_int_equal(puppet.asked[WIRE_BEGIN], 1);
    assert_true(puppet.now_us - before < 100000);
    link_close(link);
}

static bool leave_with_commit(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    if (in->type != WIRE_COMMIT || puppet.seen++ > 0) {
        return false;
    }
    puppet.committed = true;
    puppet.generation++;
    puppet.lost = true;
    return true;
}

/* COMMIT was carried out and its reply lost: it is asked again, and nothing else. */
static void a_lost_commit_is_asked_again(void **unused) {
    (void)unused;
    open_well(leave_with_commit);
    assert_true(push(8192));
    assert_int_equal(puppet.asked[WIRE_BEGIN], 1);
    assert_int_equal(puppet.asked[WIRE_DATA], 8);
    assert_int_equal(puppet.asked[WIRE_COMMIT], 2);
    link_close(link);
}

static bool forget_at_commit(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    if (in->type != WIRE_COMMIT || puppet.seen++ > 0) {
        return false;
    }
    puppet.have = 0;
    return just(in, WIRE_NOT_BEGUN);
}

/* The board restarted before COMMIT reached it. It holds an image that looks like the new one, but the old
 * generation: not that of this push. */
static void a_restart_before_commit_is_no_success(void **unused) {
    (void)unused;
    open_well(NULL);
    assert_true(push(8192));
    link_close(link);
    struct puppet before = puppet;
    prepare(forget_at_commit);
    memcpy(puppet.image, before.image, sizeof puppet.image);
    puppet.committed = true;
    puppet.generation = before.generation;
    puppet.crc = before.crc;
    puppet.kib = before.kib;
    puppet.scheme = before.scheme;
    options.whole = true;
    assert_true(link_open(&transport, &options, &link, &problem));
    assert_true(push(8192));
    assert_int_equal(puppet.asked[WIRE_DATA], 16);
    assert_int_equal(puppet.generation, before.generation + 1);
    assert_int_equal(puppet.asked[WIRE_SUMS], 0);
    link_close(link);
}

static bool begun_again(struct puppet *unused, const struct frame_in *in) {
    uint8_t payload[25] = {WIRE_OK, WIRE_RECEIVING};
    (void)unused;
    if (in->type != WIRE_STATUS || !puppet.committed || puppet.asked[WIRE_ABORT] > 0) {
        return false;
    }
    put32(payload + 2, puppet.generation);
    put32(payload + 6, puppet.crc);
    payload[10] = puppet.kib;
    payload[11] = puppet.scheme;
    reply(in, payload, sizeof payload);
    return true;
}

static void a_late_begin_is_cleared_away(void **unused) {
    (void)unused;
    open_well(begun_again);
    assert_true(push(8192));
    assert_int_equal(puppet.asked[WIRE_ABORT], 1);
    link_close(link);
}

/* At 960 bytes a second a frame of the longest kind takes 1.1 s each way, and no wait is shorter. */
static void a_slow_line_is_waited_for(void **unused) {
    (void)unused;
    prepare(say_nothing);
    transport.bytes_per_second = 960;
    says(!link_open(&transport, &options, &link, &problem), "nothing answers");
    assert_true(puppet.now_us > (4750 + 6 * 1050) * (uint64_t)1000);
}

static long blocks_by_third_begin;

/* Blocks are swallowed, and BEGIN allows a window of 2 where hello allowed 4. */
static bool swallow_blocks(struct puppet *unused, const struct frame_in *in) {
    static const uint8_t payload[6] = {WIRE_OK, 0, 0, 0, 0, 2};
    (void)unused;
    if (in->type == WIRE_BEGIN && puppet.asked[WIRE_BEGIN] == 3) {
        blocks_by_third_begin = puppet.asked[WIRE_DATA];
    }
    if (in->type != WIRE_BEGIN || puppet.asked[WIRE_BEGIN] > 2) {
        return in->type == WIRE_DATA && puppet.asked[WIRE_BEGIN] < 3;
    }
    reply(in, payload, sizeof payload);
    return true;
}

/* Four right behind the first BEGIN; then as many as the board said. */
static void no_more_in_flight_than_the_window(void **unused) {
    (void)unused;
    open_well(swallow_blocks);
    assert_true(push(8192));
    assert_int_equal(blocks_by_third_begin, 4 + 2);
    link_close(link);
}

static bool short_sums(struct puppet *unused, const struct frame_in *in) {
    uint8_t payload[1 + 4 * 4] = {WIRE_OK};
    (void)unused;
    for (size_t i = 0; i < 4; i++) {
        put32(payload + 1 + 4 * i, frame_crc(0, puppet.image + i * WIRE_BLOCK, WIRE_BLOCK));
    }
    if (in->type == WIRE_SUMS) {
        reply(in, payload, sizeof payload);
    }
    return in->type == WIRE_SUMS;
}

/* The sums of fewer blocks than the image has say nothing about any. */
static void sums_of_another_image_are_ignored(void **unused) {
    (void)unused;
    open_well(short_sums);
    assert_true(push(8192));
    image[3] ^= 1;
    assert_true(push(8192));
    assert_int_equal(puppet.asked[WIRE_SUMS], 1);
    assert_int_equal(done.kept, 0);
    assert_int_equal(done.sent, 8);
    link_close(link);
}

static void a_board_that_cannot_keep_is_not_compared(void **unused) {
    (void)unused;
    prepare(answer_hello);
    good_hello();
    put32(hello_payload + 4, WIRE_CAN_BANKS);
    assert_true(link_open(&transport, &options, &link, &problem));
    assert_true(push(8192));
    image[3] ^= 1;
    assert_true(push(8192));
    assert_int_equal(puppet.asked[WIRE_SUMS], 0);
    assert_int_equal(done.sent, 8);
    link_close(link);
}

static bool long_trace(struct puppet *unused, const struct frame_in *in) {
    uint8_t payload[49] = {WIRE_OK};
    (void)unused;
    if (in->type == WIRE_WATCH) {
        payload[32] = WIRE_TRACE + 1;
        reply(in, payload, sizeof payload);
    }
    return in->type == WIRE_WATCH;
}

static void a_trace_that_cannot_be(void **unused) {
    struct link_watch watch;
    (void)unused;
    open_well(long_trace);
    says(!link_watch(link, &watch, &problem), "a trace that cannot be");
    link_close(link);
}

static bool stale_reply_first(struct puppet *unused, const struct frame_in *in) {
    uint8_t payload[25] = {WIRE_OK};
    (void)unused;
    if (in->type == WIRE_STATUS) {
        put32(payload + 17, 12345);
        puppet_reply(&puppet, WIRE_STATUS | WIRE_REPLY, (uint8_t)(in->sequence - 1), payload, sizeof payload);
    }
    return false;
}

static void a_reply_to_an_earlier_question_is_none(void **unused) {
    struct link_status status;
    (void)unused;
    open_well(stale_reply_first);
    assert_true(link_status(link, &status, &problem));
    assert_int_equal(status.uptime_ms, 0);
    link_close(link);
}

static bool lose_first_begin(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    return (in->type == WIRE_BEGIN || in->type == WIRE_DATA) && puppet.asked[WIRE_BEGIN] < 2;
}

/* What went out behind it is taken for lost as well: one wait, for BEGIN, and none for those blocks. */
static void a_lost_begin_costs_one_wait(void **unused) {
    (void)unused;
    open_well(lose_first_begin);
    assert_true(push(8192));
    assert_in_range(done.took_us, 500000, 600000);
    assert_int_equal(done.sent, 4 + 8);
    link_close(link);
}

/* ---- coming back ---- */

static bool leave_once(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    if (in->type == WIRE_DATA && in->sequence == 3 && puppet.seen++ == 0) {
        puppet.lost = true;
        return true;
    }
    return false;
}

static int as_another(struct puppet *unused) {
    (void)unused;
    puppet.serial[0] ^= 1;
    return 0;
}

static int never(struct puppet *unused) {
    (void)unused;
    return -1;
}

/* Back on the bus, and says nothing. */
static bool leave_and_be_silent(struct puppet *unused, const struct frame_in *in) {
    return puppet.seen > 0 || leave_once(unused, in);
}

static void silence_after_coming_back_is_bounded(void **unused) {
    (void)unused;
    prepare(leave_and_be_silent);
    options.reconnect_ms = 1000;
    assert_true(link_open(&transport, &options, &link, &problem));
    const uint64_t before = puppet.now_us;
    says(!push(8192), "did not come back within 1000 ms");
    assert_true(puppet.now_us - before <= 1001000);
    link_close(link);
}

static void coming_back(void **unused) {
    (void)unused;
    open_well(leave_once);
    if (!push(8192)) {
        fail_msg("%s", problem.text);
    }
    assert_int_equal(done.reconnects, 1);
    assert_int_equal(puppet.asked[WIRE_BEGIN], 2);
    link_close(link);
    open_well(leave_once);
    puppet.reopened = as_another;
    says(!push(8192), "another board is plugged in now");
    link_close(link);
    open_well(leave_once);
    puppet.reopened = never;
    says(!push(8192), "did not come back within 5000 ms");
    link_close(link);
}

/* ---- what is not what it seems ---- */

static bool lie_in_read(struct puppet *unused, const struct frame_in *in) {
    uint8_t payload[1 + WIRE_BLOCK] = {WIRE_OK};
    (void)unused;
    if (in->type != WIRE_READ || get32(in->payload) != 5 * WIRE_BLOCK) {
        return false;
    }
    memcpy(payload + 1, puppet.image + 5 * WIRE_BLOCK, WIRE_BLOCK);
    payload[1 + 17] ^= 0x20;
    reply(in, payload, sizeof payload);
    return true;
}

/* The board's blocks have the CRCs of the new ones, and are others. */
static bool lie_in_sums(struct puppet *unused, const struct frame_in *in) {
    uint8_t payload[1 + 4 * 8] = {WIRE_OK};
    (void)unused;
    if (in->type == WIRE_SUMS) {
        for (size_t i = 0; i < 8; i++) {
            put32(payload + 1 + 4 * i, frame_crc(0, image + i * WIRE_BLOCK, WIRE_BLOCK));
        }
        reply(in, payload, sizeof payload);
        return true;
    }
    if (in->type == WIRE_COMMIT && frame_crc(0, puppet.image, 8192) != puppet.crc) {
        puppet.have = 0;
        return just(in, WIRE_BAD_CRC);
    }
    return false;
}

static void reading_back_finds_a_wrong_byte(void **unused) {
    (void)unused;
    open_well(lie_in_read);
    says(!push(8192), "at $1411");
    link_close(link);
    prepare(lie_in_read);
    options.read_back = false;
    assert_true(link_open(&transport, &options, &link, &problem));
    assert_true(push(8192));
    assert_int_equal(puppet.asked[WIRE_READ], 0);
    link_close(link);
}

static void kept_blocks_that_were_not_the_same(void **unused) {
    (void)unused;
    open_well(lie_in_sums);
    assert_true(push(8192));
    for (size_t i = 0; i < 8192; i++) {
        image[i] ^= 0x55;
    }
    if (!push(8192)) {
        fail_msg("%s", problem.text);
    }
    assert_memory_equal(puppet.image, image, 8192);
    assert_int_equal(done.kept, 0);
    assert_int_equal(done.sent, 8);
    link_close(link);
}

static bool nonsense_status(struct puppet *unused, const struct frame_in *in) {
    uint8_t payload[25] = {WIRE_OK};
    (void)unused;
    if (in->type == WIRE_STATUS) {
        payload[11] = 99;
        reply(in, payload, sizeof payload);
    }
    return in->type == WIRE_STATUS;
}

static bool short_status(struct puppet *unused, const struct frame_in *in) {
    uint8_t payload[24] = {WIRE_OK};
    (void)unused;
    if (in->type == WIRE_STATUS) {
        reply(in, payload, sizeof payload);
    }
    return in->type == WIRE_STATUS;
}

static bool still_handing(struct puppet *unused, const struct frame_in *in) {
    uint8_t payload[25] = {WIRE_OK, WIRE_HANDING};
    (void)unused;
    if (in->type != WIRE_STATUS || !puppet.committed) {
        return false;
    }
    put32(payload + 2, puppet.generation);
    put32(payload + 6, puppet.crc);
    payload[10] = puppet.kib;
    payload[11] = puppet.scheme;
    payload[12] = puppet.flags;
    reply(in, payload, sizeof payload);
    return true;
}

static bool another_now(struct puppet *unused, const struct frame_in *in) {
    (void)unused;
    if (in->type == WIRE_STATUS && puppet.committed) {
        puppet.crc ^= 1;
    }
    return false;
}

static void status_that_cannot_be(void **unused) {
    (void)unused;
    push_says(nonsense_status, "a value that cannot be");
    push_says(short_status, "with 23 bytes where the wire's version 1 has 24");
    push_says(another_now, "holds another one now");
    push_says(still_handing, "still waits after 2000 ms");
}

/* ---- input ---- */

static void images_that_cannot_be_pushed(void **unused) {
    (void)unused;
    static const struct {
        size_t size;
        enum wire_scheme scheme;
        const char *says;
    } cases[] = {{4096, WIRE_2K, "none of scheme 2K"},
                 {0, WIRE_2K, "0 bytes"},
                 {8191, WIRE_F8, "8191 bytes"},
                 {65536, WIRE_F4, "65536 bytes"},
                 {8192, (enum wire_scheme)9, "scheme unknown"}};
    open_well(NULL);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct link_image what = {.bytes = image, .size = cases[i].size, .scheme = cases[i].scheme};
        assert_false(link_push(link, &what, &done, &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        assert_non_null(strstr(problem.text, cases[i].says));
    }
    assert_int_equal(puppet.asked[WIRE_STATUS], 0);
    link_close(link);
    prepare(answer_hello);
    good_hello();
    put32(hello_payload + 13, 4096);
    assert_true(link_open(&transport, &options, &link, &problem));
    assert_false(push(8192));
    assert_non_null(strstr(problem.text, "up to 4096 bytes"));
    link_close(link);
    prepare(answer_hello);
    good_hello();
    assert_true(link_open(&transport, &options, &link, &problem));
    assert_false(push(8192));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_non_null(strstr(problem.text, "no banked images"));
    const struct link_image ram = {.bytes = image, .size = 4096, .scheme = WIRE_4K, .flags = WIRE_IMAGE_RAM};
    assert_false(link_push(link, &ram, &done, &problem));
    assert_non_null(strstr(problem.text, "no cartridge RAM"));
    link_close(link);
}

static void scheme_names(void **unused) {
    (void)unused;
    enum wire_scheme scheme;
    for (int i = 0; i < WIRE_SCHEMES; i++) {
        assert_true(link_scheme((size_t)2048 << i, &scheme));
        assert_int_equal(scheme, i);
        assert_true(link_scheme_from_name(link_scheme_name(scheme), &scheme));
        assert_int_equal(scheme, i);
    }
    assert_true(link_scheme_from_name("f6", &scheme));
    assert_int_equal(scheme, WIRE_F6);
    assert_false(link_scheme_from_name("F", &scheme));
    assert_false(link_scheme(1024, &scheme));
}

static char logged[200];

static void keep_log(void *user, int level, const char *text) {
    (void)user, (void)level;
    snprintf(logged, sizeof logged, "%s", text);
}

static bool log_first(struct puppet *unused, const struct frame_in *in) {
    static const uint8_t text[] = "\1hot \033[2J\xFFstuff";
    (void)unused, (void)in;
    puppet_reply(&puppet, WIRE_LOG, 9, text, sizeof text - 1);
    return false;
}

static void a_log_line_steers_no_terminal(void **unused) {
    (void)unused;
    prepare(log_first);
    options.log = keep_log;
    assert_true(link_open(&transport, &options, &link, &problem));
    assert_string_equal(logged, "hot ?[2J?stuff");
    link_close(link);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hello_says_what_the_board_can),
        cmocka_unit_test(hello_that_does_not_fit),
        cmocka_unit_test(nobody_there),
        cmocka_unit_test(refusals),
        cmocka_unit_test(a_push_without_end_ends),
        cmocka_unit_test(a_slow_push_ends_in_its_bound),
        cmocka_unit_test(progress_does_not_outlast_the_bound),
        cmocka_unit_test(a_lost_block_is_sent_again_at_once),
        cmocka_unit_test(a_lost_commit_is_asked_again),
        cmocka_unit_test(a_restart_before_commit_is_no_success),
        cmocka_unit_test(a_late_begin_is_cleared_away),
        cmocka_unit_test(a_slow_line_is_waited_for),
        cmocka_unit_test(no_more_in_flight_than_the_window),
        cmocka_unit_test(sums_of_another_image_are_ignored),
        cmocka_unit_test(a_board_that_cannot_keep_is_not_compared),
        cmocka_unit_test(a_trace_that_cannot_be),
        cmocka_unit_test(a_reply_to_an_earlier_question_is_none),
        cmocka_unit_test(a_lost_begin_costs_one_wait),
        cmocka_unit_test(silence_after_coming_back_is_bounded),
        cmocka_unit_test(coming_back),
        cmocka_unit_test(reading_back_finds_a_wrong_byte),
        cmocka_unit_test(kept_blocks_that_were_not_the_same),
        cmocka_unit_test(status_that_cannot_be),
        cmocka_unit_test(images_that_cannot_be_pushed),
        cmocka_unit_test(scheme_names),
        cmocka_unit_test(a_log_line_steers_no_terminal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
