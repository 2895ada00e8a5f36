/*
 * What a reader found of a cartridge, written out: text, JSON (and back), CSV, chart.
 *
 * JSON, object `reader`: scheme, ram, verdict, exit, passes, differing, cycle_ns, own_ns, compared,
 * wrong_bytes, wrong (the first: bank, address), times (null without a map), release, wake (null where not
 * tried), limits, findings. README.md tables the keys.
 */
#ifndef SLOTJIG_REPORT_READER_REPORT_H
#define SLOTJIG_REPORT_READER_REPORT_H

#include "base/problem.h"
#include "verdict/reader.h"

#include <jansson.h>
#include <stdio.h>

/* The object; NULL where memory is short. */
json_t *reader_json(const struct reader_result *result, const struct reader_limits *limits);
/* Read back. where: what the problem's text begins with, such as the file. */
bool reader_from_json(const json_t *json, const char *where, struct reader_result *result,
                      struct reader_limits *limits, struct problem *problem);

/* Verdict, figures, the worst ten, findings. */
void reader_terminal(FILE *stream, const struct reader_result *result, const struct reader_limits *limits);
/* A row an address: bank, address, byte, unsteady bits, right byte (image may be NULL), the three times. */
void reader_csv(FILE *stream, const struct reader_seen *seen, const uint8_t *image);
/* Into the folder: reader.txt, reader.csv, reader.svg (where there is a map). of: whose they are. */
bool reader_write(const struct reader_seen *seen, const uint8_t *image, const struct reader_result *result,
                  const struct reader_limits *limits, const char *of, const char *folder,
                  struct problem *problem);

/* "A12 rising", "one bit", "all bits". */
const char *reader_manner_name(int manner);
/* "$1F3A", or "1 $1F3A" with its bank where there are several. */
enum { READER_ADDRESS = 24 };
void reader_address_text(int scheme, size_t offset, char text[READER_ADDRESS]);

#endif
