/* The host's end of a reader's messages (slotjig/wire.h). Over a link that link_open() made. */
#ifndef SLOTJIG_LINK_READER_H
#define SLOTJIG_LINK_READER_H

#include "link/link.h"

struct link_task {
    enum wire_task task;
    int scheme;
    bool ram;
    int bank;
    uint16_t first, count;
    uint32_t option;
};

struct link_task_state {
    enum wire_task task;
    enum wire_task_state state;
    uint32_t done, of, size, took_us;
    enum wire_supply trouble;
    uint32_t cycle_ps;
    int own;
};

/* True where the board at the other end is a reader. */
bool link_is_reader(const struct link *link);
bool link_supply(struct link *link, bool on, struct problem *problem);
/* Starts the task, waits for its end (at most wait_ms) and fetches its result. result: room bytes; *size what
 * came. PROBLEM_BENCH: supply overloaded or missing, the task failed, another board than a reader, too long.
 */
bool link_task(struct link *link, const struct link_task *task, int wait_ms, uint8_t *result, size_t room,
               size_t *size, struct link_task_state *state, struct problem *problem);

#endif
