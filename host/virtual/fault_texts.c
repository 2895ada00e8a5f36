/* Every fault the bench has, as the texts that ask for it. */
#include "virtual/bench.h"

#include <stdio.h>

const struct fault_spelling virtual_fault_spellings[] = {
    {"bit-low=PF1.3", "a playfield bit stuck low: PF0.4-7, PF1.0-7, PF2.0-7"},
    {"bit-high=PF0.4", "a playfield bit stuck high"},
    {"flaky=PF1.3:low:0.3",
     "a playfield bit stuck low (or high) in a fraction of fields; one fraction a chip"},
    {"couple=PF1.3:PF1.2", "a playfield bit that shows another one's value in place of its own"},
    {"and=PF1.3:PF1.2", "a playfield bit that shows the AND of its value and another one's"},
    {"or=PF1.3:PF1.2", "a playfield bit that shows the OR of its value and another one's"},
    {"order=PF1", "a register drawn in the wrong order: PF0, PF1 or PF2"},
    {"swap=PF0,PF1", "two registers change places"},
    {"mirror-ignored", "the right half always repeats the left (CTRLPF D0 taken as 0)"},
    {"copy-ignored", "the right half always mirrors the left (CTRLPF D0 taken as 1)"},
    {"late=4", "the playfield comes 1-16 colour clocks late against the background; 4 are a cell"},
    {"unconnected=0", "PF0's bit 0-3, which draws nothing on a good chip, draws; or all four: all"},
    {"colour-low=COLUPF.3", "bit 1-7 of COLUPF or COLUBK stuck low: another hue (4-7) or brightness (1-3)"},
    {"colour-high=COLUBK.5", "a bit of a colour register stuck high"},
    {"tia-data=0:low", "data input 0-7 of the TIA stuck low or high: every register gets it wrong"},
    {"cart-data=0:low", "data line 0-7 of the cartridge stuck low or high: the processor runs garbage"},
    {"cart-address=0:low", "address line 0-11 of the cartridge stuck low or high, or 12 low: the cartridge "
                           "answers with other bytes"},
    {"no-console", "the console has its supply, and its processor does nothing"},
    {"no-supply", "the console is off"},
    {"no-video", "the grabber gets no signal"},
    {"frozen=60", "the grabber repeats one frame after this many fields; without a number after 60"},
    {"delay=PF1:2",
     "no fault, a setting: clocks (0-12) from a store to its effect, for CTRLPF, PF0-PF2, COLUPF, "
     "COLUBK, COLUP0 or COLUP1; PF1.3:2 for writes of phase 3 alone, (clock - 68) modulo 4"},
    {"cart-open=A5", "of the cartridge that plan `cartridge` checks, as all that follow: address line A0-A12 "
                     "or data line D0-D7 not connected"},
    {"cart-short=A3:A4", "two address lines, or two data lines, joined: low when either is low"},
    {"cart-slow=1.12:600",
     "a page (bank 0-7, page of it 0-15) that takes this many ns to answer; or all:600"},
    {"cart-byte=$0FF0:$40", "a byte of the image, by its place, with these bits wrong"},
    {"cart-hotspot=1:0", "the hotspot of a bank selects another one, or none"},
    {"cart-also=$1F78:0", "one more address that selects a bank"},
    {"cart-no-ram", "the cartridge's RAM is missing"},
    {"cart-ram=stuck:5.3:low",
     "a bit of its RAM (cell 0-127, bit 0-7) stuck; transition:5.3:high cannot become "
     "high; inversion:5.3:9.1:high is inverted when 9.1 becomes high; "
     "idempotent:5.3:low:9.1:high becomes low then; state:5.3:low:9.1:high is low "
     "while 9.1 is high; no-cell:5, other-cell:5:9, both-cells:5:9 of its decoder"},
    {"cart-hold=D3:low", "a data line held while A12 is low"},
    {"cart-release=600", "ns until it lets go of the data lines after A12 fell"},
    {"cart-late=200", "ms from its supply until it answers"},
    {"cart-loose=A7:0.001", "a contact that is open in a fraction of the accesses; one fraction a cartridge"},
    {"cart-first=0", "no fault: the bank that comes up, or random; the last one otherwise"},
    {"cart-pulled=2.5", "seconds of the bench's time after which it is pulled out"},
    {NULL, NULL},
};

enum { PLAYFIELD_BITS = 20 };

/* In the order of the registers, not of the output. */
static int print_bit(const char *key, size_t position, const char *more, char *text, size_t size) {
    size_t bit = position + 4; /* PF0 begins at D4 */
    return snprintf(text, size, "%s=PF%zu.%zu%s", key, bit / 8, bit % 8, more);
}

static int bit_low(size_t index, char *text, size_t size) {
    return print_bit("bit-low", index, "", text, size);
}

static int bit_high(size_t index, char *text, size_t size) {
    return print_bit("bit-high", index, "", text, size);
}

static int flaky(size_t index, char *text, size_t size) {
    return print_bit("flaky", index / 2, index % 2 == 0 ? ":low:0.3" : ":high:0.3", text, size);
}

/* Of a bit and the next one, the last one and the first. */
static int joined(size_t index, char *text, size_t size) {
    static const char *const keys[] = {"couple", "and", "or"};
    char other[16];
    size_t position = index / 3, next = (position + 1) % PLAYFIELD_BITS + 4;
    snprintf(other, sizeof other, ":PF%zu.%zu", next / 8, next % 8);
    return print_bit(keys[index % 3], position, other, text, size);
}

static int order(size_t index, char *text, size_t size) {
    return snprintf(text, size, "order=PF%zu", index);
}

static int swap(size_t index, char *text, size_t size) {
    static const char *const pairs[] = {"PF0,PF1", "PF0,PF2", "PF1,PF2"};
    return snprintf(text, size, "swap=%s", pairs[index]);
}

static int right_half(size_t index, char *text, size_t size) {
    return snprintf(text, size, "%s-ignored", index == 0 ? "mirror" : "copy");
}

static int late(size_t index, char *text, size_t size) {
    return snprintf(text, size, "late=%zu", index + 1);
}

static int unconnected(size_t index, char *text, size_t size) {
    if (index == 4) {
        return snprintf(text, size, "unconnected=all");
    }
    return snprintf(text, size, "unconnected=%zu", index);
}

static int print_colour(const char *key, size_t index, char *text, size_t size) {
    return snprintf(text, size, "%s=%s.%zu", key, index / 7 == 0 ? "COLUPF" : "COLUBK", index % 7 + 1);
}

static int colour_low(size_t index, char *text, size_t size) {
    return print_colour("colour-low", index, text, size);
}

static int colour_high(size_t index, char *text, size_t size) {
    return print_colour("colour-high", index, text, size);
}

static int tia_data(size_t index, char *text, size_t size) {
    return snprintf(text, size, "tia-data=%zu:%s", index / 2, index % 2 == 0 ? "low" : "high");
}

static int cart_data(size_t index, char *text, size_t size) {
    return snprintf(text, size, "cart-data=%zu:%s", index / 2, index % 2 == 0 ? "low" : "high");
}

static int cart_address(size_t index, char *text, size_t size) {
    return snprintf(text, size, "cart-address=%zu:%s", index / 2, index % 2 == 0 ? "low" : "high");
}

static int console(size_t index, char *text, size_t size) {
    return snprintf(text, size, index == 0 ? "no-console" : "no-supply");
}

static int video(size_t index, char *text, size_t size) {
    static const char *const texts[] = {"no-video", "frozen", "frozen=10"};
    return snprintf(text, size, "%s", texts[index]);
}

bool virtual_fault_text(size_t index, char *text, size_t size) {
    static const struct {
        size_t count;
        int (*print)(size_t index, char *text, size_t size);
    } families[] = {{PLAYFIELD_BITS, bit_low},
                    {PLAYFIELD_BITS, bit_high},
                    {2 * PLAYFIELD_BITS, flaky},
                    {3 * PLAYFIELD_BITS, joined},
                    {3, order},
                    {3, swap},
                    {2, right_half},
                    {16, late},
                    {5, unconnected},
                    {14, colour_low},
                    {14, colour_high},
                    {16, tia_data},
                    {16, cart_data},
                    {25, cart_address},
                    {2, console},
                    {3, video}};
    for (size_t i = 0; i < sizeof families / sizeof families[0]; i++) {
        if (index < families[i].count) {
            families[i].print(index, text, size);
            return true;
        }
        index -= families[i].count;
    }
    return false;
}
