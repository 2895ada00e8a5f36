/*
 * A cartridge under test: image, banks, RAM, and what is broken in it, at the level of its contacts and in
 * nanoseconds. The virtual console, the virtual reader and the emulated chip (as wasm32) all have this one in
 * their slot. Freestanding; no allocation: the caller owns struct cart_model (large; keep it off the stack).
 *
 * What the contacts do [P throughout]
 * An access begins when the address from outside changes, and lasts until it changes again.
 * Address: two lines shorted read low when either is low; a line that nobody drives (open) reads high.
 * Data: what comes out is right access_ns after the access began (per page, see slow); until then the data
 * lines show what they showed before. With A12 low it lets go after release_ns. Where two drive one line, low
 * wins; one that nobody drives floats.
 * Hotspots: an address that stands still for CART_STEADY_NS selects, within the access: the hotspot's own
 * byte is already the new bank's. One that is only passed through does nothing. There is no write line in the
 * slot, so reads and writes select alike.
 * RAM: a write is any access to $1000-$107F that lasts CART_STEADY_NS; the cell takes, when the access is
 * over, what was last driven on the data lines during it, or what they floated at.
 * Faults of lines are the cartridge's own: what the console's chips say to each other with A12 low is not
 * touched by them, only by held_low, held_high, a late release, and a cartridge that does not see A12 fall.
 * A fault is in here, never in the answer.
 */
#ifndef SLOTJIG_VIRTUAL_CART_MODEL_H
#define SLOTJIG_VIRTUAL_CART_MODEL_H

#include "base/scheme.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    CART_RAM_FAULTS_MAX = 16,
    CART_SHORTS_MAX = 4,
    CART_SLOW_MAX = 8,
    CART_BYTES_MAX = 8,
    CART_ACCESS_NS = 150, /* of a good one, unless set otherwise */
    CART_RELEASE_NS = 40,
    CART_STEADY_NS = 100, /* [P] */
    CART_CYCLE_NS = 838,  /* of a console: 3 clocks of 3.579545 MHz [A] */
    CART_LIMIT_NS = 410   /* from the address to where the console takes the data [M] */
};

/* Faults of RAM by van de Goor's classes (A. J. van de Goor, "Testing Semiconductor Memories", 1991). */
enum cart_ram_kind {
    CART_RAM_STUCK,      /* cell bit always `value` */
    CART_RAM_TRANSITION, /* cell bit cannot go to `value` */
    CART_RAM_INVERSION,  /* a write that changes bit `by` of cell `by_cell` to `when` inverts the bit */
    CART_RAM_IDEMPOTENT, /* likewise, and it becomes `value` */
    CART_RAM_STATE,      /* while bit `by` of cell `by_cell` is `when`, the bit is forced to `value` */
    CART_RAM_NO_CELL,    /* decoder: the address reaches no cell (reads give all ones) [P] */
    CART_RAM_OTHER_CELL, /* decoder: the address reaches cell by_cell instead */
    CART_RAM_BOTH_CELLS, /* decoder: the address reaches its cell and by_cell (reads: AND of both) [P] */
    CART_RAM_KINDS
};
struct cart_ram_fault {
    uint8_t kind; /* enum cart_ram_kind */
    uint8_t cell, bit, value;
    uint8_t by_cell, by, when;
};

struct cart_faults {
    uint16_t address_open;              /* mask: A0..A12 not connected */
    uint16_t address_low, address_high; /* masks: stuck */
    uint8_t address_shorts;             /* pairs in use */
    uint8_t address_short[CART_SHORTS_MAX][2];
    uint8_t data_low, data_high, data_open; /* masks; an open one floats outside, and reads high inside */
    uint8_t data_shorts;
    uint8_t data_short[CART_SHORTS_MAX][2];
    uint8_t slow_pages;
    struct cart_slow {
        uint8_t page; /* of the image */
        uint16_t ns;  /* access time there */
    } slow[CART_SLOW_MAX];
    uint8_t bytes; /* wrong bytes of the image */
    struct cart_byte {
        uint16_t offset;
        uint8_t exclusive_or;
    } byte[CART_BYTES_MAX];
    int8_t selects[SCHEME_BANKS_MAX]; /* hotspot t selects this bank; -1: none. virtual default: t */
    int8_t also_selects;              /* bank selected by an access to also_at as well; -1: none */
    uint16_t also_at;
    bool no_ram;
    uint8_t ram_faults;
    struct cart_ram_fault ram[CART_RAM_FAULTS_MAX];
    uint8_t held_low, held_high; /* data lines that it holds while A12 = 0 */
    uint16_t release_ns;         /* 0: CART_RELEASE_NS */
    uint16_t access_ns;          /* 0: CART_ACCESS_NS */
    uint32_t late_us;            /* after its supply comes up it answers nothing for so long */
    uint16_t loose_address;      /* lines whose contact comes and goes: open in a share of the accesses */
    uint8_t loose_data;
    uint32_t loose_rate; /* of 2^32 */
    uint8_t first_bank;  /* that comes up, modulo the scheme's banks */
    bool first_bank_random;
};
/* A good cartridge, of whatever scheme: the last bank comes up. */
void cart_faults_none(int scheme, struct cart_faults *faults);

struct cart_model {
    uint8_t rom[32768]; /* with its wrong bytes; 2 KiB twice over */
    uint8_t cells[SCHEME_RAM];
    int scheme;
    bool has_ram;
    struct cart_faults faults;
    uint64_t random;
    uint16_t access_ns[SCHEME_PAGES_MAX];
    /* Nothing is wrong that a whole cycle of a console would not find in rom and selects: then the cycle is a
     * look-up, apart from addresses below ram_end, from hot_from on, and also_at (offsets; 4096: none). */
    bool quick;
    uint16_t hot_from, ram_end, also_at;
    /* now */
    bool powered;
    uint64_t powered_ns, now_ns;
    uint8_t bank;
    uint16_t address;       /* as driven from outside */
    uint16_t seen;          /* as it arrives inside */
    uint16_t loose_address; /* lines open in this access */
    uint8_t loose_data;
    uint64_t changed_ns; /* when the access began */
    bool selected;       /* the hotspot, if it is one, has acted */
    uint8_t before;      /* what the data lines showed then */
    uint64_t fell_ns;    /* when it saw A12 fall, and what it drove then */
    uint8_t fell_drives, fell_byte;
    uint8_t driven, data;   /* from outside: mask and level */
    uint8_t wrote, written; /* likewise, of all that was driven since the access began */
    uint8_t floating;       /* as last told */
};

/* Copies image (scheme_bytes()) and faults. Powered off. */
void cart_model_init(struct cart_model *model, int scheme, bool ram, const uint8_t *image,
                     const struct cart_faults *faults, uint64_t seed);
/* RAM comes up with anything in it. */
void cart_model_power(struct cart_model *model, uint64_t now_ns, bool on);
/* From now on the outside drives these levels. now_ns never goes back. */
void cart_model_drive(struct cart_model *model, uint64_t now_ns, uint16_t address, uint8_t driven,
                      uint8_t data);
/* What is on the data lines at that time (not before the last drive); floating: the level of a line that
 * nobody drives, from then on until another is told. */
uint8_t cart_model_data(struct cart_model *model, uint64_t now_ns, uint8_t floating);

/* A whole bus cycle of a console, data taken CART_LIMIT_NS after the address: the two above in one, and
 * quick; its clock is its own, CART_CYCLE_NS a call. driven: lines of `bus` that the console's side drives;
 * the others float at what `bus` has. Returns what is on the data lines. A quick cartridge need not be told
 * of cycles with A12 = 0. */
uint8_t cart_model_bus(struct cart_model *model, uint16_t address, uint8_t driven, uint8_t bus);
/* The same with all lines driven (write), or none. */
uint8_t cart_model_cycle(struct cart_model *model, uint16_t address, uint8_t bus, bool write);
/* Lets time go by without a bus cycle. */
void cart_model_wait(struct cart_model *model, uint64_t ns);

/* A read cycle of a console with A12 = 1; for where there are a million of them a second. */
static inline uint8_t cart_model_read(struct cart_model *model, uint16_t address, uint8_t bus) {
    const unsigned at = address & 0xFFF;
    if (model->quick && at >= model->ram_end && at < model->hot_from && at != model->also_at) {
        return model->rom[(unsigned)model->bank << 12 | at];
    }
    return cart_model_bus(model, address, 0, bus);
}

#endif
