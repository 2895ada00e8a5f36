/*
 * The DMA channels between the slot's PIO programs. Data sheet 2.5: a channel that is written to through a
 * register whose name ends in TRIG starts; CHAIN_TO starts another one when it has finished.
 *
 *   SAMPLE  word of `read`, an address -> BYTE's read address; that starts
 *   BYTE    that byte -> FIFO of `put`
 *   STEADY  word of `steady`, an address -> LOOKUP's read address; that starts
 *   LOOKUP  an instruction out of slot_memory.hotspots -> `read`, which carries it out at once; starts
 *   EVENT   the low half of LOOKUP's read address -> slot_memory.events
 *   STORE   two words of `write` in turn -> LANES' read address and write address; that starts
 *   LANES   two words -> the eight lanes of one byte of the cartridge's RAM
 *   AGAIN   SAMPLE, STEADY and STORE count down from 2^32 - 1; the one that gets to 0 starts this one, which
 *           starts all three (those that run do not notice)
 */
#include "rp2040/dma.h"
#include "rp2040/slot_parts.h"
#include "rp2040/slot_programs.h"

enum { SAMPLE = DMA_SLOT_FIRST, BYTE, STEADY, LOOKUP, EVENT, STORE, LANES, AGAIN, CHANNELS };
_Static_assert(CHANNELS - 1 <= DMA_SLOT_LAST, "more channels than the slot has");

/* 2.5.3.1, 2.5.7 */
#define DMA_AL1_WRITE(channel) (DMA_READ(channel) + 0x18u)
#define DMA_AL2_READ(channel) (DMA_READ(channel) + 0x28u) /* after it the write address, which starts */
#define DMA_AL3_READ_TRIG(channel) (DMA_READ(channel) + 0x3Cu)
#define DMA_MULTI_TRIGGER 0x50000430u
enum {
    DMA_FIRST = 1 << 1, /* high priority */
    DMA_HALF = 1 << 2,
    DMA_WORD = 2 << 2,
    DREQ_ALWAYS = 0x3F,
    DREQ_STEADY = 6, /* PIO0 RX2 */
    DREQ_READ = 12,  /* PIO1 RX0 */
    DREQ_WRITE = 14  /* PIO1 RX2 */
};
#define FOR_EVER 0xFFFFFFFFu

/* 2.1.1: the DMA goes before the processor where both want the same memory. */
#define BUS_PRIORITY 0x40030000u
enum { BUS_DMA_READ = 1 << 8, BUS_DMA_WRITE = 1 << 12 };

static const uint32_t again = 1 << SAMPLE | 1 << STEADY | 1 << STORE;

struct channel {
    uint32_t read, write, count, control;
};

#define CONTROL(dreq, chain, flags)                                                                          \
    (DMA_ENABLE | DMA_QUIET | (uint32_t)(dreq) << DMA_DREQ_SHIFT | (uint32_t)(chain) << DMA_CHAIN_SHIFT |    \
     (flags))

/* Set up without being started; a read or write address of 0 comes with the start. */
static void set(int at, struct channel channel) {
    REG(DMA_READ(at)) = channel.read;
    REG(DMA_WRITE(at)) = channel.write;
    REG(DMA_COUNT(at)) = channel.count;
    REG(DMA_CTRL(at)) = channel.control;
}

static uint32_t at(const volatile void *memory) {
    return (uint32_t)(uintptr_t)memory;
}

static void set_read(void) {
    set(SAMPLE, (struct channel){PIO_RXF(PIO1_BASE, 0), DMA_AL3_READ_TRIG(BYTE), FOR_EVER,
                                 CONTROL(DREQ_READ, AGAIN, DMA_WORD | DMA_FIRST)});
    set(BYTE, (struct channel){0, PIO_TXF(PIO0_BASE, 0), 1, CONTROL(DREQ_ALWAYS, BYTE, DMA_FIRST)});
}

static void set_steady(void) {
    set(STEADY, (struct channel){PIO_RXF(PIO0_BASE, 2), DMA_AL3_READ_TRIG(LOOKUP), FOR_EVER,
                                 CONTROL(DREQ_STEADY, AGAIN, DMA_WORD | DMA_FIRST)});
    set(LOOKUP,
        (struct channel){0, PIO_INSTR(PIO1_BASE, 0), 1, CONTROL(DREQ_ALWAYS, EVENT, DMA_HALF | DMA_FIRST)});
    /* A ring of 2^14 bytes. */
    set(EVENT, (struct channel){DMA_READ(LOOKUP), at(slot_memory.events), 1,
                                CONTROL(DREQ_ALWAYS, EVENT,
                                        DMA_HALF | DMA_WRITE_ON | DMA_RING_WRITE | 14 << DMA_RING_SHIFT)});
    _Static_assert(sizeof slot_memory.events == 1 << 14, "the ring's size");
}

static void set_write(void) {
    /* A ring of 2^3 bytes: the two registers in turn. */
    set(STORE, (struct channel){PIO_RXF(PIO1_BASE, 2), DMA_AL2_READ(LANES), FOR_EVER,
                                CONTROL(DREQ_WRITE, AGAIN,
                                        DMA_WORD | DMA_WRITE_ON | DMA_RING_WRITE | 3 << DMA_RING_SHIFT)});
    set(LANES, (struct channel){0, 0, CART_BANKS / 4, CONTROL(DREQ_ALWAYS, LANES, DMA_WORD | DMA_WRITE_ON)});
}

void slot_dma_start(void) {
    REG(BUS_PRIORITY) = BUS_DMA_READ | BUS_DMA_WRITE;
    set_read();
    set_steady();
    set_write();
    set(AGAIN, (struct channel){at(&again), DMA_MULTI_TRIGGER, 1, CONTROL(DREQ_ALWAYS, AGAIN, DMA_WORD)});
    REG(DMA_MULTI_TRIGGER) = again;
}

void slot_dma_first_word(void) {
    REG(DMA_AL1_WRITE(STORE)) = DMA_AL2_READ(LANES);
}

uint32_t slot_dma_events(void) {
    return FOR_EVER - REG(DMA_COUNT(STEADY));
}

uint32_t slot_dma_place(void) {
    return (REG(DMA_WRITE(EVENT)) - at(slot_memory.events)) / 2 % SLOT_EVENTS;
}
