/* The messages: what each asks and how it is answered. Part of board.c's inside. */
#ifndef SLOTJIG_CORE_ANSWER_H
#define SLOTJIG_CORE_ANSWER_H

#include "core/board.h"

/* Room on the wire that the answer to a frame of that type may need. */
size_t answer_room(uint8_t type);
/* Carries a request out and sends at most one frame. board: a struct board. */
void answer(void *board, int port, const struct frame_in *in);
/* Acknowledges the blocks that came on this port. */
void answer_blocks(struct board *board, int port);
/* Encodes and sends; the caller has looked for room. */
void answer_send(struct board *board, int port, uint8_t type, uint8_t sequence, const uint8_t *payload,
                 size_t count);

#endif
