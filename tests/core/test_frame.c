/* Frames against the published examples of COBS, the check value of CRC-32 and zlib. */
#include "core/frame.h"

#include "core/bytes.h"
#include "core/talk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>
#include <zlib.h>

static void test_crc_has_the_published_check_value(void **state) {
    (void)state;
    const uint8_t digits[] = "123456789";
    /* The check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms. */
    assert_int_equal(frame_crc(0, digits, 9), 0xCBF43926);
    assert_int_equal(frame_crc(frame_crc(0, digits, 4), digits + 4, 5), 0xCBF43926);
    assert_int_equal(frame_crc(0, NULL, 0), 0);
}

static void test_crc_agrees_with_zlib(void **state) {
    (void)state;
    uint8_t bytes[5000];
    talk_fill(bytes, sizeof bytes, 1);
    for (size_t count = 0; count <= sizeof bytes; count += 1 + count / 7) {
        assert_int_equal(frame_crc(0, bytes, count), crc32(0, bytes, (uInt)count));
    }
}

/* COBS as its paper describes it, group by group, so that the frames have a second opinion. */
static size_t plain_cobs(const uint8_t *bytes, size_t count, uint8_t *out) {
    size_t length = 0, at = 0;
    bool zero_due = true; /* what has no zero at its end is coded as if it had one, which is left out */
    while (at < count || zero_due) {
        size_t run = 0;
        while (at + run < count && run < 254 && bytes[at + run] != 0) {
            run++;
        }
        out[length++] = (uint8_t)(run + 1);
        memcpy(out + length, bytes + at, run);
        length += run;
        at += run;
        zero_due = run < 254 && at < count;
        at += zero_due;
    }
    return length;
}

struct example {
    const char *name;
    size_t count, coded;
    uint8_t bytes[8], code[10];
};

/* The examples that the article on COBS in Wikipedia tables, short ones. */
static const struct example examples[] = {
    {"one zero", 1, 2, {0}, {1, 1}},
    {"two zeroes", 2, 3, {0, 0}, {1, 1, 1}},
    {"zero between zeroes", 3, 4, {0, 0x11, 0}, {1, 2, 0x11, 1}},
    {"zero inside", 4, 5, {0x11, 0x22, 0, 0x33}, {3, 0x11, 0x22, 2, 0x33}},
    {"no zero", 4, 5, {0x11, 0x22, 0x33, 0x44}, {5, 0x11, 0x22, 0x33, 0x44}},
    {"zeroes at the end", 4, 5, {0x11, 0, 0, 0}, {2, 0x11, 1, 1, 1}},
};

static void test_reference_codes_the_published_examples(void **state) {
    (void)state;
    uint8_t out[600], bytes[600];
    for (size_t i = 0; i < sizeof examples / sizeof examples[0]; i++) {
        const struct example *e = &examples[i];
        assert_int_equal(plain_cobs(e->bytes, e->count, out), e->coded);
        assert_memory_equal(out, e->code, e->coded);
    }
    /* The long ones of the same table: 01..FE; 00 01..FE; 01..FF; 02..FF 00; 03..FF 00 01. */
    static const struct {
        int first, count;
        size_t coded;
        uint8_t code[3];
        size_t last;
        uint8_t end[3];
    } longs[] = {
        {1, 254, 255, {0xFF, 1, 2}, 254, {0xFE}},
        {0, 255, 256, {0x01, 0xFF, 1}, 255, {0xFE}},
        {1, 255, 257, {0xFF, 1, 2}, 255, {0x02, 0xFF}},
        {2, 255, 257, {0xFF, 2, 3}, 254, {0xFF, 0x01, 0x01}},
        {3, 255, 256, {0xFE, 3, 4}, 253, {0xFF, 0x02, 0x01}},
    };
    for (size_t i = 0; i < sizeof longs / sizeof longs[0]; i++) {
        for (int k = 0; k < longs[i].count; k++) {
            bytes[k] = (uint8_t)(longs[i].first + k);
        }
        assert_int_equal(plain_cobs(bytes, (size_t)longs[i].count, out), longs[i].coded);
        assert_memory_equal(out, longs[i].code, 3);
        assert_memory_equal(out + longs[i].last, longs[i].end, longs[i].coded - longs[i].last);
    }
}

/* What a frame must be, by the reference above and zlib. */
static size_t reference_frame(uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count,
                              uint8_t *wire) {
    uint8_t plain[WIRE_PLAIN_MAX] = {type, sequence};
    if (count > 0) {
        memcpy(plain + 2, payload, count);
    }
    put32(plain + 2 + count, (uint32_t)crc32(0, plain, (uInt)(2 + count)));
    size_t length = plain_cobs(plain, count + 6, wire);
    wire[length] = 0;
    return length + 1;
}

static bool feed(struct frame_decoder *decoder, const uint8_t *wire, size_t count, struct frame_in *in) {
    bool any = false;
    for (size_t i = 0; i < count; i++) {
        struct frame_in one;
        if (frame_feed(decoder, wire[i], &one)) {
            any = true;
            *in = one;
        }
    }
    return any;
}

/* Random bytes, all zeroes, none, and a zero now and then: 254 is COBS's longest run. */
static void fill_kind(uint8_t *bytes, size_t count, int kind) {
    talk_fill(bytes, count, count + 77);
    for (size_t i = 0; i < count; i++) {
        bytes[i] = kind == 1 ? 0 : kind == 2 ? 0xFF : kind == 3 && i % 255 == 254 ? 0 : bytes[i];
    }
}

static void test_every_length_goes_round(void **state) {
    (void)state;
    uint8_t payload[WIRE_PAYLOAD_MAX + 1], wire[WIRE_FRAME_MAX], wanted[WIRE_FRAME_MAX + 8];
    struct frame_decoder decoder;
    struct frame_in in = {0};
    size_t longest = 0;
    frame_start(&decoder);
    for (size_t count = 0; count <= WIRE_PAYLOAD_MAX; count++) {
        for (int kind = 0; kind < 4; kind++) {
            fill_kind(payload, count, kind);
            uint8_t type = (uint8_t)(count * 3 + (unsigned)kind), sequence = (uint8_t)(count >> 2);
            size_t length = frame_encode(type, sequence, payload, count, wire);
            assert_int_equal(length, reference_frame(type, sequence, payload, count, wanted));
            assert_memory_equal(wire, wanted, length);
            assert_null(memchr(wire, 0, length - 1));
            assert_true(feed(&decoder, wire, length, &in));
            assert_true(in.type == type && in.sequence == sequence && in.count == count);
            assert_memory_equal(in.payload, payload, count);
            longest = length > longest ? length : longest;
        }
    }
    assert_int_equal(longest, WIRE_FRAME_MAX);
    assert_int_equal(decoder.bad, 0);
    assert_int_equal(frame_encode(1, 1, payload, WIRE_PAYLOAD_MAX + 1, wire), 0);
}

static void test_every_truncation_is_dropped(void **state) {
    (void)state;
    uint8_t payload[600], wire[WIRE_FRAME_MAX];
    struct frame_in in = {0};
    talk_fill(payload, sizeof payload, 5);
    size_t length = frame_encode(3, 9, payload, sizeof payload, wire);
    for (size_t kept = 1; kept < length - 1; kept++) {
        struct frame_decoder decoder;
        frame_start(&decoder);
        assert_false(feed(&decoder, wire, kept, &in));
        assert_false(frame_feed(&decoder, 0, &in));
        assert_int_equal(decoder.bad, 1);
        assert_true(feed(&decoder, wire, length, &in));
        assert_int_equal(in.count, sizeof payload);
    }
}

static void test_every_flipped_bit_is_noticed(void **state) {
    (void)state;
    uint8_t payload[WIRE_BLOCK], wire[WIRE_FRAME_MAX];
    struct frame_in in = {0};
    talk_fill(payload, sizeof payload, 6);
    size_t length = frame_encode(WIRE_DATA, 7, payload, sizeof payload, wire);
    for (size_t bit = 0; bit < length * 8; bit++) {
        struct frame_decoder decoder;
        frame_start(&decoder);
        wire[bit / 8] ^= (uint8_t)(1 << bit % 8);
        if (feed(&decoder, wire, length, &in)) {
            fail_msg("bit %zu of the frame was flipped and it passed", bit);
        }
        wire[bit / 8] ^= (uint8_t)(1 << bit % 8);
        frame_feed(&decoder, 0, &in); /* the flip may have hit the 0x00 */
        assert_true(decoder.bad > 0);
        assert_true(feed(&decoder, wire, length, &in));
    }
}

static void test_a_good_frame_follows_garbage(void **state) {
    (void)state;
    uint8_t garbage[5000], payload[16], wire[WIRE_FRAME_MAX];
    struct frame_decoder decoder;
    struct frame_in in = {0};
    talk_fill(payload, sizeof payload, 8);
    size_t length = frame_encode(5, 5, payload, sizeof payload, wire);
    for (uint64_t seed = 1; seed < 60; seed++) {
        frame_start(&decoder);
        talk_fill(garbage, sizeof garbage, seed);
        assert_false(feed(&decoder, garbage, (size_t)(seed * 80), &in));
        frame_feed(&decoder, 0, &in);
        assert_true(feed(&decoder, wire, length, &in));
        assert_int_equal(in.type, 5);
    }
}

/* Longer than the longest frame, in bytes that COBS itself allows. */
static void test_too_long_and_too_short(void **state) {
    (void)state;
    uint8_t plain[WIRE_PLAIN_MAX + 200], wire[sizeof plain + 20];
    struct frame_in in = {0};
    for (size_t count = 1; count < sizeof plain; count++) {
        if (count == 6) {
            count = WIRE_PLAIN_MAX + 1;
        }
        struct frame_decoder decoder;
        frame_start(&decoder);
        talk_fill(plain, count, count);
        if (count > 4) { /* with the right CRC */
            put32(plain + count - 4, (uint32_t)crc32(0, plain, (uInt)(count - 4)));
        }
        size_t length = plain_cobs(plain, count, wire);
        assert_false(feed(&decoder, wire, length, &in));
        assert_false(frame_feed(&decoder, 0, &in));
        assert_int_equal(decoder.bad, 1);
    }
}

/* The longest frame with bytes behind its CRC is not that frame. */
static void test_what_follows_a_full_frame_spoils_it(void **state) {
    (void)state;
    uint8_t plain[WIRE_PLAIN_MAX + 1], wire[WIRE_FRAME_MAX + 8];
    struct frame_decoder decoder;
    struct frame_in in = {0};
    talk_fill(plain, sizeof plain, 12);
    put32(plain + WIRE_PLAIN_MAX - 4, (uint32_t)crc32(0, plain, WIRE_PLAIN_MAX - 4));
    for (size_t more = 0; more < 2; more++) {
        frame_start(&decoder);
        size_t length = plain_cobs(plain, WIRE_PLAIN_MAX + more, wire);
        wire[length] = 0;
        assert_int_equal(feed(&decoder, wire, length + 1, &in), more == 0);
    }
}

static void test_empty_frames_mean_nothing(void **state) {
    (void)state;
    uint8_t wire[WIRE_FRAME_MAX];
    struct frame_decoder decoder;
    struct frame_in in = {0};
    frame_start(&decoder);
    for (int i = 0; i < 5; i++) {
        assert_false(frame_feed(&decoder, 0, &in));
    }
    assert_int_equal(decoder.bad, 0);
    assert_true(feed(&decoder, wire, frame_encode(9, 1, NULL, 0, wire), &in));
    assert_int_equal(in.count, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_crc_has_the_published_check_value),
        cmocka_unit_test(test_crc_agrees_with_zlib),
        cmocka_unit_test(test_reference_codes_the_published_examples),
        cmocka_unit_test(test_every_length_goes_round),
        cmocka_unit_test(test_every_truncation_is_dropped),
        cmocka_unit_test(test_every_flipped_bit_is_noticed),
        cmocka_unit_test(test_a_good_frame_follows_garbage),
        cmocka_unit_test(test_too_long_and_too_short),
        cmocka_unit_test(test_what_follows_a_full_frame_spoils_it),
        cmocka_unit_test(test_empty_frames_mean_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
