/* Frames out and in, bytes counted, every wait bounded. */
#include "link/inside.h"

#include <limits.h>
#include <string.h>

uint64_t link_now(const struct link *link) {
    return link->transport.now_us(link->transport.state);
}

static uint64_t no_later_than_deadline(const struct link *link, uint64_t until) {
    return until < link->deadline_us ? until : link->deadline_us;
}

uint64_t link_until(const struct link *link, int ms) {
    return no_later_than_deadline(link, link_now(link) + (uint64_t)ms * 1000);
}

static uint64_t line_us(const struct link *link, size_t count) {
    const unsigned rate = link->transport.bytes_per_second;
    return rate == 0 ? 0 : (uint64_t)count * 1000000 / rate;
}

uint64_t link_reply_until(const struct link *link, int ms) {
    const uint64_t now = link_now(link);
    const uint64_t from = link->line_free_us > now ? link->line_free_us : now;
    return no_later_than_deadline(link, from + line_us(link, WIRE_FRAME_MAX) + (uint64_t)ms * 1000);
}

int link_left_ms(const struct link *link, uint64_t until) {
    const uint64_t now = link_now(link);
    const uint64_t ms = until > now ? (until - now) / 1000 : 0;
    return ms < INT_MAX ? (int)ms : INT_MAX;
}

bool link_late(const struct link *link) {
    return link_now(link) >= link->deadline_us;
}

static enum io lost(struct link *link) {
    link->lost = true;
    return IO_LOST;
}

static enum io send_all(struct link *link, const uint8_t *bytes, size_t count) {
    const uint64_t until = link_reply_until(link, link->options.commit_ms);
    size_t sent = 0;
    while (sent < count) {
        size_t done = 0;
        const enum io result = link->transport.send(link->transport.state, bytes + sent, count - sent,
                                                    link_left_ms(link, until), &done);
        sent += done;
        link->bytes_out += done;
        if (result == IO_LOST) {
            return lost(link);
        }
        if (sent < count && link_left_ms(link, until) == 0) {
            link->spoilt = true;
            return IO_TIMEOUT;
        }
    }
    return IO_OK;
}

enum io link_send(struct link *link, uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count) {
    if (link->lost) {
        return IO_LOST;
    }
    const size_t lead = link->spoilt ? 1 : 0;
    link->wire[0] = 0;
    const size_t size = lead + frame_encode(type, sequence, payload, count, link->wire + lead);
    const uint64_t now = link_now(link);
    link->spoilt = false;
    link->line_free_us = (link->line_free_us > now ? link->line_free_us : now) + line_us(link, size);
    return send_all(link, link->wire, size);
}

/* What the board says goes to a terminal: printable characters only. */
static void tell_log(const struct link *link, const struct frame_in *frame) {
    char text[WIRE_LOG_TEXT + 1];
    if (link->options.log == NULL || frame->count < 1) {
        return;
    }
    const size_t length = frame->count - 1 < WIRE_LOG_TEXT ? frame->count - 1 : WIRE_LOG_TEXT;
    for (size_t i = 0; i < length; i++) {
        const uint8_t byte = frame->payload[1 + i];
        text[i] = (char)(byte < ' ' || byte > '~' ? '?' : byte);
    }
    text[length] = '\0';
    link->options.log(link->options.user, frame->payload[0], text);
}

/* From what has been received already. */
static bool next_frame(struct link *link, struct frame_in *frame) {
    while (link->in_at < link->in_count) {
        link->bytes_in++;
        if (!frame_feed(&link->decoder, link->in[link->in_at++], frame)) {
            continue;
        }
        link->frames_in++;
        if (frame->type != WIRE_LOG) {
            return true;
        }
        tell_log(link, frame);
    }
    return false;
}

enum io link_frame(struct link *link, uint64_t until, struct frame_in *frame) {
    if (link->lost) {
        return IO_LOST;
    }
    /* What is there is taken even when the time is over, once. */
    for (bool over = false;;) {
        if (next_frame(link, frame)) {
            return IO_OK;
        }
        if (over) {
            return IO_TIMEOUT;
        }
        const int left = link_left_ms(link, until);
        size_t done = 0;
        over = left == 0;
        const enum io result =
            link->transport.receive(link->transport.state, link->in, sizeof link->in, left, &done);
        link->in_at = 0;
        link->in_count = done;
        if (result == IO_LOST) {
            return lost(link);
        }
    }
}

enum io link_pause(struct link *link, int ms) {
    struct frame_in frame;
    const uint64_t until = link_until(link, ms);
    enum io result = IO_OK;
    while (result == IO_OK) {
        result = link_frame(link, until, &frame);
        if (result == IO_OK && link_left_ms(link, until) == 0) {
            result = IO_TIMEOUT;
        }
    }
    return result;
}

void link_flush(struct link *link) {
    frame_start(&link->decoder);
    link->bytes_in += link->in_count - link->in_at;
    link->in_at = link->in_count = 0;
    link->line_free_us = 0;
    link->spoilt = true;
}
