#include "virtual/board_bench.h"

#include "capture/video.h"
#include "picture/picture.h"

#include <string.h>

/* The longest that data sheets of serial flash give for a sector and a page [M]: the slot's service goes on
 * meanwhile. */
enum { ERASE_US = 400000, PROGRAM_US = 3000 };

static void run_field(struct board_bench *bench) {
    struct virtual_notes notes;
    virtual_run_field(&bench->video);
    virtual_notes(&bench->video, &notes);
    if (notes.lines > bench->lines_most) {
        bench->lines_most = notes.lines;
    }
    if (notes.lines < bench->lines_least) {
        bench->lines_least = notes.lines;
    }
}

void board_bench_run(struct board_bench *bench, int fields) {
    for (int i = 0; i < fields; i++) {
        run_field(bench);
    }
}

void board_bench_forget(struct board_bench *bench) {
    bench->lines_least = 100000;
    bench->lines_most = 0;
}

/* ---- the wire ---- */

static enum io send_bytes(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    const struct board_bench *bench = state;
    return bench->wire.send(bench->wire.state, bytes, count, timeout_ms, done);
}

static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct board_bench *bench = state;
    const uint64_t end = virtual_board_now(bench->board) + (uint64_t)timeout_ms * 1000;
    enum io got = bench->wire.receive(bench->wire.state, bytes, size, 0, done);
    while (got == IO_TIMEOUT && virtual_board_now(bench->board) < end) {
        run_field(bench);
        got = bench->wire.receive(bench->wire.state, bytes, size, 0, done);
    }
    return got;
}

static bool reopen(void *state, int timeout_ms, struct problem *problem) {
    struct board_bench *bench = state;
    return bench->wire.reopen(bench->wire.state, timeout_ms, problem);
}

static uint64_t now_us(void *state) {
    const struct board_bench *bench = state;
    return virtual_board_now(bench->board);
}

static void close_wire(void *state) {
    struct board_bench *bench = state;
    bench->wire.close(bench->wire.state);
}

static bool open_link(struct board_bench *bench) {
    struct link_options options;
    const struct transport wire = {.state = bench,
                                   .name = "virtual",
                                   .send = send_bytes,
                                   .receive = receive_bytes,
                                   .reopen = reopen,
                                   .now_us = now_us,
                                   .close = close_wire};
    link_defaults(&options);
    return transport_virtual(bench->board, &bench->wire, &bench->problem) &&
           link_open(&wire, &options, &bench->link, &bench->problem);
}

bool board_bench_open(struct board_bench *bench, enum standard standard, const char *fault) {
    struct virtual_options options;
    struct virtual_board_options board;
    memset(bench, 0, sizeof *bench);
    bench->standard = standard;
    board_bench_forget(bench);
    virtual_defaults(standard, &options);
    virtual_board_defaults(&board);
    board.erase_us = ERASE_US;
    board.program_us = PROGRAM_US;
    if (fault != NULL && !virtual_add_fault(&options, fault, &bench->problem)) {
        return false;
    }
    bench->board = virtual_board_new(&board, &bench->problem);
    return bench->board != NULL &&
           virtual_open_board(&options, bench->board, &bench->video, &bench->problem) && open_link(bench);
}

void board_bench_close(struct board_bench *bench) {
    if (bench->link != NULL) {
        link_close(bench->link);
    }
    if (bench->video.close != NULL) {
        bench->video.close(bench->video.state);
    }
    if (bench->board != NULL) {
        virtual_board_free(bench->board);
    }
}

bool board_bench_push(struct board_bench *bench, const uint8_t *bytes, size_t size, unsigned flags,
                      struct link_push *push) {
    struct link_image image = {.bytes = bytes, .size = size, .flags = flags};
    memset(push, 0, sizeof *push);
    return link_scheme(size, &image.scheme) && link_push(bench->link, &image, push, &bench->problem);
}

bool board_bench_slate(struct board_bench *bench, int frames, struct slate *slate) {
    const struct picture_options options = {.standard = bench->standard, .unclear_below = PICTURE_UNCLEAR};
    struct picture *picture = picture_new(&options);
    bool read = false;
    for (int i = 0; picture != NULL && i < frames; i++) {
        struct frame frame;
        struct field fields[2];
        struct reading reading;
        bench->video.next(bench->video.state, &frame, &bench->problem);
        const int count = frame_split(&frame, SPLIT_WOVEN, fields);
        for (int which = 0; which < count; which++) {
            picture_read(picture, &fields[which], &reading);
            if (reading.state == FIELD_READ) {
                *slate = reading.slate;
                read = true;
            }
        }
    }
    picture_free(picture);
    return read;
}

bool board_bench_watch(struct board_bench *bench, int ms, struct slot_seen *seen) {
    const uint64_t end = virtual_board_now(bench->board) + (uint64_t)ms * 1000;
    struct link_watch watch;
    while (virtual_board_now(bench->board) < end) {
        run_field(bench);
    }
    if (!link_watch(bench->link, &watch, &bench->problem)) {
        return false;
    }
    *seen = (struct slot_seen){.supply = watch.supply,
                               .age_ms = watch.age_ms,
                               .cycles = watch.cycles,
                               .resets = watch.resets,
                               .vsyncs = watch.vsyncs,
                               .mailbox = watch.mailbox,
                               .missed = watch.missed,
                               .high = watch.high,
                               .low = watch.low,
                               .echoed_low = watch.echoed_low,
                               .echoed_high = watch.echoed_high,
                               .echoed_step = watch.echoed_step,
                               .vector_low = watch.vector_low,
                               .vector_high = watch.vector_high,
                               .step = watch.step,
                               .traced = watch.traced};
    memcpy(seen->trace, watch.trace, sizeof seen->trace);
    return true;
}
