/* A dozen runs that between them have all that a run can have: what the files in old/ hold. */
#ifndef TESTS_RECORD_VARIED_H
#define TESTS_RECORD_VARIED_H

#include "record/invented.h"

/* An invented shelf of one seed, four consoles, twelve steps and three repeats, with these runs altered.
 * Never change it: files of earlier versions hold just this. Free it with invented_free(). */
struct invented *varied_new(void);

#endif
