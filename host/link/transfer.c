/*
 * BEGIN, the blocks, COMMIT. Blocks go out while fewer than a window of them wait for an acknowledgement, the
 * first ones right behind BEGIN, so that the line is not idle while the board's flash works. Whatever goes
 * wrong ends in BEGIN again: its reply says which blocks the board has, and the push goes on with the others,
 * on the same connection or on a new one.
 */
#include "core/bytes.h"
#include "link/inside.h"

#include <string.h>

enum step {
    STEP_DONE,
    STEP_AGAIN, /* something was lost: begin again */
    STEP_FAILED /* for good; the problem is filled */
};

enum { ACK_WAITS = 2 /* times reply_ms: an acknowledgement may have to wait for a sector's erase */ };

struct transfer {
    struct link *link;
    const struct link_image *image;
    struct link_push *push;
    struct problem *problem;
    uint32_t crc, keep, all;
    uint32_t have; /* blocks that the board has for sure */
    int best;      /* most blocks that it ever had */
    int window;
    uint32_t flying;                   /* sent, and neither acknowledged nor found lost */
    uint64_t sent_as[WIRE_BLOCKS_MAX]; /* order in which blocks were sent last */
    uint64_t sent;
    bool committing; /* COMMIT may have been carried out */
    bool crc_failed; /* once already */
    uint32_t generation_before;
    int barren; /* troubles since the board last had a new block */
};

static int count_bits(uint32_t mask) {
    return __builtin_popcount(mask);
}

static enum step refused(struct transfer *transfer, uint8_t type, uint8_t status) {
    link_refused(transfer->link, type, status, transfer->problem);
    return STEP_FAILED;
}

static void tell_progress(const struct transfer *transfer) {
    const struct link_options *options = &transfer->link->options;
    if (options->progress != NULL) {
        options->progress(options->user, (size_t)count_bits(transfer->have), transfer->push->blocks);
    }
}

static void now_have(struct transfer *transfer, uint32_t have) {
    transfer->have = have;
    transfer->flying &= ~have;
    if (count_bits(have) > transfer->best) {
        transfer->best = count_bits(have);
        transfer->barren = 0;
    }
    tell_progress(transfer);
}

/* ---- sending ---- */

static bool send_block(struct transfer *transfer, unsigned block) {
    const uint8_t *bytes = transfer->image->bytes + (size_t)block * WIRE_BLOCK;
    transfer->flying |= (uint32_t)1 << block;
    transfer->sent_as[block] = ++transfer->sent;
    transfer->push->sent++;
    return link_send(transfer->link, WIRE_DATA, (uint8_t)block, bytes, WIRE_BLOCK) == IO_OK;
}

static bool fill_window(struct transfer *transfer) {
    for (;;) {
        const uint32_t waiting = transfer->all & ~transfer->have & ~transfer->flying;
        if (waiting == 0 || count_bits(transfer->flying) >= transfer->window) {
            return true;
        }
        if (!send_block(transfer, (unsigned)__builtin_ctz(waiting))) {
            return false;
        }
    }
}

/* ---- BEGIN ---- */

/* The board has nothing of this image yet, so a window of blocks need not wait for BEGIN's reply. */
static void send_early(void *user) {
    struct transfer *transfer = user;
    transfer->window =
        WIRE_WINDOW < transfer->link->facts.window ? WIRE_WINDOW : transfer->link->facts.window;
    fill_window(transfer);
}

static void begin_payload(const struct transfer *transfer, uint8_t *payload) {
    put32(payload, transfer->crc);
    payload[4] = (uint8_t)(transfer->image->size / 1024);
    payload[5] = (uint8_t)transfer->image->scheme;
    payload[6] = (uint8_t)transfer->image->flags;
    put32(payload + 7, transfer->keep);
}

static enum step take_begin(struct transfer *transfer, const struct reply *reply) {
    if (reply->status != WIRE_OK) {
        return refused(transfer, WIRE_BEGIN, reply->status);
    }
    if (reply->count != 5 || reply->bytes[4] < 1) {
        return refused(transfer, WIRE_BEGIN, WIRE_BAD_LENGTH);
    }
    const int window = reply->bytes[4];
    const int most = transfer->link->facts.window;
    transfer->window = window < most ? window : most;
    now_have(transfer, get32(reply->bytes) & transfer->all);
    return STEP_DONE;
}

static enum step begin(struct transfer *transfer) {
    uint8_t payload[11];
    const struct question question = {.type = WIRE_BEGIN,
                                      .payload = payload,
                                      .count = sizeof payload,
                                      .budget_ms = transfer->link->options.commit_ms,
                                      .behind =
                                          transfer->keep == 0 && transfer->sent == 0 ? send_early : NULL,
                                      .user = transfer};
    struct reply reply;
    const int retries = transfer->link->retries;
    transfer->flying = 0;
    begin_payload(transfer, payload);
    switch (link_ask(transfer->link, &question, &reply)) {
    case ANSWER_GIVEN:
        /* Asked again, so what went out behind it the first time has most likely been lost with it. */
        if (transfer->link->retries != retries) {
            transfer->flying = 0;
        }
        return take_begin(transfer, &reply);
    case ANSWER_LOST:
        return STEP_AGAIN;
    case ANSWER_SILENT:
        break;
    }
    link_silent(transfer->link, WIRE_BEGIN, transfer->problem);
    return STEP_FAILED;
}

/* ---- blocks ---- */

/* Everything before `next` is there. When a block that was sent after `next` has been seen and `next` has
 * not, it was lost on the way: it goes out again at once. */
static void take_next(struct transfer *transfer, uint8_t next, uint8_t seen) {
    const size_t blocks = transfer->push->blocks;
    if (next >= blocks) {
        now_have(transfer, next == blocks ? transfer->all : transfer->have);
        return;
    }
    now_have(transfer, transfer->have | (((uint32_t)1 << next) - 1));
    if (seen < blocks && (transfer->flying >> next & 1) != 0 &&
        transfer->sent_as[seen] > transfer->sent_as[next]) {
        transfer->flying &= ~((uint32_t)1 << next);
        transfer->push->retries++;
    }
}

static enum step take_acknowledgement(struct transfer *transfer, const struct frame_in *frame) {
    if (frame->type == WIRE_ERROR && frame->count == 2 && frame->payload[1] == WIRE_DATA) {
        return refused(transfer, WIRE_DATA, frame->payload[0]);
    }
    if (frame->type != (WIRE_DATA | WIRE_REPLY) || frame->count < 1) {
        return STEP_DONE;
    }
    switch (frame->payload[0]) {
    case WIRE_OK:
        if (frame->count == 2) {
            take_next(transfer, frame->payload[1], frame->sequence);
        }
        return STEP_DONE;
    case WIRE_NOT_BEGUN: /* the board restarted, or this is late from an earlier push */
        return STEP_AGAIN;
    default:
        return refused(transfer, WIRE_DATA, frame->payload[0]);
    }
}

/* Until the next frame that says something about blocks. */
static enum step await_acknowledgement(struct transfer *transfer) {
    struct link *link = transfer->link;
    struct frame_in frame;
    const uint64_t until = link_reply_until(link, ACK_WAITS * link->options.reply_ms);
    const uint32_t have = transfer->have;
    const uint32_t flying = transfer->flying;
    while (have == transfer->have && flying == transfer->flying) {
        if (link_frame(link, until, &frame) != IO_OK) {
            return STEP_AGAIN;
        }
        const enum step step = take_acknowledgement(transfer, &frame);
        if (step != STEP_DONE) {
            return step;
        }
        if (link_left_ms(link, until) == 0) {
            return STEP_AGAIN;
        }
    }
    return STEP_DONE;
}

static enum step send_blocks(struct transfer *transfer) {
    while (transfer->have != transfer->all) {
        if (!fill_window(transfer)) {
            return STEP_AGAIN;
        }
        const enum step step = await_acknowledgement(transfer);
        if (step != STEP_DONE) {
            return step;
        }
    }
    return STEP_DONE;
}

/* ---- COMMIT ---- */

/* The board knows of no push: it restarted. Before COMMIT was carried out, or after? */
static enum step find_out(struct transfer *transfer) {
    struct link_status status;
    if (!link_status(transfer->link, &status, transfer->problem)) {
        return STEP_FAILED;
    }
    if (link_holds(&status, transfer->image, transfer->crc) &&
        status.generation != transfer->generation_before) {
        return STEP_DONE;
    }
    return STEP_AGAIN;
}

/* Perhaps a kept block was not the same after all (a CRC of 32 bits can agree by chance), so the second try
 * sends every block. */
static enum step wrong_crc(struct transfer *transfer) {
    if (transfer->crc_failed) {
        return refused(transfer, WIRE_COMMIT, WIRE_BAD_CRC);
    }
    transfer->crc_failed = true;
    transfer->keep = 0;
    transfer->push->kept = 0;
    return STEP_AGAIN;
}

static enum step take_commit(struct transfer *transfer, uint8_t status) {
    transfer->committing = false;
    switch (status) {
    case WIRE_OK:
        return STEP_DONE;
    case WIRE_MISSING:
        return STEP_AGAIN;
    case WIRE_NOT_BEGUN:
        return find_out(transfer);
    case WIRE_BAD_CRC:
        return wrong_crc(transfer);
    default:
        return refused(transfer, WIRE_COMMIT, status);
    }
}

static enum step commit(struct transfer *transfer) {
    const struct question question = {.type = WIRE_COMMIT, .budget_ms = transfer->link->options.commit_ms};
    struct reply reply;
    transfer->committing = true;
    switch (link_ask(transfer->link, &question, &reply)) {
    case ANSWER_GIVEN:
        return take_commit(transfer, reply.status);
    case ANSWER_LOST:
        return STEP_AGAIN;
    case ANSWER_SILENT:
        break;
    }
    if (link_late(transfer->link)) {
        link_overdue(transfer->link, transfer->problem);
        return STEP_FAILED;
    }
    char who[LINK_WHO];
    problem_set(
        transfer->problem, PROBLEM_BENCH,
        "%s has all of the image but does not say that it is stored; it holds the old image or the new "
        "one, whole: unplug it, plug it in and push again",
        link_who(transfer->link, who));
    return STEP_FAILED;
}

/* ---- all of it ---- */

static enum step round_trip(struct transfer *transfer) {
    if (!transfer->committing) {
        enum step step = begin(transfer);
        if (step == STEP_DONE) {
            step = send_blocks(transfer);
        }
        if (step != STEP_DONE) {
            return step;
        }
    }
    return commit(transfer);
}

static bool recover(struct transfer *transfer) {
    struct link *link = transfer->link;
    char who[LINK_WHO];
    link->spoilt = true;
    transfer->push->retries++;
    if (link_late(link)) {
        return link_overdue(link, transfer->problem);
    }
    if (++transfer->barren > link->options.retries) {
        return problem_set(transfer->problem, PROBLEM_BENCH,
                           "%s got no further after %d attempts (%d of %zu blocks there); check cable and "
                           "connectors and push again, what it serves is whole",
                           link_who(link, who), transfer->barren, count_bits(transfer->have),
                           transfer->push->blocks);
    }
    return !link->lost || link_reconnect(link, transfer->problem);
}

bool link_transfer(struct link *link, const struct link_image *image, uint32_t crc, uint32_t keep,
                   const struct link_status *before, struct link_push *push, struct problem *problem) {
    struct transfer transfer = {
        .link = link,
        .image = image,
        .push = push,
        .problem = problem,
        .crc = crc,
        .keep = keep,
        .all = push->blocks == 32 ? UINT32_MAX : ((uint32_t)1 << push->blocks) - 1,
        .best = -1,
        .generation_before = before->generation,
    };
    for (;;) {
        switch (round_trip(&transfer)) {
        case STEP_DONE:
            return true;
        case STEP_FAILED:
            return false;
        case STEP_AGAIN:
            if (!recover(&transfer)) {
                return false;
            }
        }
    }
}
