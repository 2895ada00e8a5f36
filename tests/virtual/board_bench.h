/*
 * The virtual bench with a board in its slot, and the host's end of the wire to it: the console goes on while
 * the host waits. For tests of the whole way.
 */
#ifndef TESTS_VIRTUAL_BOARD_BENCH_H
#define TESTS_VIRTUAL_BOARD_BENCH_H

#include "link/link.h"
#include "rom/rom.h"
#include "slate/slate.h"
#include "verdict/slot.h"
#include "virtual/bench.h"
#include "virtual/board.h"

struct board_bench {
    struct virtual_board *board;
    struct video_source video;
    struct transport wire;
    struct link *link;
    enum standard standard;
    int lines_least, lines_most; /* of the fields since board_bench_forget() */
    struct problem problem;
};

/* Board with nothing stored, the console switched on over it. fault: one --fault TEXT, or NULL. The bench
 * must not move. */
bool board_bench_open(struct board_bench *bench, enum standard standard, const char *fault);
void board_bench_close(struct board_bench *bench);

void board_bench_run(struct board_bench *bench, int fields);
void board_bench_forget(struct board_bench *bench);

/* Pushes an image; flags as on the wire. */
bool board_bench_push(struct board_bench *bench, const uint8_t *bytes, size_t size, unsigned flags,
                      struct link_push *push);
/* Of the newest of some frames as the grabber gives them. False: none could be read. */
bool board_bench_slate(struct board_bench *bench, int frames, struct slate *slate);
/* Lets so much time pass, and gives the last whole second that was watched. */
bool board_bench_watch(struct board_bench *bench, int ms, struct slot_seen *seen);

#endif
