#include "record/arena.h"

#include "base/utf8.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK = 4096, ALIGN = 16 };

struct arena_block {
    struct arena_block *next;
    size_t size;
    _Alignas(ALIGN) unsigned char bytes[];
};

static bool more(struct arena *arena, size_t size) {
    const size_t room = size > BLOCK ? size : BLOCK;
    struct arena_block *block = calloc(1, sizeof *block + room);
    if (block == NULL) {
        arena->failed = true;
        return false;
    }
    *block = (struct arena_block){.next = arena->blocks, .size = room};
    arena->blocks = block;
    arena->left = room;
    return true;
}

void *arena_get(struct arena *arena, size_t count, size_t size) {
    if (size != 0 && count > (SIZE_MAX / 4) / size) {
        arena->failed = true;
        return NULL;
    }
    const size_t wanted = (count * size + ALIGN - 1) / ALIGN * ALIGN;
    if (arena->failed || ((arena->blocks == NULL || wanted > arena->left) && !more(arena, wanted))) {
        return NULL;
    }
    void *memory = arena->blocks->bytes + (arena->blocks->size - arena->left);
    arena->left -= wanted;
    return memory;
}

char *arena_copy(struct arena *arena, const char *text, size_t length) {
    char *copy = arena_get(arena, length + 1, 1);
    if (copy != NULL && length > 0) {
        memcpy(copy, text, length);
    }
    return copy;
}

const char *arena_clean(struct arena *arena, const char *text, bool lines, bool keep) {
    if (text == NULL) {
        return "";
    }
    const size_t length = strlen(text);
    char *clean = arena_get(arena, length + 1, 1);
    if (clean == NULL) {
        return "";
    }
    utf8_clean(text, clean, length + 1, lines);
    return !keep && strcmp(clean, text) == 0 ? text : clean;
}

void arena_free(struct arena *arena) {
    while (arena->blocks != NULL) {
        struct arena_block *next = arena->blocks->next;
        free(arena->blocks);
        arena->blocks = next;
    }
    *arena = (struct arena){0};
}
