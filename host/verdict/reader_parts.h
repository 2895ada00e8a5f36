/* How what a reader saw is worked out, part by part. Inside verdict/reader*.c only. */
#ifndef SLOTJIG_VERDICT_READER_PARTS_H
#define SLOTJIG_VERDICT_READER_PARTS_H

#include "verdict/reader.h"
#include "verdict/supposed.h"

struct reader_work {
    const struct reader_seen *seen;
    const uint8_t *image; /* NULL: none to compare with */
    const struct reader_limits *limits;
    struct reader_result *result;
    /* Places in the image that did not stay right while they were timed, though they were quick at other
     * times: all but the first few are only counted. */
    uint16_t odd[256];
    size_t odd_count;
    int explanations;    /* told so far */
    bool mask_unsteady;  /* bits that came and went have their finding: they say nothing here */
    bool allow_unsteady; /* no more of them than the limits allow: likewise, but they excuse no other byte */
    bool no_quiet;       /* what is held with A12 = 0 is a fault by itself, and left out here */
    bool contact_told;   /* a contact comes and goes: times, RAM and letting go say little then */
    bool bytes_told;     /* what is wrong with the bytes has its finding, or nothing is */
    bool banks_told, quiet_told, ram_told; /* likewise */
};

/* ---- findings ---- */

/* NULL when there is no more room. */
struct finding *reader_add(struct reader_work *work, enum finding_kind kind, int bit, int reg);
const char *reader_advice(enum finding_kind kind);
/* The verdict is fail at least. */
void reader_fails(struct reader_work *work);
/* Inconclusive, unless it fails already. */
void reader_doubt(struct reader_work *work);
/* "bank 1, $1F3A" of a byte's place in the image; without the bank where there is one only. */
enum { READER_PLACE = 32 };
void reader_place(int scheme, size_t offset, char text[READER_PLACE]);

/* ---- bytes ---- */

/* Bytes that are not what a supposition predicts. */
enum { MISSES_MAX = 8 };
struct misses {
    uint32_t count;
    uint16_t at[MISSES_MAX];   /* places in the image */
    uint8_t right[MISSES_MAX]; /* what was predicted */
};

/* Whether READ reads it: of a cartridge with RAM the window's first page is RAM, which hides the first page
 * of a bank of 4 KiB, and of 2 KiB the first page of the lower half only. */
bool reader_reads(const struct reader_seen *seen, size_t offset);
bool reader_reads_lower(const struct reader_seen *seen, size_t offset);
/* Whether it is the image's byte, in these bits: of a hotspot its own bank's or the one it selects [P]. */
bool reader_is_right(const struct reader_work *work, size_t offset, uint8_t bits);
/* So slow, by the map, that READ may have sampled it too early: what it read says nothing of lines and banks.
 */
bool reader_is_late(const struct reader_seen *seen, size_t offset);
/* Most addresses have a time beyond all that can be measured, and steadily so: whatever came anywhere is what
 * had come before. */
bool reader_is_hopeless(const struct reader_seen *seen);
/* Wrong, steadily, and not for being late. */
bool reader_is_wrong(const struct reader_work *work, size_t offset);
/* Counts wrong bytes against the image and notes the first. */
void reader_compare(struct reader_work *work);
/* Nothing answers at all. */
bool reader_is_dead(const struct reader_work *work);
/* Wrong bytes that no line and no bank explains: bytes, pages, another image, nothing. */
void reader_bytes(struct reader_work *work);
/* Address lines (mask) that change nothing: the halves are the same. */
uint16_t reader_alias(const struct reader_seen *seen);
/* Each of a few wrong bytes; number: the explanation that they belong to. */
void reader_tell_misses(struct reader_work *work, const struct misses *misses, int number);
/* What the bytes look like by themselves. */
void reader_guess(struct reader_work *work);

/* ---- suppositions ---- */

/* Whether READ, HOTSPOTS and QUIET would have given what was seen, but for so many bytes. */
bool reader_agrees(const struct reader_work *work, const struct supposition *what, enum floats floats,
                   uint32_t most, struct misses *misses);
/* Whether RAM would have failed just so. */
bool reader_ram_agrees(const struct reader_work *work, const struct supposition *what, enum floats floats);
/* The simplest that agree are told. */
void reader_explain(struct reader_work *work);

enum { SUPPOSITIONS_MAX = 1024 };
size_t reader_line_suppositions(int scheme, struct supposition *list);
size_t reader_bank_suppositions(const struct reader_work *work, struct supposition *list, size_t room);
/* Where several hotspots are wrong: what a hit of each selected, whatever bank was there before. False:
 * nothing is wrong with them, or it cannot be told. */
bool reader_hotspots_say(const struct reader_work *work, struct supposition *what);
void reader_name(const struct reader_work *work, const struct supposed_name *name, char *text, size_t size);

/* ---- the rest ---- */

/* Bytes that come later than READ takes them are told by their times, and by nothing else. */
void reader_late(struct reader_work *work);
void reader_contact(struct reader_work *work);
/* Of addresses that did not stay right while they were timed. */
void reader_contact_in_time(struct reader_work *work);
/* Whether HOTSPOTS says something: not where the address that tells banks apart is slow, or a contact comes
 * and goes. */
bool reader_hotspots_tell(const struct reader_work *work);
void reader_hotspots(struct reader_work *work);
void reader_quiet(struct reader_work *work);
/* Finds those addresses. */
void reader_odd_times(struct reader_work *work);
void reader_times(struct reader_work *work);
void reader_ram(struct reader_work *work);

#endif
