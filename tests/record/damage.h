/* A store whose bytes were changed by something else than SQLite. */
#ifndef TESTS_RECORD_DAMAGE_H
#define TESTS_RECORD_DAMAGE_H

#include "record/filling.h"
#include "record/folder.h"

enum damage_kind {
    DAMAGE_FLIP,  /* one to eight bits of the database */
    DAMAGE_CUT,   /* the database ends early */
    DAMAGE_PAGE,  /* 512 bytes of it are others */
    DAMAGE_VALUE, /* one column of one table is another, in all of its rows where it may be */
    DAMAGE_WAL_FLIP,
    DAMAGE_WAL_CUT,
    DAMAGE_KINDS
};
extern const char *const damage_kind_names[DAMAGE_KINDS];

struct damage; /* stores to be damaged */
struct damage *damage_new(const struct filling *filling, const struct folder *folder);
void damage_free(struct damage *damage);

struct damage_answer {
    bool good;       /* each answer was a problem in one line, or right */
    size_t problems; /* calls that said so */
    size_t right;    /* runs that were read as they were put */
    char why[800];
};
/* In a child process: opens a damaged copy, reads all, puts a run. */
void damage_at(const struct damage *damage, enum damage_kind kind, uint64_t seed,
               struct damage_answer *answer);

#endif
