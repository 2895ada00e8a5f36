/*
 * The virtual bench with its board in the slot: console and board run together, and the wire to the board is
 * a transport like any other. While the host waits for the board, the console goes on.
 */
#ifndef SLOTJIG_COMMANDS_VIRTUAL_STAND_H
#define SLOTJIG_COMMANDS_VIRTUAL_STAND_H

#include "base/problem.h"
#include "capture/video.h"
#include "link/transport.h"
#include "virtual/bench.h"

#include <stdbool.h>

struct virtual_stand;

/* Board with nothing stored, console switched on over it. */
bool virtual_stand_open(const struct virtual_options *options, struct virtual_stand **stand,
                        struct problem *problem);
/* The same with a plain cartridge in the slot that has this image: no board, and no wire. */
bool virtual_stand_insert(const struct virtual_options *options, int scheme, bool ram, const uint8_t *image,
                          struct virtual_stand **stand, struct problem *problem);
/* That cartridge gets another image of the same scheme; the console is switched off and on. */
void virtual_stand_write(struct virtual_stand *stand, const uint8_t *image);
void virtual_stand_close(struct virtual_stand *stand);

/* The wire; to be closed before the stand. */
bool virtual_stand_transport(struct virtual_stand *stand, struct transport *transport,
                             struct problem *problem);

/* Off, a moment, on: a console that starts anew over the same board. */
void virtual_stand_power_cycle(struct virtual_stand *stand);

/* Lets about so much time pass on console and board. */
void virtual_stand_wait(struct virtual_stand *stand, int ms);

/* See virtual_run_ahead(). The wire and the two above wait until the console stands still. */
bool virtual_stand_run_ahead(struct virtual_stand *stand, bool threads, struct problem *problem);

/* What the grabber sees; a view whose close() does nothing. */
void virtual_stand_video(struct virtual_stand *stand, struct video_source *source);
void virtual_stand_notes(const struct virtual_stand *stand, struct virtual_notes *notes);

#endif
