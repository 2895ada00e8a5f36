/* The messages, one by one, with right and wrong values and lengths, and what a push costs on the wire. */
#include "core/talk.h"

#include "core/bytes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

static uint8_t image[WIRE_IMAGE_MAX + 3]; /* more than one image, by the place where it starts */
static struct talk talk;

static void new_board(uint32_t erase_us, uint32_t program_us) {
    struct problem problem;
    struct virtual_board_options options;
    virtual_board_defaults(&options);
    options.erase_us = erase_us;
    options.program_us = program_us;
    struct virtual_board *board = virtual_board_new(&options, &problem);
    assert_non_null(board);
    talk_start(&talk, board);
}

static int start(void **state) {
    (void)state;
    talk_fill(image, sizeof image, 9);
    new_board(0, 0);
    return 0;
}

static int stop(void **state) {
    (void)state;
    virtual_board_free(talk.board);
    return 0;
}

static int ask(uint8_t type, const uint8_t *payload, size_t count) {
    return talk_ask(&talk, type, payload, count);
}
#define ASK(type, ...) ask(type, (const uint8_t[]){__VA_ARGS__}, sizeof((const uint8_t[]){__VA_ARGS__}))

/* The payload's length of every request and reply, from the table in slotjig/wire.h, written out. */
static const struct length {
    uint8_t type;
    size_t request, reply; /* of WIRE_VALUES without any */
} lengths[] = {
    {WIRE_HELLO, 2, 25},  {WIRE_BEGIN, 11, 6}, {WIRE_DATA, 1024, 2},   {WIRE_COMMIT, 0, 1},
    {WIRE_ABORT, 0, 1},   {WIRE_READ, 6, 1},   {WIRE_SUMS, 0, 1},      {WIRE_SELECT, 2, 1},
    {WIRE_STATUS, 0, 25}, {WIRE_WATCH, 0, 49}, {WIRE_LOG_LEVEL, 1, 1}, {WIRE_LOADER, 4, 1},
    {WIRE_VALUES, 6, 11},
};
enum { MESSAGES = sizeof lengths / sizeof lengths[0] };

static const struct length *known(int type) {
    for (int i = 0; i < MESSAGES; i++) {
        if (lengths[i].type == type) {
            return &lengths[i];
        }
    }
    return NULL;
}

static void test_hello(void **state) {
    (void)state;
    assert_int_equal(ASK(WIRE_HELLO, 1, 1), WIRE_OK);
    const uint8_t *p = talk.payload;
    const uint8_t serial[WIRE_SERIAL] = {0x56, 0x49, 0x52, 0x54, 0, 0, 0, 1};
    assert_int_equal(talk.count, 25);
    assert_int_equal(p[1], WIRE_VERSION);
    assert_int_equal(get16(p + 2), 0x0002);
    assert_int_equal(get32(p + 4), 0x7F);
    assert_int_equal(get16(p + 8), 1040);
    assert_int_equal(get16(p + 10), 1024);
    assert_true(p[12] >= 4);
    assert_int_equal(get32(p + 13), 32768);
    assert_memory_equal(p + 17, serial, sizeof serial);
    assert_int_equal(ASK(WIRE_HELLO, 0, 255), WIRE_OK);
    assert_int_equal(ASK(WIRE_HELLO, 2, 9), WIRE_BAD_VERSION);
    assert_int_equal(talk.payload[1], WIRE_VERSION);
    assert_int_equal(ASK(WIRE_HELLO, 0, 0), WIRE_BAD_VERSION);
}

/* WIRE_VALUES counts its values in the sixth byte, three bytes each. */
static bool is_right(const struct length *message, size_t count, const uint8_t *payload) {
    size_t more = message->type == WIRE_VALUES ? (size_t)3 * payload[5] : 0;
    return count == message->request + more;
}

static void test_every_type_and_length(void **state) {
    (void)state;
    for (int type = 0; type < 128; type++) {
        const struct length *message = known(type);
        size_t step = message ? 1 : 103;
        for (size_t count = 0; count <= WIRE_PAYLOAD_MAX; count += step) {
            if (message && is_right(message, count, image)) {
                continue;
            }
            int status = ask((uint8_t)type, image, count);
            if (status != (message ? WIRE_BAD_LENGTH : WIRE_UNKNOWN) || talk.type != WIRE_ERROR ||
                talk.count != 2 || talk.payload[1] != type) {
                fail_msg("type %02X with %zu bytes: status %d", (unsigned)type, count, status);
            }
        }
    }
}

static void test_every_reply_has_its_length(void **state) {
    (void)state;
    for (int i = 0; i < MESSAGES; i++) {
        static const uint8_t zeroes[WIRE_PAYLOAD_MAX];
        ask(lengths[i].type, zeroes, lengths[i].request);
        assert_int_equal(talk.type, lengths[i].type | WIRE_REPLY);
        assert_int_equal(talk.count, lengths[i].reply);
    }
}

/* A line that echoes would have the board talk to itself. */
static void test_replies_are_not_answered(void **state) {
    (void)state;
    for (int type = 128; type < 256; type++) {
        talk_send(&talk, (uint8_t)type, 1, image, 2);
        assert_false(talk_hear(&talk, 20));
    }
    assert_int_equal(ASK(WIRE_HELLO, 1, 1), WIRE_OK);
}

static int begin(uint8_t kib, uint8_t scheme, uint8_t flags, uint32_t keep) {
    uint8_t payload[11] = {1, 2, 3, 4, kib, scheme, flags};
    put32(payload + 7, keep);
    return ask(WIRE_BEGIN, payload, sizeof payload);
}

static void test_begin_refuses_what_cannot_be(void **state) {
    (void)state;
    static const uint8_t kib[WIRE_SCHEMES] = {2, 4, 8, 16, 32};
    for (int size = 0; size <= 32; size++) {
        for (int scheme = 0; scheme < 8; scheme++) {
            bool right = scheme < WIRE_SCHEMES && kib[scheme] == size;
            assert_int_equal(begin((uint8_t)size, (uint8_t)scheme, 3, 0), right ? WIRE_OK : WIRE_BAD_VALUE);
        }
    }
    assert_int_equal(begin(255, WIRE_F4, 0, 0), WIRE_BAD_VALUE);
    assert_int_equal(begin(4, WIRE_4K, 4, 0), WIRE_BAD_VALUE);
    assert_int_equal(begin(4, WIRE_4K, 0, 1), WIRE_BAD_VALUE); /* nothing to keep */
    const struct talk_image four = {image, 4, WIRE_4K, 0};
    assert_int_equal(talk_push(&talk, &four, 0), WIRE_OK);
    assert_int_equal(begin(4, WIRE_4K, 0, 0x10), WIRE_BAD_VALUE);
    assert_int_equal(begin(8, WIRE_F8, 0, 1), WIRE_BAD_VALUE);
    assert_int_equal(begin(4, WIRE_4K, 0, 0xF), WIRE_OK);
    assert_true(talk_holds(&talk, &four));
}

static void test_pushes_of_every_scheme(void **state) {
    (void)state;
    static const uint8_t kib[WIRE_SCHEMES] = {2, 4, 8, 16, 32};
    for (uint8_t scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (uint8_t flags = 0; flags < 4; flags++) {
            const struct talk_image one = {image + flags, kib[scheme], scheme, flags};
            assert_int_equal(talk_push(&talk, &one, 0), WIRE_OK);
            assert_true(talk_holds(&talk, &one));
            assert_int_equal(ask(WIRE_SUMS, NULL, 0), WIRE_OK);
            assert_int_equal(talk.count, 1 + 4U * kib[scheme]);
            for (size_t block = 0; block < kib[scheme]; block++) {
                assert_int_equal(get32(talk.payload + 1 + 4 * block),
                                 crc32(0, one.bytes + block * 1024, 1024));
            }
        }
    }
}

static const struct talk_image eight = {image, 8, WIRE_F8, 0};

/* Whether an acknowledgement came, and that it says what is missing. */
static bool acknowledged(uint8_t sequence, uint8_t next, int wait_ms) {
    if (!talk_hear(&talk, wait_ms)) {
        return false;
    }
    assert_int_equal(talk.type, WIRE_DATA | WIRE_REPLY);
    assert_int_equal(talk.answer_sequence, sequence);
    assert_true(talk.payload[0] == WIRE_OK && talk.payload[1] == next);
    return true;
}

static void test_acknowledgements_are_few(void **state) {
    (void)state;
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    talk_block(&talk, &eight, 0);
    assert_false(talk_hear(&talk, 0));
    talk_block(&talk, &eight, 1);
    assert_true(acknowledged(1, 2, 0)); /* half a window */
    talk_block(&talk, &eight, 2);
    assert_false(acknowledged(2, 3, 1));
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK); /* twice */
    assert_int_equal(get32(talk.payload + 1), 7);
    assert_true(acknowledged(2, 3, 4)); /* a pause */
    talk_block(&talk, &eight, 7);
    talk_block(&talk, &eight, 5);
    assert_true(acknowledged(5, 3, 0)); /* out of order */
    talk_block(&talk, &eight, 7);
    talk_block(&talk, &eight, 7);
    assert_true(acknowledged(7, 3, 0)); /* twice */
    talk_block(&talk, &eight, 3);
    talk_block(&talk, &eight, 4);
    assert_true(acknowledged(4, 6, 0));
    talk_block(&talk, &eight, 6);
    assert_true(acknowledged(6, 8, 0)); /* nothing is missing */
    talk_block(&talk, &eight, 2);
    assert_true(acknowledged(2, 8, 0)); /* nor now */
    assert_false(talk_hear(&talk, 100));
    assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_OK);
    assert_true(talk_holds(&talk, &eight));
}

/* A frame that comes slowly is no pause; one that is cut off is, after a while. */
static void test_pause_in_a_frame(void **state) {
    (void)state;
    uint8_t wire[WIRE_FRAME_MAX];
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    talk_block(&talk, &eight, 0);
    size_t length = frame_encode(WIRE_DATA, 1, image + 1024, 1024, wire);
    for (size_t at = 0; at < 600; at += 100) {
        virtual_board_receive(talk.board, wire + at, 100);
        assert_false(talk_hear(&talk, 10));
    }
    assert_true(length > 600);
    assert_true(acknowledged(0, 1, 60));
}

static void test_data_without_begin(void **state) {
    (void)state;
    assert_int_equal(ask(WIRE_DATA, image, 1024), WIRE_NOT_BEGUN);
    assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_NOT_BEGUN);
    assert_int_equal(ask(WIRE_ABORT, NULL, 0), WIRE_OK);
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    talk.sequence = 8; /* a block behind the last */
    assert_int_equal(ask(WIRE_DATA, image, 1024), WIRE_BAD_VALUE);
    assert_int_equal(ask(WIRE_ABORT, NULL, 0), WIRE_OK);
    talk.sequence = 0;
    assert_int_equal(ask(WIRE_DATA, image, 1024), WIRE_NOT_BEGUN);
}

static void test_commit_says_the_same_again(void **state) {
    (void)state;
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_MISSING);
    for (uint8_t block = 0; block < 8; block++) {
        talk_block(&talk, &eight, block);
    }
    for (int i = 0; i < 3; i++) {
        assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_OK);
    }
    ask(WIRE_STATUS, NULL, 0);
    assert_int_equal(get32(talk.payload + 2), 1);
    /* Blocks that make another image than was announced. */
    struct talk_image wrong = {image + 1, 8, WIRE_F8, 0};
    assert_int_equal(talk_begin(&talk, &wrong, 0), WIRE_OK);
    for (uint8_t block = 0; block < 8; block++) {
        talk_block(&talk, &eight, block);
    }
    assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_BAD_CRC);
    assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_BAD_CRC);
    assert_true(talk_holds(&talk, &eight));
}

/* The line delivers a WIRE_BEGIN once more after the commit: no new push. A host that means it says hello. */
static void test_begin_that_comes_late(void **state) {
    (void)state;
    talk.sequence = 50;
    assert_int_equal(talk_push(&talk, &eight, 0), WIRE_OK);
    talk.sequence = 50;
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    assert_int_equal(get32(talk.payload + 1), 0xFF);
    assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_OK);
    ask(WIRE_STATUS, NULL, 0);
    assert_int_equal(talk.payload[1], WIRE_SERVING);
    assert_int_equal(get32(talk.payload + 2), 1);
    assert_int_equal(ASK(WIRE_HELLO, 1, 1), WIRE_OK);
    talk.sequence = 50;
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    assert_int_equal(get32(talk.payload + 1), 0);
}

/* The same number again, once all of them went by, is a push that is meant. */
static void test_begin_whose_number_came_round(void **state) {
    (void)state;
    talk.sequence = 50;
    assert_int_equal(talk_push(&talk, &eight, 0), WIRE_OK);
    while (talk.sequence != 50) {
        assert_int_equal(ask(WIRE_STATUS, NULL, 0), WIRE_OK);
    }
    assert_int_equal(talk_push(&talk, &eight, 0), WIRE_OK);
    ask(WIRE_STATUS, NULL, 0);
    assert_int_equal(get32(talk.payload + 2), 2);
}

static void test_a_push_goes_on_after_a_reconnect(void **state) {
    (void)state;
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    for (uint8_t block = 0; block < 4; block++) {
        talk_block(&talk, &eight, block);
    }
    virtual_board_unplug(talk.board);
    talk_start(&talk, talk.board);
    assert_int_equal(ASK(WIRE_HELLO, 1, 1), WIRE_OK);
    assert_int_equal(ask(WIRE_DATA, image, 1024), WIRE_NOT_BEGUN);
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    assert_int_equal(get32(talk.payload + 1), 0xF);
    for (uint8_t block = 4; block < 8; block++) {
        talk_block(&talk, &eight, block);
    }
    assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_OK);
    assert_true(talk_holds(&talk, &eight));
}

static int read_back(uint32_t offset, uint16_t count) {
    uint8_t payload[6];
    put32(payload, offset);
    put16(payload + 4, count);
    return ask(WIRE_READ, payload, sizeof payload);
}

static void test_read(void **state) {
    (void)state;
    assert_int_equal(read_back(0, 1), WIRE_BAD_VALUE); /* nothing stored */
    assert_int_equal(talk_push(&talk, &eight, 0), WIRE_OK);
    assert_int_equal(read_back(8191, 1), WIRE_OK);
    assert_true(talk.count == 2 && talk.payload[1] == image[8191]);
    assert_int_equal(read_back(7169, 1024), WIRE_BAD_VALUE);
    assert_int_equal(read_back(8192, 1), WIRE_BAD_VALUE);
    assert_int_equal(read_back(0, 0), WIRE_BAD_VALUE);
    assert_int_equal(read_back(0, 1025), WIRE_BAD_VALUE);
    assert_int_equal(read_back(UINT32_MAX, 2), WIRE_BAD_VALUE);
    assert_int_equal(read_back(UINT32_MAX - 1023, 1024), WIRE_BAD_VALUE);
    assert_int_equal(read_back(1000, 1024), WIRE_OK);
    assert_int_equal(talk.count, 1025);
    assert_memory_equal(talk.payload + 1, image + 1000, 1024);
}

static void test_status(void **state) {
    (void)state;
    assert_int_equal(ask(WIRE_STATUS, NULL, 0), WIRE_OK);
    const uint8_t *p = talk.payload;
    assert_true(p[1] == WIRE_IDLE && get32(p + 2) == 0 && p[10] == 0 && p[15] == WIRE_START_POWER &&
                p[16] == 0);
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    ask(WIRE_STATUS, NULL, 0);
    assert_int_equal(p[1], WIRE_RECEIVING);
    ask(WIRE_ABORT, NULL, 0);
    assert_int_equal(talk_push(&talk, &eight, 0), WIRE_OK);
    virtual_board_supply(talk.board, true);
    virtual_board_advance(talk.board, 5000);
    uint8_t broken[] = {5, 1, 2, 3, 4, 0};
    virtual_board_receive(talk.board, broken, sizeof broken);
    ask(WIRE_STATUS, NULL, 0);
    assert_true(p[1] == WIRE_SERVING && get32(p + 2) == 1 && get32(p + 6) == crc32(0, image, 8192));
    assert_true(p[10] == 8 && p[11] == WIRE_F8 && p[12] == 0 && p[16] == 1);
    assert_true(get32(p + 17) == 5 && get32(p + 21) == 1);
}

static void test_select(void **state) {
    (void)state;
    assert_int_equal(ASK(WIRE_SELECT, 1, 3), WIRE_OK); /* the idle picture has a mailbox */
    assert_int_equal(virtual_board_cycle(talk.board, 0x1FE3, 0), 1);
    assert_int_equal(virtual_board_cycle(talk.board, 0x1FE4, 0), 3);
    assert_int_equal(ASK(WIRE_SELECT, 2, 3), WIRE_BAD_VALUE);
    assert_int_equal(talk_push(&talk, &eight, 0), WIRE_OK);
    virtual_board_advance(talk.board, 2000);
    assert_int_equal(ASK(WIRE_SELECT, 1, 3), WIRE_NO_MAILBOX);
    assert_int_equal(virtual_board_cycle(talk.board, 0x1FE3, 0), image[4096 + 0xFE3]);
}

static void test_log(void **state) {
    (void)state;
    const struct talk_image wrong = {image + 1, 8, WIRE_F8, 0};
    for (int level = 0; level < 3; level++) {
        talk.logs = 0;
        assert_int_equal(ASK(WIRE_LOG_LEVEL, (uint8_t)level), WIRE_OK);
        assert_int_equal(talk_begin(&talk, &wrong, 0), WIRE_OK);
        for (uint8_t block = 0; block < 8; block++) {
            talk_block(&talk, &eight, block);
        }
        assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_BAD_CRC);
        talk_hear(&talk, 5);
        assert_int_equal(talk.logs, level > 0);
    }
    assert_int_equal(ASK(WIRE_LOG_LEVEL, 3), WIRE_BAD_VALUE);
}

static void test_loader(void **state) {
    (void)state;
    assert_int_equal(ASK(WIRE_LOADER, 0, 0, 0, 0), WIRE_BAD_VALUE);
    virtual_board_advance(talk.board, 1000000);
    assert_false(virtual_board_dead(talk.board));
    assert_int_equal(ASK(WIRE_LOADER, 'D', 'A', 'O', 'L'), WIRE_OK); /* 0x4C4F4144, low byte first */
    virtual_board_advance(talk.board, 1000000);
    assert_true(virtual_board_dead(talk.board));
}

/* BEGIN to COMMIT's reply, both directions, with no zero in the image: COBS then adds the most. */
static double overhead(uint8_t kib, uint8_t scheme) {
    static uint8_t full[WIRE_IMAGE_MAX];
    const struct talk_image one = {full, kib, scheme, WIRE_IMAGE_MAILBOX};
    size_t size = kib * (size_t)1024;
    talk_fill(full, size, 4);
    for (size_t i = 0; i < size; i++) {
        full[i] |= full[i] == 0;
    }
    talk.out = talk.in = 0;
    assert_int_equal(talk_push(&talk, &one, 0), WIRE_OK);
    double percent = 100.0 * (double)(talk.out + talk.in - size) / (double)size;
    print_message("%u KiB: %llu bytes out, %llu in, %.2f %% more than the image\n", kib,
                  (unsigned long long)talk.out, (unsigned long long)talk.in, percent);
    return percent;
}

static void test_overhead(void **state) {
    (void)state;
    assert_true(overhead(4, WIRE_4K) <= 3.0);
    assert_true(overhead(32, WIRE_F4) <= 2.0);
}

/* Flash that takes its time: answers come when it is done, and nothing that came meanwhile is lost. */
static void test_slow_flash(void **state) {
    (void)state;
    virtual_board_free(talk.board);
    new_board(400000, 3000);
    talk_send(&talk, WIRE_HELLO, 1, (const uint8_t[]){1, 1}, 2);
    assert_true(talk_hear(&talk, 0));
    uint64_t before = virtual_board_now(talk.board);
    talk.in = 0;
    assert_int_equal(talk_begin(&talk, &eight, 0), WIRE_OK);
    assert_in_range(virtual_board_now(talk.board) - before, 400000, 402000);
    before = virtual_board_now(talk.board);
    for (uint8_t block = 0; block < 8; block++) {
        talk_block(&talk, &eight, block);
    }
    assert_int_equal(ask(WIRE_COMMIT, NULL, 0), WIRE_OK);
    uint64_t least = 2 * 400000 + 33 * 3000;
    assert_in_range(virtual_board_now(talk.board) - before, least, least + 20000);
    /* On the wire: 14 bytes to BEGIN, four acknowledgements of 10, none of them for a pause, 9 to COMMIT. */
    assert_int_equal(talk.in, 14 + 4 * 10 + 9);
    assert_true(talk_holds(&talk, &eight));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_hello, start, stop),
        cmocka_unit_test_setup_teardown(test_every_type_and_length, start, stop),
        cmocka_unit_test_setup_teardown(test_every_reply_has_its_length, start, stop),
        cmocka_unit_test_setup_teardown(test_replies_are_not_answered, start, stop),
        cmocka_unit_test_setup_teardown(test_begin_refuses_what_cannot_be, start, stop),
        cmocka_unit_test_setup_teardown(test_pushes_of_every_scheme, start, stop),
        cmocka_unit_test_setup_teardown(test_acknowledgements_are_few, start, stop),
        cmocka_unit_test_setup_teardown(test_pause_in_a_frame, start, stop),
        cmocka_unit_test_setup_teardown(test_data_without_begin, start, stop),
        cmocka_unit_test_setup_teardown(test_commit_says_the_same_again, start, stop),
        cmocka_unit_test_setup_teardown(test_begin_that_comes_late, start, stop),
        cmocka_unit_test_setup_teardown(test_begin_whose_number_came_round, start, stop),
        cmocka_unit_test_setup_teardown(test_a_push_goes_on_after_a_reconnect, start, stop),
        cmocka_unit_test_setup_teardown(test_read, start, stop),
        cmocka_unit_test_setup_teardown(test_status, start, stop),
        cmocka_unit_test_setup_teardown(test_select, start, stop),
        cmocka_unit_test_setup_teardown(test_log, start, stop),
        cmocka_unit_test_setup_teardown(test_loader, start, stop),
        cmocka_unit_test_setup_teardown(test_overhead, start, stop),
        cmocka_unit_test_setup_teardown(test_slow_flash, start, stop),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
