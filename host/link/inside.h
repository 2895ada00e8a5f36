/* Between the files of the wire's client; not for others. */
#ifndef SLOTJIG_LINK_INSIDE_H
#define SLOTJIG_LINK_INSIDE_H

#include "core/frame.h"
#include "link/link.h"

struct link {
    struct transport transport;
    struct link_options options;
    struct link_facts facts;
    bool known;  /* facts are there */
    bool lost;   /* the transport said IO_LOST, and was not opened again */
    bool spoilt; /* something went wrong on the wire: a 0x00 goes before the next frame */
    uint8_t sequence;
    uint64_t line_free_us;        /* when a slow line will have carried all that was sent */
    uint64_t deadline_us;         /* no wait goes beyond it; UINT64_MAX: none */
    uint64_t bound_ms;            /* what was allowed until the deadline */
    uint64_t bytes_out, bytes_in; /* in: once decoded, so that each belongs to the message it came with */
    uint64_t frames_in;
    int retries, reconnects;
    struct frame_decoder decoder;
    uint8_t wire[1 + WIRE_FRAME_MAX];
    uint8_t in[4096];
    size_t in_at, in_count;
};

enum answer {
    ANSWER_GIVEN,  /* with whatever status */
    ANSWER_SILENT, /* none in time */
    ANSWER_LOST    /* the board is gone */
};

struct question {
    uint8_t type;
    const uint8_t *payload;
    size_t count;
    int budget_ms; /* asked again until so much has passed, even when the retries are used up; 0: retries. The
                      flash is at work: the first wait is longer, too */
    void (*behind)(void *user); /* sends more right behind it, the first time it is asked; may be NULL */
    void *user;
};

struct reply {
    uint8_t status; /* a wire_status, or a number that a later version may know */
    size_t count;   /* bytes after the status */
    uint8_t bytes[WIRE_PAYLOAD_MAX];
};

/* ---- frames (frames.c) ---- */
uint64_t link_now(const struct link *link);
/* Now and so many milliseconds, but not beyond the deadline. */
uint64_t link_until(const struct link *link, int ms);
/* When a reply is overdue: so many milliseconds after a slow line has carried what was sent and the longest
 * reply. */
uint64_t link_reply_until(const struct link *link, int ms);
/* What is left until then in whole milliseconds, rounded down, so that nothing outlasts the deadline. */
int link_left_ms(const struct link *link, uint64_t until);
bool link_late(const struct link *link); /* the deadline has passed */
enum io link_send(struct link *link, uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count);
/* The next frame that is no log line. */
enum io link_frame(struct link *link, uint64_t until, struct frame_in *frame);
/* Lets time pass; takes what comes in meanwhile. */
enum io link_pause(struct link *link, int ms);
/* Forgets what is half received. */
void link_flush(struct link *link);

/* ---- questions (ask.c) ---- */
enum answer link_ask(struct link *link, const struct question *question, struct reply *reply);
/* The longest that a question without a budget takes where the line is fast. */
int link_ask_ms(const struct link_options *options);
/* Asks, comes back from a lost board, and takes only WIRE_OK with exactly `wanted` bytes (SIZE_MAX: any). */
bool link_query(struct link *link, const struct question *question, size_t wanted, struct reply *reply,
                struct problem *problem);
/* What a status other than WIRE_OK means, as a problem. */
bool link_refused(const struct link *link, uint8_t type, uint8_t status, struct problem *problem);
bool link_silent(const struct link *link, uint8_t type, struct problem *problem);
/* The deadline has passed. */
bool link_overdue(const struct link *link, struct problem *problem);
const char *link_message_name(uint8_t type);
/* "the board 0123456789ABCDEF (usb)". Static storage of the caller. */
enum { LINK_WHO = 48 };
const char *link_who(const struct link *link, char *text /* LINK_WHO */);

/* ---- connection (connect.c) ---- */
bool link_hello(struct link *link, struct problem *problem);
/* After IO_LOST: the same board again, within reconnect_ms. */
bool link_reconnect(struct link *link, struct problem *problem);

/* ---- parts of a push ---- */
/* A mask of the image's blocks that the board's image has as well (compare.c). */
bool link_same_blocks(struct link *link, const struct link_image *image, uint32_t *same,
                      struct problem *problem);
/* The board serves exactly this image, by reading it back (verify.c). */
bool link_verify(struct link *link, const struct link_image *image, struct problem *problem);
/* Waits for the hand-over's end (verify.c). pushed: by us, just now. */
bool link_settle(struct link *link, const struct link_image *image, uint32_t crc, bool pushed,
                 enum wire_start *start, struct problem *problem);
/* BEGIN to COMMIT (transfer.c). before: what the board held. */
bool link_transfer(struct link *link, const struct link_image *image, uint32_t crc, uint32_t keep,
                   const struct link_status *before, struct link_push *push, struct problem *problem);
bool link_holds(const struct link_status *status, const struct link_image *image, uint32_t crc);

#endif
