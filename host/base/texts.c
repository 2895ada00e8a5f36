#include "base/texts.h"

#include <string.h>

bool texts_add(struct texts *texts, const char *text) {
    const size_t size = strlen(text) + 1;
    if (size > sizeof texts->bytes - texts->used) {
        return false;
    }
    memcpy(texts->bytes + texts->used, text, size);
    texts->used += size;
    texts->count++;
    return true;
}

const char *texts_next(const struct texts *texts, const char *text) {
    const char *next = text == NULL ? texts->bytes : text + strlen(text) + 1;
    return next < texts->bytes + texts->used ? next : NULL;
}
