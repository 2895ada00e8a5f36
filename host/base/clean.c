#include "base/clean.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* The first byte's bits, and how many bytes follow; -1: none that a character begins with. */
static int begin(unsigned char byte, uint32_t *code) {
    static const struct {
        unsigned char mask, lead;
        int more;
    } forms[] = {{0x80, 0x00, 0}, {0xE0, 0xC0, 1}, {0xF0, 0xE0, 2}, {0xF8, 0xF0, 3}};
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
        if ((byte & forms[i].mask) == forms[i].lead) {
            *code = byte & (unsigned char)~forms[i].mask;
            return forms[i].more;
        }
    }
    return -1;
}

static bool is_shown(uint32_t code, int more) {
    static const uint32_t least[] = {0x20, 0x80, 0x800, 0x10000}; /* less is overlong, or a control */
    return code >= least[more] && !(code >= 0x7F && code < 0xA0) && !(code >= 0xD800 && code < 0xE000) &&
           code != 0xFFFE && code != 0xFFFF && code <= 0x10FFFF;
}

uint32_t clean_next(const char **text) {
    uint32_t code = 0;
    const char *const first = (*text)++;
    const int more = begin((unsigned char)*first, &code);
    for (int i = 1; i <= more; i++) {
        const unsigned char byte = (unsigned char)first[i];
        if ((byte & 0xC0) != 0x80) {
            return CLEAN_NONE;
        }
        code = code << 6 | (byte & 0x3F);
    }
    if (more > 0) {
        *text += more;
    }
    return more >= 0 && is_shown(code, more) ? code : CLEAN_NONE;
}

char *clean_text(const char *text, char *clean, size_t size) {
    size_t at = 0;
    while (text != NULL && *text != '\0') {
        const char *const from = text;
        const bool good = clean_next(&text) != CLEAN_NONE;
        const size_t length = good ? (size_t)(text - from) : 1;
        if (at + length >= size) {
            break;
        }
        memcpy(clean + at, good ? from : "?", length);
        at += length;
    }
    clean[at] = '\0';
    return clean;
}

char *clean_copy(const char *text) {
    const size_t size = (text == NULL ? 0 : strlen(text)) + 1;
    char *clean = malloc(size);
    return clean == NULL ? NULL : clean_text(text, clean, size);
}
