/*
 * The session's feed over a board: values that the judge owes go to the board, which puts one after the other
 * into the mailbox.
 */
#ifndef SLOTJIG_COMMANDS_BOARD_FEED_H
#define SLOTJIG_COMMANDS_BOARD_FEED_H

#include "commands/session.h"
#include "link/link.h"

#include <stdbool.h>
#include <stdint.h>

struct board_feed {
    struct link *link;
    uint8_t stream;
    uint32_t next; /* place of the first value that the board lacks */
};

/* Whether the plan's console can be told what to show: it counts, and the board knows how. link may be NULL.
 */
bool board_feed_possible(const struct plan *plan, const struct link *link);
/* The feed must outlive the session. stream: another one for each image that is pushed over the link. */
struct session_feed board_feed_start(struct board_feed *feed, struct link *link, uint8_t stream);

#endif
