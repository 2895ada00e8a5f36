/* A cartridge on a reader, kept as a run: command "reader", plan "reader", blob "reader" (reader_report.h).
 * There is no console: its place is the reader's bench. */
#ifndef SLOTJIG_COMMANDS_READER_RECORD_H
#define SLOTJIG_COMMANDS_READER_RECORD_H

#include "commands/options.h"
#include "verdict/reader.h"

#include <jansson.h>

/* All borrowed. */
struct reader_facts {
    const char *bench;              /* its name */
    const char *way;                /* "usb", "serial", "virtual" */
    const char *serial, *firmware;  /* of the cartridge; of the reader; "" where not known */
    const struct texts *faults;     /* of a virtual one; NULL: none */
    const struct reader_seen *seen; /* its scheme and RAM at least */
    const struct reader_result *result;
    const struct reader_limits *limits;
    const char *problem; /* why it ended early, as bench trouble; NULL: it did not */
    int64_t started_ms, took_ms;
    uint64_t seed;
    bool has_seed;
};

/* Puts it into the store. options: its store and station. *id: record_run.id. */
bool reader_record_keep(const struct reader_facts *facts, const struct options *options, int64_t *id,
                        struct problem *problem);

#endif
