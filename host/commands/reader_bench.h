/* A reader at work: opened on USB, on a serial line, or as the virtual one with a cartridge in its socket. */
#ifndef SLOTJIG_COMMANDS_READER_BENCH_H
#define SLOTJIG_COMMANDS_READER_BENCH_H

#include "commands/benches.h"
#include "link/reader.h"
#include "virtual/reader.h"

struct reader_bench {
    const struct bench_settings *settings;
    struct link *link;
    const char *transport;          /* "usb", "serial", "virtual" */
    struct virtual_reader *virtual; /* NULL: a real one */
    struct cart_model *cartridge;
};

/* image: what is on the cartridge of a virtual one, with the bench's faults (scheme_bytes()); a real one does
 * not look at it. PROBLEM_INPUT: a virtual one without an image, or with faults that are no cartridge's.
 * reader_bench_close() also after a failure. The settings must outlive it. */
bool reader_bench_open(struct reader_bench *reader, const struct bench_settings *settings, int scheme,
                       bool ram, const uint8_t *image, struct problem *problem);
void reader_bench_close(struct reader_bench *reader);

#endif
