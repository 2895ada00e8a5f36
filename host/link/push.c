/* A push: compare, transfer, settle, verify, under one bound in time. */
#include "link/inside.h"

#include <stdio.h>
#include <string.h>

enum { LINE_TIMES = 10 /* what the line may take, times what it should */ };

uint64_t link_push_bound_ms(const struct link *link, size_t size) {
    const struct link_options *options = &link->options;
    const unsigned rate = link->transport.bytes_per_second;
    const uint64_t bytes = (size / WIRE_BLOCK + 4) * WIRE_FRAME_MAX;
    const uint64_t line = rate == 0 ? 0 : LINE_TIMES * bytes * 1000 / rate;
    const uint64_t recovery = (uint64_t)link_ask_ms(options) + (uint64_t)options->reconnect_ms;
    return 2 * (uint64_t)options->commit_ms + (uint64_t)options->hand_over_ms + line +
           (uint64_t)(options->retries + 1) * recovery;
}

static bool check_image(const struct link *link, const struct link_image *image, struct problem *problem) {
    char who[LINK_WHO];
    enum wire_scheme scheme;
    const uint32_t can = link->facts.capabilities;
    if ((can & WIRE_CAN_READ) != 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s is a reader, which stands in the console's place and takes no image; give a "
                           "cartridge board",
                           link_who(link, who));
    }
    if (!link_scheme(image->size, &scheme) || scheme != image->scheme) {
        return problem_set(problem, PROBLEM_INPUT,
                           "an image of %zu bytes is none of scheme %s; there are 2K (2048), 4K (4096), F8 "
                           "(8192), F6 (16384) and F4 (32768)",
                           image->size, link_scheme_name(image->scheme));
    }
    if (image->size > link->facts.image_max) {
        return problem_set(problem, PROBLEM_INPUT, "%s takes images up to %zu bytes, this one has %zu",
                           link_who(link, who), link->facts.image_max, image->size);
    }
    if (image->scheme >= WIRE_F8 && (can & WIRE_CAN_BANKS) == 0) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s serves no banked images (scheme %s); renew its firmware or push a 2K or 4K image",
            link_who(link, who), link_scheme_name(image->scheme));
    }
    if ((image->flags & WIRE_IMAGE_RAM) != 0 && (can & WIRE_CAN_RAM) == 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s has no cartridge RAM; renew its firmware or push an image without it",
                           link_who(link, who));
    }
    return true;
}

struct counts {
    uint64_t out, in;
};

static struct counts count_from(const struct link *link) {
    return (struct counts){link->bytes_out, link->bytes_in};
}

static void add_counts(const struct link *link, struct counts from, uint64_t *out, uint64_t *in) {
    *out += link->bytes_out - from.out;
    *in += link->bytes_in - from.in;
}

/* What the board holds, and which blocks need not be sent. */
static bool compare(struct link *link, const struct link_image *image, struct link_status *before,
                    uint32_t *keep, struct problem *problem) {
    *keep = 0;
    if (!link_status(link, before, problem)) {
        return false;
    }
    const bool comparable = before->generation != 0 && before->size == image->size &&
                            before->scheme == image->scheme &&
                            (link->facts.capabilities & WIRE_CAN_KEEP) != 0 && !link->options.whole;
    return !comparable || link_same_blocks(link, image, keep, problem);
}

static bool transfer(struct link *link, const struct link_image *image, uint32_t crc, uint32_t keep,
                     const struct link_status *before, struct link_push *push, struct problem *problem) {
    const struct counts from = count_from(link);
    const uint64_t started = link_now(link);
    push->kept = (size_t)__builtin_popcount(keep);
    const bool done = link_transfer(link, image, crc, keep, before, push, problem);
    push->took_us = link_now(link) - started;
    add_counts(link, from, &push->bytes_out, &push->bytes_in);
    return done;
}

static bool stored_but(struct problem *problem) {
    if (problem != NULL) {
        const size_t length = strlen(problem->text);
        snprintf(problem->text + length, sizeof problem->text - length,
                 "; before that, the board said that it holds this image");
    }
    return false;
}

static bool settle_and_verify(struct link *link, const struct link_image *image, uint32_t crc,
                              struct link_push *push, struct problem *problem) {
    const struct counts from = count_from(link);
    const bool done = link_settle(link, image, crc, !push->skipped, &push->start, problem) &&
                      (!link->options.read_back || link_verify(link, image, problem));
    add_counts(link, from, &push->verify_out, &push->verify_in);
    return done || stored_but(problem);
}

/* An image that is there already runs as one that has just come: no step is held, and no value is given that
 * an earlier run had queued. */
static bool let_go(struct link *link, const struct link_image *image, const struct link_status *before,
                   struct problem *problem) {
    const bool may_be_given =
        (link->facts.capabilities & WIRE_CAN_VALUES) != 0 && (image->flags & WIRE_IMAGE_MAILBOX) != 0;
    return (before->select == WIRE_RUN_FREE && !may_be_given) || link_select(link, WIRE_RUN_FREE, 0, problem);
}

static bool push_all(struct link *link, const struct link_image *image, struct link_push *push,
                     struct problem *problem) {
    const uint32_t crc = frame_crc(0, image->bytes, image->size);
    const struct counts from = count_from(link);
    struct link_status before = {0};
    uint32_t keep = 0;
    const bool compared = compare(link, image, &before, &keep, problem);
    add_counts(link, from, &push->compare_out, &push->compare_in);
    if (!compared) {
        return false;
    }
    push->skipped = !link->options.whole && link_holds(&before, image, crc);
    push->kept = push->skipped ? push->blocks : 0;
    return (push->skipped ? let_go(link, image, &before, problem)
                          : transfer(link, image, crc, keep, &before, push, problem)) &&
           settle_and_verify(link, image, crc, push, problem);
}

bool link_push(struct link *link, const struct link_image *image, struct link_push *push,
               struct problem *problem) {
    struct link_push unused = {0};
    push = push != NULL ? push : &unused;
    *push = (struct link_push){0};
    if (!check_image(link, image, problem)) {
        return false;
    }
    const int retries = link->retries;
    const int reconnects = link->reconnects;
    push->blocks = image->size / WIRE_BLOCK;
    link->bound_ms = link_push_bound_ms(link, image->size);
    link->deadline_us = link_now(link) + link->bound_ms * 1000;
    const bool done = push_all(link, image, push, problem);
    link->deadline_us = UINT64_MAX;
    push->retries += link->retries - retries;
    push->reconnects = link->reconnects - reconnects;
    return done;
}
