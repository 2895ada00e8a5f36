/*
 * Every transport, each with a virtual board behind it, in one table, so that the same tests run over all of
 * them. A row makes a rig: a board, whatever stands between, and the transport to it.
 */
#ifndef SLOTJIG_TESTS_LINK_TRANSPORTS_H
#define SLOTJIG_TESTS_LINK_TRANSPORTS_H

#include "core/store.h"
#include "link/transport.h"
#include "virtual/board.h"

#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>

struct rig {
    struct virtual_board_options options; /* set before start; flash points to `flash` */
    struct virtual_board *board;
    uint8_t flash[STORE_BYTES];
    pthread_mutex_t lock; /* of the board, where a thread serves it */
    void *more;           /* the row's own */
};

struct transport_row {
    const char *name;
    bool real_time; /* its clock is the wall's */
    /* NULL, or why it cannot run here. May be NULL itself. */
    const char *(*missing)(void);
    /* Makes the board and a transport to it. */
    bool (*start)(struct rig *rig, struct transport *transport, struct problem *problem);
    /* After the transport was closed. Frees the board. */
    void (*stop)(struct rig *rig);
    /* The board goes from the transport and is there again at once or soon. NULL: this row cannot. */
    void (*unplug)(struct rig *rig);
};
extern const struct transport_row transport_rows[];
extern const size_t transport_row_count;

/* Defaults for the board and its flash, erased. */
void rig_prepare(struct rig *rig);
/* One bus cycle of a console that drives nothing. */
uint8_t rig_slot(struct rig *rig, uint16_t address);
/* Every bank's every byte as the slot shows it, hotspots left out. */
bool rig_serves(struct rig *rig, const uint8_t *image, size_t size);

#endif
