/*
 * The board's end of the wire: whatever comes in, over flash that fails and power that goes, the board stays
 * sound, sends only good frames, answers in the end, and once it holds an image it never holds none again.
 */
#include "fuzz/board_script.h"
#include "fuzz/fuzz.h"

#include "core/bytes.h"
#include "core/cart.h"
#include "core/frame.h"
#include "core/store.h"
#include "virtual/board.h"

#include <stdlib.h>
#include <string.h>

enum { WAIT_MS = 20000, TRIES = 20, MS = 1000 };

static struct run {
    const uint8_t *at, *end;
    struct virtual_board_options options;
    struct virtual_board *board;
    struct frame_decoder decoder;
    uint8_t image[WIRE_IMAGE_MAX];
    uint8_t kib;
    bool stored; /* the board has said that a commit went well */
    int last_type;
    uint8_t last[WIRE_PAYLOAD_MAX];
    size_t last_count;
} run;
static uint8_t flash[STORE_BYTES];

static void must(bool truth) {
    if (!truth) {
        abort();
    }
}

static uint8_t byte(void) {
    return run.at < run.end ? *run.at++ : 0;
}

static uint16_t word(void) {
    uint8_t low = byte();
    return (uint16_t)(low | byte() << 8);
}

static void power_on(void) {
    run.board = virtual_board_new(&run.options, NULL);
    must(run.board != NULL);
    frame_start(&run.decoder);
}

/* Reads what the board sent: good frames, replies, statuses that exist. */
static void take(void) {
    uint8_t got;
    struct frame_in in;
    while (virtual_board_take(run.board, &got, 1) == 1) {
        if (!frame_feed(&run.decoder, got, &in)) {
            continue;
        }
        must(in.type & WIRE_REPLY);
        must(in.count > 0 && (in.type == WIRE_LOG ? in.payload[0] <= 2 : in.payload[0] < WIRE_STATUSES));
        run.stored = run.stored || (in.type == (WIRE_COMMIT | WIRE_REPLY) && in.payload[0] == WIRE_OK);
        if (in.type != WIRE_LOG) {
            run.last_type = in.type;
            run.last_count = in.count;
            memcpy(run.last, in.payload, in.count);
        }
    }
    must(run.decoder.bad == 0);
}

static void send_frame(uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count) {
    uint8_t wire[WIRE_FRAME_MAX];
    virtual_board_receive(run.board, wire, frame_encode(type, sequence, payload, count, wire));
}

/* The input's next bytes, as many as there are. */
static size_t bytes(size_t count, const uint8_t **from) {
    size_t left = (size_t)(run.end - run.at);
    *from = run.at;
    count = count < left ? count : left;
    run.at += count;
    return count;
}

static void act_raw(void) {
    const uint8_t *from;
    size_t count = word();
    count = bytes(count, &from);
    virtual_board_receive(run.board, from, count);
}

static void act_frame(void) {
    const uint8_t *from;
    uint8_t type = byte(), sequence = byte();
    size_t count = word() % (WIRE_PAYLOAD_MAX + 1);
    count = bytes(count, &from);
    if (type == WIRE_LOADER && count == 4 && get32(from) == WIRE_LOADER_KEY) {
        return; /* the board would be gone, and rightly */
    }
    send_frame(type, sequence, from, count);
}

static void act_begin(void) {
    uint8_t payload[11], scheme = byte(), flags = byte(), seed = byte();
    size_t size = cart_size(scheme);
    for (size_t i = 0; i < size; i++) {
        run.image[i] = (uint8_t)(seed * 29 + (i ^ i >> 8) * seed);
    }
    run.kib = (uint8_t)(size / 1024);
    put32(payload, frame_crc(0, run.image, size));
    payload[4] = run.kib;
    payload[5] = scheme;
    payload[6] = flags;
    for (int i = 7; i < 11; i++) {
        payload[i] = byte();
    }
    send_frame(WIRE_BEGIN, 1, payload, sizeof payload);
}

static void act_blocks(void) {
    unsigned first = byte(), count = byte() % (WIRE_BLOCKS_MAX + 2);
    for (unsigned block = first; block < first + count && block < 256; block++) {
        const uint8_t *from = run.image + block % WIRE_BLOCKS_MAX * WIRE_BLOCK;
        send_frame(WIRE_DATA, (uint8_t)block, from, WIRE_BLOCK);
    }
}

static void act_cycles(void) {
    uint16_t address = word();
    unsigned step = byte(), count = byte();
    for (unsigned i = 0; i < count; i++) {
        virtual_board_cycle(run.board, (uint16_t)((address + i * step) & 0x1FFF), (uint8_t)i);
    }
}

static void act_restart(void) {
    take();
    virtual_board_free(run.board);
    run.options.power_cut_after = -1;
    power_on();
}

static void act(void) {
    switch (byte() % ACTIONS) {
    case ACT_RAW:
        act_raw();
        break;
    case ACT_FRAME:
        act_frame();
        break;
    case ACT_BEGIN:
        act_begin();
        break;
    case ACT_BLOCKS:
        act_blocks();
        break;
    case ACT_COMMIT:
        send_frame(WIRE_COMMIT, 2, NULL, 0);
        break;
    case ACT_WAIT:
        virtual_board_advance(run.board, word() % 2048U * MS);
        break;
    case ACT_CYCLES:
        act_cycles();
        break;
    case ACT_SUPPLY:
        virtual_board_supply(run.board, byte() & 1);
        break;
    case ACT_UNPLUG:
        take();
        virtual_board_unplug(run.board);
        frame_start(&run.decoder);
        break;
    case ACT_RESTART:
        act_restart();
        break;
    default:
        take();
        break;
    }
}

static bool await(int type) {
    for (int ms = 0; ms < WAIT_MS && run.last_type != type && !virtual_board_dead(run.board); ms += 10) {
        take();
        virtual_board_advance(run.board, 10 * MS);
    }
    return run.last_type == type;
}

/* Again where it was lost: the board's queue may be full of what came before. False: power went meanwhile. */
static bool ask(uint8_t type, const uint8_t *payload, size_t count) {
    bool answered = false;
    for (int i = 0; i < TRIES && !answered && !virtual_board_dead(run.board); i++) {
        run.last_type = -1;
        send_frame(0, 0, NULL, 0); /* ends what was cut off before it; refused */
        send_frame(type, 3, payload, count);
        answered = await(type | WIRE_REPLY);
    }
    must(answered || virtual_board_dead(run.board));
    return answered;
}

/* What is stored is whole, read over the wire. */
static void check_image(uint32_t crc, size_t size) {
    uint32_t sum = 0;
    for (size_t at = 0; at < size; at += WIRE_BLOCK) {
        uint8_t payload[6];
        put32(payload, (uint32_t)at);
        put16(payload + 4, WIRE_BLOCK);
        must(ask(WIRE_READ, payload, sizeof payload));
        must(run.last[0] == WIRE_OK && run.last_count == 1 + WIRE_BLOCK);
        sum = frame_crc(sum, run.last + 1, WIRE_BLOCK);
    }
    must(sum == crc);
}

static void finish(void) {
    const uint8_t versions[2] = {1, 1};
    if (ask(WIRE_HELLO, versions, sizeof versions)) {
        must(run.last[0] == WIRE_OK);
    }
    run.options.flash_fault_one_in = 0;
    act_restart();
    must(ask(WIRE_STATUS, NULL, 0));
    must(!run.stored || get32(run.last + 2) != 0);
    check_image(get32(run.last + 6), run.last[10] * (size_t)1024);
    virtual_board_free(run.board);
}

int LLVMFuzzerTestOneInput(const uint8_t *input, size_t count) {
    memset(&run, 0, sizeof run);
    memset(flash, 0xFF, sizeof flash);
    run.at = input;
    run.end = input + count;
    virtual_board_defaults(&run.options);
    run.options.flash = flash;
    run.options.seed = byte();
    run.options.flash_fault_one_in = byte();
    uint16_t cut = word();
    run.options.power_cut_after = cut == NEVER_CUT ? -1 : cut;
    run.options.erase_us = run.options.seed & 1 ? 45000 : 0;
    run.options.program_us = run.options.seed & 1 ? 700 : 0;
    power_on();
    while (run.at < run.end) {
        act();
    }
    finish();
    return 0;
}
