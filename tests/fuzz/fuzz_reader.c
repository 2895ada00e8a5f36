/*
 * A reader that answers as one should and measures anything at all: whatever comes is refused with a problem
 * that says something, or judged and told.
 *
 * The input: a byte for scheme, RAM and image, then a byte for each task (how it ends, how much it gives) and
 * for each piece of a result how many bytes of it are other than a good cartridge's, with their places.
 */
#include "commands/reader_measure.h"
#include "core/bytes.h"
#include "core/frame.h"
#include "fuzz/fuzz.h"
#include "report/reader_report.h"
#include "verdict/reader.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TOLD_MAX = 1 << 17 };

static struct script {
    const uint8_t *at, *end;
    uint64_t now_us;
    struct frame_decoder decoder;
    int scheme;
    uint8_t task[12], ends;
    size_t size;
    uint8_t out[1 << 14];
    size_t out_at, out_count;
} script;

static uint8_t image[WIRE_IMAGE_MAX];
static struct reader_seen seen;
static struct reader_result judged;

static uint8_t byte(void) {
    return script.at < script.end ? *script.at++ : 0;
}

static void must(bool truth) {
    if (!truth) {
        abort();
    }
}

/* ---- a reader's answers ---- */

static size_t usual_size(void) {
    const size_t bytes = scheme_bytes(script.scheme), banks = (size_t)scheme_banks(script.scheme);
    switch (script.task[0]) {
    case WIRE_TASK_READ:
        return 2 * bytes + 9;
    case WIRE_TASK_MAP:
        return READER_TIMES * (size_t)get16(script.task + 6);
    case WIRE_TASK_HOTSPOTS:
        return 17 * banks * banks;
    case WIRE_TASK_RELEASE:
        return 2 * (size_t)get16(script.task + 6);
    case WIRE_TASK_RAM:
        return 4;
    case WIRE_TASK_WAKE:
        return 5;
    default:
        return 6;
    }
}

static uint8_t usual_byte(size_t offset) {
    const size_t bytes = scheme_bytes(script.scheme);
    switch (script.task[0]) {
    case WIRE_TASK_READ:
        return offset < bytes ? image[offset] : offset == 2 * bytes ? 2 : 0;
    case WIRE_TASK_MAP:
        return 20;
    case WIRE_TASK_HOTSPOTS:
        return (uint8_t)(offset % (size_t)scheme_banks(script.scheme));
    default:
        return 0;
    }
}

/* Its low bits: nearly always done; then the size: the usual one, or with entries of RAM's log, or any. */
static void begin(void) {
    script.ends = byte();
    script.size = usual_size();
    if (script.task[0] == WIRE_TASK_RAM) {
        script.size += 5 * (size_t)(script.ends >> 3);
    }
    if ((script.ends & 7) == 7) {
        script.size = byte() * (size_t)257;
    }
}

static size_t tell_state(uint8_t *reply) {
    const bool fails = (script.ends & 7) == 6;
    reply[1] = script.task[0];
    reply[2] = fails ? WIRE_TASK_FAILED : WIRE_TASK_DONE;
    put32(reply + 11, (uint32_t)script.size);
    reply[19] = fails ? script.ends >> 3 & 3 : 0;
    put32(reply + 20, (script.ends & 7) == 5 ? (uint32_t)byte() << 24 | byte() : 8000);
    put16(reply + 24, (script.ends & 7) == 4 ? (uint16_t)(byte() * 257) : 3);
    return 26;
}

static size_t give_result(const uint8_t *asked, uint8_t *reply) {
    const uint32_t offset = get32(asked);
    const size_t count = get16(asked + 4);
    for (size_t i = 0; i < count; i++) {
        reply[1 + i] = usual_byte(offset + i);
    }
    for (unsigned others = byte(); others > 0 && script.at < script.end; others--) {
        const size_t place = byte() | (size_t)byte() << 8;
        reply[1 + place % count] = byte();
    }
    return 1 + count;
}

static void answer(const struct frame_in *in) {
    static const uint8_t hello[] = {WIRE_OK, WIRE_VERSION, 0, 1, 0, 0, 0, 0, 0x10, 4, 0, 4, 4, 0, 0x80, 0, 0};
    uint8_t reply[WIRE_PAYLOAD_MAX] = {WIRE_OK}, wire[WIRE_FRAME_MAX];
    size_t count = 1;
    switch (in->type) {
    case WIRE_HELLO:
        memcpy(reply, hello, sizeof hello);
        put32(reply + 4, WIRE_CAN_READ);
        count = 25;
        break;
    case WIRE_SUPPLY:
        count = 3;
        break;
    case WIRE_TASK:
        must(in->count == sizeof script.task);
        memcpy(script.task, in->payload, sizeof script.task);
        begin();
        break;
    case WIRE_TASK_STATE:
        count = tell_state(reply);
        break;
    case WIRE_TASK_RESULT:
        count = give_result(in->payload, reply);
        break;
    default:
        break;
    }
    script.out_at = 0;
    script.out_count = frame_encode(in->type | WIRE_REPLY, in->sequence, reply, count, wire);
    memcpy(script.out, wire, script.out_count);
}

/* ---- the transport ---- */

static enum io send_bytes(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct frame_in in;
    (void)state, (void)timeout_ms;
    for (size_t i = 0; i < count; i++) {
        if (frame_feed(&script.decoder, bytes[i], &in)) {
            answer(&in);
        }
    }
    *done = count;
    return IO_OK;
}

static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    const size_t there = script.out_count - script.out_at;
    (void)state;
    *done = there < size ? there : size;
    memcpy(bytes, script.out + script.out_at, *done);
    script.out_at += *done;
    script.now_us += there > 0 ? 10 : (uint64_t)timeout_ms * 1000;
    return there > 0 ? IO_OK : IO_TIMEOUT;
}

static bool reopen(void *state, int timeout_ms, struct problem *problem) {
    (void)state, (void)timeout_ms;
    return problem_set(problem, PROBLEM_BENCH, "away");
}

static uint64_t now_us(void *state) {
    (void)state;
    return script.now_us;
}

static void close_nothing(void *state) {
    (void)state;
}

/* ---- the run ---- */

static void tell(const struct reader_limits *limits) {
    static char told[TOLD_MAX];
    FILE *stream = fmemopen(told, sizeof told, "w");
    must(stream != NULL);
    reader_terminal(stream, &judged, limits);
    fclose(stream);
    json_t *json = reader_json(&judged, limits);
    char *text = json_dumps(json, JSON_COMPACT); /* NULL where a figure is none */
    must(text != NULL);
    free(text);
    json_decref(json);
}

static void judge(bool compared) {
    struct reader_limits limits;
    reader_limits_default(&limits);
    reader_judge(&seen, compared ? image : NULL, &limits, &judged);
    must(judged.finding_count <= FINDINGS_MAX);
    for (size_t i = 0; i < judged.finding_count; i++) {
        must(memchr(judged.findings[i].text, 0, sizeof judged.findings[i].text) != NULL);
        must(judged.findings[i].text[0] != '\0');
    }
    tell(&limits);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count) {
    const struct transport transport = {.name = "fuzz",
                                        .send = send_bytes,
                                        .receive = receive_bytes,
                                        .reopen = reopen,
                                        .now_us = now_us,
                                        .close = close_nothing};
    struct reader_order order;
    struct link *link;
    struct problem problem = {0};
    uint64_t chip_us = 0;
    script = (struct script){.at = bytes, .end = bytes + count};
    frame_start(&script.decoder);
    for (size_t i = 0; i < sizeof image; i++) {
        image[i] = (uint8_t)(i % 251 + i / 4096);
    }
    const uint8_t choice = byte();
    const bool compared = (choice & 0x10) != 0;
    script.scheme = (choice & 7) % WIRE_SCHEMES;
    if (!link_open(&transport, NULL, &link, &problem)) {
        abort();
    }
    reader_order_all(script.scheme, (choice & 8) != 0, compared ? image : NULL, &order);
    const bool good = reader_measure(link, &order, &seen, &chip_us, &problem);
    must(good || (problem.kind != PROBLEM_NONE && problem.text[0] != '\0'));
    if (good || seen.overload) {
        judge(compared);
    }
    link_close(link);
    return 0;
}
