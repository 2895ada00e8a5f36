/* The present as the page takes it. */
#ifndef SLOTJIG_COMMANDS_WATCH_JSON_H
#define SLOTJIG_COMMANDS_WATCH_JSON_H

#include "commands/watch_now.h"

/* What the page tells beside the view. Borrowed. */
struct watch_facts {
    const char *bench; /* or the file or device looked at */
    const struct plan *plan;
    struct video_about about;
    struct frames_facts frames;
    struct video_counts counts;
};

/* Compact JSON. Returns its length, or 0 when it does not fit. */
size_t watch_json(const struct watch_view *view, const struct watch_facts *facts, char *text, size_t size);
/* What the picture shows, in words. */
void watch_alt(const struct watch_facts *facts, const struct reading *reading, uint64_t wrong, char *text,
               size_t size);

#endif
