/* Which image the slot shows, and how the console gets from one to the next. Part of board.c's inside. */
#ifndef SLOTJIG_CORE_HANDOVER_H
#define SLOTJIG_CORE_HANDOVER_H

#include "core/board.h"

/* Looks for the newest image and serves it, or the idle picture. */
void handover_power_on(struct board *board);
/* The store has a new image: the next poll starts it. */
void handover_due(struct board *board);
void handover_poll(struct board *board);
/* Serves the store's image now, if it is not yet. */
void handover_force(struct board *board);
/* Whether the image that is served, or will be once the console takes it, has a mailbox. */
bool handover_mailbox(const struct board *board);
/* WIRE_SELECT. */
enum wire_status handover_select(struct board *board, uint8_t mode, uint8_t step);

#endif
