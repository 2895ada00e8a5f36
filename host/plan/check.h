/*
 * Plan `cartridge`: an image that checks the cartridge it is on, from code in the console's RAM, and tells
 * through the slate's value what it found, one item after the other. Here: what an item says, which items a
 * round has, and what makes an image one that can be checked.
 *
 * An item is the slate's 20 bits, and the five hexadecimal digits that the picture shows as well:
 *     kind (4 bits)  place (8)  what (8)
 * The item last worked out is shown until the next one is there. A round goes through all items of a good
 * cartridge; items that only a bad one has follow the item that they belong to.
 *
 * Every page (256 bytes) of the image says by itself that it is right: with the page's number in the image as
 * p, a CRC-16 (polynomial $1021, most significant bit first, nothing complemented; catalogue name
 * CRC-16/XMODEM when it begins with 0) that begins with check_crc_start(p) ends with 0, and the sum of its
 * bytes and p is 0 modulo 256. So a page that shows in another's place is wrong too.
 */
#ifndef SLOTJIG_PLAN_CHECK_H
#define SLOTJIG_PLAN_CHECK_H

#include "base/scheme.h"
#include "plan/plan.h"

enum check_kind {
    CHECK_START,    /* place: the bank that came up at the last start; what: scheme | 8 with RAM */
    CHECK_PAGE,     /* place: page p; what: 0 good, else 1 its CRC is wrong, 2 its sum, 3 both */
    CHECK_CRC_HIGH, /* of a bad page; what: high byte of what its CRC ends with */
    CHECK_CRC_LOW,  /* likewise the low byte */
    CHECK_SUM,      /* likewise the sum, p included */
    CHECK_BYTE, /* of a bad page, in the second round; what: place in the page of the one byte that, were it
                   another, would make CRC and sum right */
    CHECK_XOR,  /* with it; what: the byte read exclusive-or the right one; 0: no single byte explains it, or
                   several do (of one wrong byte in some 900: 219 of 200,000 tried). Of many wrong bytes one
                   page in 257 is told as of a single one [A: 256 places, each fits once in 65,536] */
    CHECK_HOTSPOT, /* place: manner (enum check_manner) * 8 + bank that the hotspot should select; what: mask
                      of the banks from which it did not */
    CHECK_NEIGHBOUR, /* place: 0..12 the address line in which the address differs from a hotspot, 13 the
                        address below the lowest hotspot, 14 above the highest; what: mask of the hotspots (by
                        number, from the lowest) at whose neighbour a read switched banks, from any bank.
                        Neighbours that are hotspots themselves are left out; bit 0 for places 13 and 14 */
    CHECK_VECTORS, /* place: bank; what: 1 the word at $FFFC is wrong, 2 at $FFFE, 4 at $FFFA; 0: right, and a
                      start through the one at $FFFC came back (not tried in a bank that has shown a wrong
                      page in this round) */
    CHECK_RAM, /* place: background's number; what: mask (bit n of element n, 1 to 5) of the March elements
                  with a wrong read */
    CHECK_RAM_CELL, /* of bad RAM; place: cell (0..127) of the round's first wrong read; what: read
                       exclusive-or right */
    CHECK_RAM_WHEN, /* of bad RAM; place: background * 16 + element of that read; what: wrong reads in this
                       round, 255 for more */
    CHECK_QUIET,    /* place: enum check_quiet; what: mask of the data lines that read wrong */
    CHECK_ROUND,    /* place, what: high and low byte of the number of rounds finished (modulo 65536) */
    CHECK_ERRORS,   /* place, what: wrong items since the start, 65535 for more */
    CHECK_KINDS
};

enum check_manner {
    CHECK_READ,          /* LDA absolute */
    CHECK_WRITE,         /* STA absolute */
    CHECK_INDEXED_READ,  /* LDA absolute,X over a page's end: the extra read cycle is at the hotspot */
    CHECK_INDEXED_WRITE, /* STA absolute,X: likewise */
    CHECK_MANNERS
};

/* What is looked at with A12 = 0, while the cartridge should leave the bus alone. */
enum check_quiet {
    CHECK_QUIET_RAM,   /* the console's RAM reads back as written */
    CHECK_QUIET_PORTS, /* a port with its direction set to output reads back what was written (B: only bits
                          that no switch pulls) */
    CHECK_QUIET_TIMER, /* the timer that ends the window, read again and again, goes down by ones */
    CHECK_QUIET_OPEN, /* D5-D0 of the TIA's inputs keep what was on the bus [P]: told, never a fault by itself
                       */
    CHECK_QUIETS
};

/* The place of a CHECK_START that tells of work which took too long: it counts as an error, and is the first
 * one. */
enum { CHECK_LATE = 0xFF };

enum { CHECK_BACKGROUNDS = 8, CHECK_ELEMENTS = 6, CHECK_NEIGHBOURS = 15, CHECK_ITEMS_MAX = 512 };
/* $00, $55, $33, $0F, $FF, $AA, $CC, $F0. */
extern const uint8_t check_backgrounds[CHECK_BACKGROUNDS];

struct check_item {
    enum check_kind kind;
    uint8_t place, what;
};
uint32_t check_pack(struct check_item item); /* 20 bits */
struct check_item check_unpack(uint32_t value);

/* scheme: enum wire_scheme. Not 2K with RAM: its check does not fit. */
bool check_plan(int scheme, bool ram, enum standard standard, struct plan **plan, struct problem *problem);
/* Items of a round on a good cartridge, in the order in which they come; `what` is the good answer (of
 * CHECK_START the scheme, of ROUND and ERRORS not known: 0). Returns how many; list: CHECK_ITEMS_MAX. */
size_t check_items(const struct cart_check *check, struct check_item *list);
/* Pages whose bytes can be read: with RAM not the first one of a bank. */
bool check_page_shows(const struct cart_check *check, int page);

uint16_t check_crc(uint16_t crc, const uint8_t *bytes, size_t count);
uint16_t check_crc_start(int page);
/* The register a byte of 0 earlier. So what one wrong byte's bits have become is undone: run back from a
 * page's end, they come out in the upper half, with 0 in the lower, where the byte stands. */
uint16_t check_crc_back(uint16_t crc);
/* Sets four bytes of a page (at `place`, four in a row) so that CRC and sum come out right. */
void check_seal(uint8_t bytes[SCHEME_PAGE], int page, int place);

/* Where each bank carries its own number, for what asks which one is selected. */
enum { CHECK_BANK_AT = 0x1FEF };

/* "page", "hotspot" ... */
const char *check_kind_name(enum check_kind kind);

#endif
