#include "base/clean.h"

#include <stdint.h>
#include <string.h>

size_t text_clean_size(size_t length) {
    return 3 * length + 1;
}

/* Bytes of the character that begins here; 0: it is none. */
static size_t character(const unsigned char *at, uint32_t *code) {
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000}; /* a longer form than needed is refused */
    const size_t length = at[0] < 0x80             ? 1
                          : (at[0] & 0xE0) == 0xC0 ? 2
                          : (at[0] & 0xF0) == 0xE0 ? 3
                          : (at[0] & 0xF8) == 0xF0 ? 4
                                                   : 0;
    if (length <= 1) {
        *code = at[0];
        return length;
    }
    *code = at[0] & (0x7Fu >> length);
    for (size_t i = 1; i < length; i++) {
        if ((at[i] & 0xC0) != 0x80) { /* the final 0 is none either */
            return 0;
        }
        *code = *code << 6 | (at[i] & 0x3Fu);
    }
    const bool surrogate = *code >= 0xD800 && *code <= 0xDFFF;
    return *code < least[length] || *code > 0x10FFFF || surrogate ? 0 : length;
}

void text_clean(const char *text, bool lines, char *clean) {
    const unsigned char *at = (const unsigned char *)text;
    while (*at != '\0') {
        uint32_t code = 0;
        const size_t length = character(at, &code);
        const bool control = code < ' ' || (code >= 0x7F && code < 0xA0);
        if (length == 0) {
            memcpy(clean, "\xEF\xBF\xBD", 3);
            clean += 3;
            at++;
        } else if (control && !(lines && (code == '\n' || code == '\t'))) {
            *clean++ = ' ';
            at += length;
        } else {
            memcpy(clean, at, length);
            clean += length;
            at += length;
        }
    }
    *clean = '\0';
}
