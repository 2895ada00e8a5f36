#include "base/utf8.h"

#include <stdlib.h>
#include <string.h>

/* The least code that so many bytes may stand for: a shorter spelling of it is the only right one. */
static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};

static int length_of(unsigned char first) {
    return first < 0x80 ? 1 : first >> 5 == 0x6 ? 2 : first >> 4 == 0xE ? 3 : first >> 3 == 0x1E ? 4 : 0;
}

int utf8_decode(const char *text, uint32_t *code) {
    const unsigned char *bytes = (const unsigned char *)text;
    const int length = length_of(bytes[0]);
    uint32_t value = length == 1 ? bytes[0] : bytes[0] & (0x7Fu >> length);
    for (int i = 1; i < length; i++) {
        if (bytes[i] >> 6 != 2) {
            return 0; /* also at the end of the text */
        }
        value = value << 6 | (bytes[i] & 0x3Fu);
    }
    *code = value;
    return length > 0 && value >= least[length] && value <= 0x10FFFF && value >> 11 != 0x1B ? length : 0;
}

int utf8_width(const char *text) {
    int width = 0;
    for (; *text != '\0'; text++) {
        width += ((unsigned char)*text & 0xC0) != 0x80;
    }
    return width;
}

static bool is_control(uint32_t code) {
    return code < 0x20 || (code >= 0x7F && code < 0xA0);
}

bool utf8_is_clean(const char *text) {
    while (*text != '\0') {
        uint32_t code = 0;
        const int length = utf8_decode(text, &code);
        if (length == 0 || is_control(code)) {
            return false;
        }
        text += length;
    }
    return true;
}

/* [S Unicode: general categories Zl, Zp and most of Cf; UAX #9 for those that turn the direction] Joiners
 * stay: some scripts are not written without them. */
static bool is_hidden(uint32_t code) {
    return code == 0xAD || code == 0x200B || code == 0x200E || code == 0x200F || code == 0x61C ||
           (code >= 0x2028 && code <= 0x202E) || (code >= 0x2060 && code <= 0x206F) || code == 0xFEFF;
}

static bool is_blank(uint32_t code) {
    return code == ' ' || code == 0xA0 || (code >= 0x2000 && code <= 0x200A) || code == 0x202F ||
           code == 0x205F || code == 0x3000;
}

bool utf8_is_name(const char *text) {
    bool first = true, blank = false;
    if (!utf8_is_clean(text)) {
        return false;
    }
    while (*text != '\0') {
        uint32_t code = 0;
        text += utf8_decode(text, &code);
        blank = is_blank(code);
        if (is_hidden(code) || (first && blank)) {
            return false;
        }
        first = false;
    }
    return !first && !blank;
}

void utf8_clean(const char *text, char *clean, size_t size, bool lines) {
    size_t used = 0;
    while (*text != '\0') {
        uint32_t code = 0;
        const int length = utf8_decode(text, &code);
        const bool good = length > 0 && (!is_control(code) || (lines && (code == '\n' || code == '\t')));
        const size_t wanted = good ? (size_t)length : 1;
        if (used + wanted >= size) {
            break;
        }
        if (good) {
            memcpy(clean + used, text, wanted);
        } else {
            clean[used] = '?';
        }
        used += wanted;
        text += length > 0 ? length : 1;
    }
    clean[used] = '\0';
}

char *utf8_copy(const char *text) {
    const char *const from = text == NULL ? "" : text;
    const size_t size = strlen(from) + 1;
    char *clean = malloc(size);
    if (clean != NULL) {
        utf8_clean(from, clean, size, false);
    }
    return clean;
}
