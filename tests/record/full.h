/* A disk that gets full while runs are put, and has room again afterwards. */
#ifndef TESTS_RECORD_FULL_H
#define TESTS_RECORD_FULL_H

#include "record/filling.h"
#include "record/folder.h"

enum full_kind {
    FULL_LIMIT, /* no file may be larger (RLIMIT_FSIZE) */
    FULL_DISK   /* a file system of that size (tmpfs; needs a name space for mounts) */
};

struct full_answer {
    bool tried; /* false: there is no way to mount here */
    bool good;
    bool opened;         /* there was room enough to make the store */
    bool refused;        /* a put failed */
    size_t acknowledged; /* before that */
    char said[600];      /* the problem of what failed first */
    char why[800];
};

/* In a child process. room: bytes. batch: runs put together between records_begin() and records_end(); 1:
 * each alone. */
void full_at(const struct filling *filling, const struct folder *folder, enum full_kind kind, long room,
             size_t batch, struct full_answer *answer);

#endif
