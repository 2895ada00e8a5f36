/* After COMMIT: the hand-over's end, and the image read back. */
#include "link/inside.h"

#include <string.h>

enum { POLL_MS = 40 /* some fields of the console; STATUS is a few bytes */ };

static bool not_this(const struct link *link, const struct link_status *status, uint32_t crc,
                     struct problem *problem) {
    char who[LINK_WHO];
    return problem_set(
        problem, PROBLEM_BENCH,
        "%s took the image (CRC %08X), and holds another one now (CRC %08X, %zu bytes): another "
        "program has pushed, or the board's flash fails; push again",
        link_who(link, who), crc, status->crc, status->size);
}

/* A BEGIN that was asked twice may have reached the board after COMMIT and started another push. */
static bool clear_away(struct link *link, bool pushed, struct link_status *status, struct problem *problem) {
    return !pushed || status->state != WIRE_RECEIVING ||
           (link_abort(link, problem) && link_status(link, status, problem));
}

bool link_settle(struct link *link, const struct link_image *image, uint32_t crc, bool pushed,
                 enum wire_start *start, struct problem *problem) {
    const uint64_t until = link_until(link, link->options.hand_over_ms);
    struct link_status status;
    for (;;) {
        if (!link_status(link, &status, problem) || !clear_away(link, pushed, &status, problem)) {
            return false;
        }
        if (!link_holds(&status, image, crc)) {
            return not_this(link, &status, crc, problem);
        }
        if (status.state != WIRE_HANDING) {
            *start = status.start;
            return true;
        }
        if (link_left_ms(link, until) == 0) {
            char who[LINK_WHO];
            return problem_set(
                problem, PROBLEM_BENCH,
                "%s still waits after %d ms for the console to take the image; switch the console off and on",
                link_who(link, who), link->options.hand_over_ms);
        }
        link_pause(link, POLL_MS);
    }
}

bool link_verify(struct link *link, const struct link_image *image, struct problem *problem) {
    uint8_t block[WIRE_BLOCK];
    for (size_t at = 0; at < image->size; at += WIRE_BLOCK) {
        if (!link_read(link, (uint32_t)at, block, WIRE_BLOCK, problem)) {
            return false;
        }
        size_t i = 0;
        while (i < WIRE_BLOCK && block[i] == image->bytes[at + i]) {
            i++;
        }
        if (i < WIRE_BLOCK) {
            char who[LINK_WHO];
            return problem_set(
                problem, PROBLEM_BENCH,
                "%s took the image, but reads back $%02X instead of $%02X at $%04zX; push again, "
                "and if it happens again change the board",
                link_who(link, who), block[i], image->bytes[at + i], at + i);
        }
    }
    return true;
}
