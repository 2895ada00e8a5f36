/*
 * The host's end of the wire: what a board is asked, with every wait bounded, retries, and a push that
 * survives a reconnect. Never prints.
 */
#ifndef SLOTJIG_LINK_LINK_H
#define SLOTJIG_LINK_LINK_H

#include "base/problem.h"
#include "link/transport.h"
#include "slotjig/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct link_facts { /* what hello said */
    int version;
    int firmware_major, firmware_minor;
    uint32_t capabilities;
    size_t payload_max, block, image_max;
    int window;
    char serial[2 * WIRE_SERIAL + 1]; /* hexadecimal, capitals */
};

struct link_status {
    enum wire_state state;
    uint32_t generation, crc;
    size_t size; /* bytes; 0: nothing stored */
    enum wire_scheme scheme;
    unsigned flags;
    enum wire_select select;
    int step;
    enum wire_start start;
    bool supply;
    uint32_t uptime_ms, bad_frames;
};

struct link_watch { /* see WIRE_WATCH */
    bool supply;
    int age_ms; /* -1: not a whole second yet */
    uint32_t cycles, resets, vsyncs, mailbox, missed;
    uint16_t high, low;
    bool echoed_low, echoed_high, echoed_step;
    uint8_t vector_low, vector_high, step;
    int traced;
    uint16_t trace[WIRE_TRACE];
};

struct link_image {
    const uint8_t *bytes;
    size_t size; /* of the scheme */
    enum wire_scheme scheme;
    unsigned flags;
};

struct link_push { /* how a push went */
    size_t blocks, sent,
        kept; /* blocks in all, sent (again ones counted again), left as the board had them */
    uint64_t bytes_out, bytes_in;     /* on the wire, BEGIN to COMMIT's reply */
    uint64_t compare_out, compare_in; /* finding out what the board has */
    uint64_t verify_out, verify_in;   /* reading back */
    int retries, reconnects;
    uint64_t took_us;      /* BEGIN to COMMIT's reply */
    enum wire_start start; /* how the console came to run it */
    bool skipped;          /* the board had this very image already: nothing was sent */
};

struct link_options {
    /* First wait for a reply, default 250; doubled at each retry up to four times that. What a slow line
     * takes for the bytes under way comes on top. */
    int reply_ms;
    int commit_ms;    /* how long BEGIN and COMMIT are asked for: the flash may take its time; default 8000 */
    int retries;      /* of one message, and of a push without a new block; default 5 */
    int reconnect_ms; /* wait for a lost board, default 5000; 0: do not */
    bool read_back;   /* default true: read the whole image back after a push and compare */
    bool whole;       /* send every block, even those the board has */
    int hand_over_ms; /* wait for the console to take the image, default 2000 */
    void (*progress)(void *user, size_t blocks_done, size_t blocks); /* may be NULL */
    void (*log)(void *user, int level, const char *text);            /* the board's lines; may be NULL */
    void *user;
};
void link_defaults(struct link_options *options);

struct link;
/* Says hello. Takes the transport over: link_close() closes it, and so does a failure. PROBLEM_BENCH: silent,
 * not a slotjig board, a protocol version that is too old or too new (says which end to renew). Takes at most
 * the waits of one message (see link_push_bound_ms()); on a line that takes no bytes, commit_ms more for each
 * time that it is asked. */
bool link_open(const struct transport *transport, const struct link_options *options, struct link **link,
               struct problem *problem);
void link_close(struct link *link);
const struct link_facts *link_facts(const struct link *link);

/* All or nothing: true means that the board holds exactly this image (its CRC, and read back where asked) and
 * serves it; push->start says whether the console took it. False: the board holds the old image or the new
 * one, whole; the text says what happened and which. Takes at most link_push_bound_ms(). */
bool link_push(struct link *link, const struct link_image *image, struct link_push *push,
               struct problem *problem);
/*
 * The longest that a push of that size can take, whatever the board and the line do. With
 *     ask     = the waits of one message: reply_ms, doubled up to 4 * reply_ms, `retries` + 1 times
 *     line    = ten times what the line takes for the image's frames and their acknowledgements (0 where the
 *               line is fast)
 * it is
 *     2 * commit_ms + hand_over_ms + line + (retries + 1) * (ask + reconnect_ms)
 * after which every wait is cut short and the push ends with a problem.
 */
uint64_t link_push_bound_ms(const struct link *link, size_t size);
bool link_status(struct link *link, struct link_status *status, struct problem *problem);
bool link_watch(struct link *link, struct link_watch *watch, struct problem *problem);
bool link_select(struct link *link, enum wire_select mode, int step, struct problem *problem);
/* Values for the console to show in turn, 24 bits each. `first` is the first one's place in the stream;
 * stream numbers are the caller's, a new one for each run and each image over one link. The board takes what
 * it has room for, at most WIRE_VALUES_MAX at once; count 0 only asks. PROBLEM_BENCH: the board's firmware is
 * too old for it (facts' capabilities tell before), the image has no mailbox, a select or another image ended
 * the stream. */
struct link_queue {
    uint32_t next;  /* place of the first value that the board lacks: what comes next begins there */
    uint32_t taken; /* place of the first value that the console has not read */
    int room;
};
bool link_values(struct link *link, uint8_t stream, uint32_t first, const uint32_t *values, size_t count,
                 struct link_queue *queue, struct problem *problem);
/* Any length; read in pieces. */
bool link_read(struct link *link, uint32_t offset, uint8_t *bytes, size_t count, struct problem *problem);
bool link_abort(struct link *link, struct problem *problem);
bool link_log_level(struct link *link, int level, struct problem *problem);
bool link_loader(struct link *link, struct problem *problem);

/* The scheme of an image by its size alone (2, 4, 8, 16, 32 KiB); false for other sizes. */
bool link_scheme(size_t size, enum wire_scheme *scheme);
const char *link_scheme_name(enum wire_scheme scheme); /* "2K" ... "F4" */
bool link_scheme_from_name(const char *name, enum wire_scheme *scheme);

#endif
