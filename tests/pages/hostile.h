/* Texts that want to be more than texts, for every place of a record where one may come from outside. Each
 * that could run anything would set window.ran, or ask something of example.invalid. */
#ifndef TESTS_PAGES_HOSTILE_H
#define TESTS_PAGES_HOSTILE_H

#include "record/record.h"

#include <stdbool.h>

/* NULL behind the last. */
const char *hostile_text(size_t index);
/* Whether record.h allows it: UTF-8 without control characters. The others stand for a damaged store. */
bool hostile_allowed(size_t index);

/* The text, everywhere in a run; what it needs for that is in `parts`. The plan is changed too. */
struct hostile_parts {
    struct record_plan plan;
    struct finding finding;
    struct record_blob blobs[4];
    char json[20000];
};
void hostile_run(struct record_run *run, const char *text, struct hostile_parts *parts);
/* The plan's steps too, in place. */
void hostile_steps(const struct record_plan *plan, const char *text);

#endif
