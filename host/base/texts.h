/* Some short texts, kept in the order they were added; copied with the struct. */
#ifndef SLOTJIG_BASE_TEXTS_H
#define SLOTJIG_BASE_TEXTS_H

#include <stdbool.h>
#include <stddef.h>

struct texts {
    int count;
    size_t used;
    char bytes[4096]; /* one behind the other, each with its NUL */
};

/* False where there is no room for it. */
bool texts_add(struct texts *texts, const char *text);
/* For a walk: the first when text is NULL, else the one behind it; NULL behind the last. */
const char *texts_next(const struct texts *texts, const char *text);

#endif
