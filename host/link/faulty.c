/*
 * Seeded faults around another transport. Works on frames: bytes up to a 0x00, gathered on their way. For
 * each of them the same number of random draws is made whatever happens, so what one fault does never shifts
 * the others.
 */
#include "core/frame.h"
#include "link/transport.h"

#include <stdlib.h>
#include <string.h>

enum {
    PIECE = 1024,               /* taken from the inner transport at once */
    FRAME = 2 * WIRE_FRAME_MAX, /* one frame, and one that a cut has joined to it */
    QUEUE = 32768
};

/* One direction: the frame being gathered, one held back to come later, and what may go on. */
struct lane {
    char direction;
    uint8_t frame[FRAME], held[FRAME], queue[QUEUE];
    size_t length, held_length, head, count;
};

struct faulty {
    struct transport inner;
    struct transport_faults faults;
    uint64_t random;
    struct lane out, in;
    uint64_t stalled_until;
    bool unplugged;
    uint64_t away_us;
};

/* ---- chance ---- */

/* splitmix64 (Steele, Lea and Flood 2014). */
static uint64_t draw(struct faulty *faulty) {
    faulty->random += 0x9E3779B97F4A7C15u;
    uint64_t mixed = faulty->random;
    mixed = (mixed ^ mixed >> 30) * 0xBF58476D1CE4E5B9u;
    mixed = (mixed ^ mixed >> 27) * 0x94D049BB133111EBu;
    return mixed ^ mixed >> 31;
}

static bool happens(struct faulty *faulty, double rate) {
    return (double)(draw(faulty) >> 11) / 9007199254740992.0 < rate;
}

/* 1 to most. */
static uint64_t some(uint64_t draw, uint64_t most) {
    return most > 0 ? 1 + draw % most : 0;
}

struct fate {
    bool drop, flip, cut, twice, reorder, stall, unplug;
    uint64_t where, how_much;
};

static struct fate draw_fate(struct faulty *faulty) {
    const struct transport_faults *faults = &faulty->faults;
    struct fate fate;
    fate.drop = happens(faulty, faults->drop);
    fate.flip = happens(faulty, faults->flip);
    fate.cut = happens(faulty, faults->cut);
    fate.twice = happens(faulty, faults->twice);
    fate.reorder = happens(faulty, faults->reorder);
    fate.stall = happens(faulty, faults->stall);
    fate.unplug = happens(faulty, faults->unplug);
    fate.where = draw(faulty);
    fate.how_much = draw(faulty);
    return fate;
}

/* ---- lanes ---- */

/* What finds no room is lost: this is a bad line. */
static void put(struct faulty *faulty, struct lane *lane, const uint8_t *bytes, size_t count) {
    if (count == 0 || lane->head + lane->count + count > QUEUE) {
        return;
    }
    memcpy(lane->queue + lane->head + lane->count, bytes, count);
    lane->count += count;
    if (faulty->faults.log != NULL) {
        faulty->faults.log(faulty->faults.user, lane->direction, bytes, count);
    }
}

static void took(struct lane *lane, size_t count) {
    lane->head += count;
    lane->count -= count;
    if (lane->count == 0) {
        lane->head = 0;
    }
}

static void empty(struct lane *lane) {
    lane->length = lane->held_length = lane->head = lane->count = 0;
}

static void spoil(struct lane *lane, const struct fate *fate) {
    if (fate->flip) {
        lane->frame[fate->where % lane->length] ^= (uint8_t)(1u << fate->how_much % 8);
    }
    if (fate->cut) {
        lane->length = fate->where % lane->length;
    }
    if (fate->drop) {
        lane->length = 0;
    }
}

static void release_held(struct faulty *faulty, struct lane *lane) {
    put(faulty, lane, lane->held, lane->held_length);
    lane->held_length = 0;
}

static void unplug(struct faulty *faulty, const struct fate *fate) {
    faulty->unplugged = true;
    faulty->away_us = some(fate->how_much, (uint64_t)faulty->faults.stall_ms_max) * 1000;
    empty(&faulty->out);
    empty(&faulty->in);
}

/* A frame is whole: its fate. */
static void pass_frame(struct faulty *faulty, struct lane *lane) {
    const struct fate fate = draw_fate(faulty);
    if (fate.unplug) {
        unplug(faulty, &fate);
        return;
    }
    if (fate.stall) {
        faulty->stalled_until = faulty->inner.now_us(faulty->inner.state) +
                                some(fate.how_much, (uint64_t)faulty->faults.stall_ms_max) * 1000;
    }
    spoil(lane, &fate);
    if (fate.reorder && lane->held_length == 0) {
        memcpy(lane->held, lane->frame, lane->length);
        lane->held_length = lane->length;
    } else {
        put(faulty, lane, lane->frame, lane->length);
        if (fate.twice) {
            put(faulty, lane, lane->frame, lane->length);
        }
        release_held(faulty, lane);
    }
    lane->length = 0;
}

static void gather(struct faulty *faulty, struct lane *lane, const uint8_t *bytes, size_t count) {
    for (size_t i = 0; i < count && !faulty->unplugged; i++) {
        lane->frame[lane->length++] = bytes[i];
        if (bytes[i] == 0 || lane->length == FRAME) {
            pass_frame(faulty, lane);
        }
    }
}

/* ---- the transport ---- */

static int left_ms(const struct faulty *faulty, uint64_t until) {
    const uint64_t now = faulty->inner.now_us(faulty->inner.state);
    return until > now ? (int)((until - now) / 1000) : 0;
}

static enum io flush_out(struct faulty *faulty, uint64_t until) {
    struct lane *out = &faulty->out;
    while (out->count > 0) {
        size_t done = 0;
        const enum io result = faulty->inner.send(faulty->inner.state, out->queue + out->head, out->count,
                                                  left_ms(faulty, until), &done);
        took(out, done);
        if (result == IO_LOST || (out->count > 0 && left_ms(faulty, until) == 0)) {
            return result == IO_LOST ? IO_LOST : IO_TIMEOUT;
        }
    }
    return IO_OK;
}

static enum io gather_in(struct faulty *faulty, int timeout_ms) {
    uint8_t bytes[PIECE];
    size_t done = 0;
    const enum io result = faulty->inner.receive(faulty->inner.state, bytes, sizeof bytes, timeout_ms, &done);
    gather(faulty, &faulty->in, bytes, done);
    return result == IO_OK && faulty->unplugged ? IO_LOST : result;
}

/* Nothing passes meanwhile. */
static enum io sit_out(struct faulty *faulty, uint64_t until) {
    while (left_ms(faulty, faulty->stalled_until) > 0) {
        const int stall = left_ms(faulty, faulty->stalled_until);
        const int left = left_ms(faulty, until);
        if (left == 0) {
            return IO_TIMEOUT;
        }
        if (gather_in(faulty, stall < left ? stall : left) == IO_LOST) {
            return IO_LOST;
        }
    }
    return IO_OK;
}

static enum io send_bytes(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct faulty *faulty = state;
    const uint64_t until = faulty->inner.now_us(faulty->inner.state) + (uint64_t)timeout_ms * 1000;
    *done = 0;
    if (faulty->unplugged) {
        return IO_LOST;
    }
    enum io result = sit_out(faulty, until);
    if (result == IO_OK) {
        result = flush_out(faulty, until);
    }
    if (result != IO_OK) {
        return result;
    }
    gather(faulty, &faulty->out, bytes, count);
    if (faulty->unplugged) {
        return IO_LOST;
    }
    *done = count;
    return flush_out(faulty, until) == IO_LOST ? IO_LOST : IO_OK;
}

static bool give(struct lane *in, uint8_t *bytes, size_t size, size_t *done) {
    *done = in->count < size ? in->count : size;
    memcpy(bytes, in->queue + in->head, *done);
    took(in, *done);
    return *done > 0;
}

static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct faulty *faulty = state;
    const uint64_t until = faulty->inner.now_us(faulty->inner.state) + (uint64_t)timeout_ms * 1000;
    *done = 0;
    for (bool over = false;;) {
        enum io result = faulty->unplugged ? IO_LOST : sit_out(faulty, until);
        if (result != IO_OK || give(&faulty->in, bytes, size, done)) {
            return result;
        }
        if (over) {
            return IO_TIMEOUT;
        }
        if (flush_out(faulty, until) == IO_LOST) {
            return IO_LOST;
        }
        over = left_ms(faulty, until) == 0;
        if (gather_in(faulty, left_ms(faulty, until)) == IO_LOST) {
            return IO_LOST;
        }
    }
}

/* Away for a while, as drawn; what the other end says meanwhile is lost. */
static bool stay_away(struct faulty *faulty, uint64_t until) {
    const uint64_t back = faulty->inner.now_us(faulty->inner.state) + faulty->away_us;
    const uint64_t end = back < until ? back : until;
    uint8_t bytes[PIECE];
    size_t done;
    while (left_ms(faulty, end) > 0) {
        if (faulty->inner.receive(faulty->inner.state, bytes, sizeof bytes, left_ms(faulty, end), &done) ==
            IO_LOST) {
            break;
        }
    }
    return back <= until;
}

static bool reopen(void *state, int timeout_ms, struct problem *problem) {
    struct faulty *faulty = state;
    const uint64_t until = faulty->inner.now_us(faulty->inner.state) + (uint64_t)timeout_ms * 1000;
    empty(&faulty->out);
    empty(&faulty->in);
    faulty->stalled_until = 0;
    if (!faulty->unplugged) {
        return faulty->inner.reopen(faulty->inner.state, timeout_ms, problem);
    }
    if (!stay_away(faulty, until)) {
        return problem_set(problem, PROBLEM_BENCH, "unplugged; plug it in again");
    }
    faulty->unplugged = false;
    return true;
}

static uint64_t now_us(void *state) {
    struct faulty *faulty = state;
    return faulty->inner.now_us(faulty->inner.state);
}

static void close_faulty(void *state) {
    struct faulty *faulty = state;
    faulty->inner.close(faulty->inner.state);
    free(faulty);
}

bool transport_faulty(const struct transport *inner, const struct transport_faults *faults,
                      struct transport *transport, struct problem *problem) {
    struct faulty *faulty = calloc(1, sizeof *faulty);
    if (faulty == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for faults on the wire; free some");
    }
    faulty->inner = *inner;
    faulty->faults = *faults;
    faulty->random = faults->seed;
    faulty->out.direction = '>';
    faulty->in.direction = '<';
    *transport = (struct transport){
        .state = faulty,
        .name = inner->name,
        .send = send_bytes,
        .receive = receive_bytes,
        .reopen = reopen,
        .now_us = now_us,
        .close = close_faulty,
        .bytes_per_second = inner->bytes_per_second,
    };
    return true;
}
