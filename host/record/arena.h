/* Memory for many small things that go together. */
#ifndef SLOTJIG_RECORD_ARENA_H
#define SLOTJIG_RECORD_ARENA_H

#include <stdbool.h>
#include <stddef.h>

struct arena {
    struct arena_block *blocks;
    size_t left;
    bool failed; /* memory was short once; what was given since then is NULL */
};

/* Zeroed, for any type; NULL when memory is short. */
void *arena_get(struct arena *arena, size_t count, size_t size);
char *arena_copy(struct arena *arena, const char *text, size_t length);
/* As utf8_clean() makes it; of NULL "". The text itself where it is clean and keep is false. */
const char *arena_clean(struct arena *arena, const char *text, bool lines, bool keep);
void arena_free(struct arena *arena);

#endif
