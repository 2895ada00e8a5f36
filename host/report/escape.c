/* Texts from outside, made harmless. */
#include "report/escape.h"

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* ---- UTF-8 ---- */

/* A character and its bytes; 0xFFFD of one byte where none begins here. Overlong forms, surrogates and what
 * lies beyond U+10FFFF are none [S RFC 3629, 3]. */
static uint32_t character(const unsigned char *text, int *bytes) {
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    const int length = *text < 0x80             ? 1
                       : (*text & 0xE0) == 0xC0 ? 2
                       : (*text & 0xF0) == 0xE0 ? 3
                       : (*text & 0xF8) == 0xF0 ? 4
                                                : 0;
    *bytes = 1;
    if (length <= 1) {
        return length == 1 ? *text : 0xFFFD;
    }
    uint32_t value = *text & (0x7Fu >> length);
    for (int i = 1; i < length; i++) {
        if ((text[i] & 0xC0) != 0x80) {
            return 0xFFFD;
        }
        value = value << 6 | (text[i] & 0x3F);
    }
    if (value < least[length] || value > 0x10FFFF || (value >= 0xD800 && value <= 0xDFFF)) {
        return 0xFFFD;
    }
    *bytes = length;
    return value;
}

/* Characters that show nothing, turn the direction of writing [S UAX 9, 2], or are none in HTML. */
static bool unseen(uint32_t value) {
    static const uint32_t ranges[][2] = {
        {0x80, 0x9F},     {0xAD, 0xAD},     {0x61C, 0x61C},   {0x115F, 0x1160},   {0x180E, 0x180E},
        {0x200B, 0x200F}, {0x2028, 0x202E}, {0x2060, 0x206F}, {0x3164, 0x3164},   {0xFDD0, 0xFDEF},
        {0xFEFF, 0xFEFF}, {0xFFA0, 0xFFA0}, {0xFFF0, 0xFFFB}, {0xE0000, 0xE0FFF},
    };
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
        if (value >= ranges[i][0] && value <= ranges[i][1]) {
            return true;
        }
    }
    return (value & 0xFFFE) == 0xFFFE;
}

static void write_character(FILE *stream, const char *text, int bytes, uint32_t value) {
    switch (value) {
    case '<':
        fputs("&lt;", stream);
        return;
    case '>':
        fputs("&gt;", stream);
        return;
    case '&':
        fputs("&amp;", stream);
        return;
    case '"':
        fputs("&quot;", stream);
        return;
    case '\'':
        fputs("&#39;", stream);
        return;
    default:
        break;
    }
    if (value < ' ') {
        fprintf(stream, "\xE2\x90%c", (int)(0x80 + value)); /* U+2400 on are their pictures */
    } else if (value == 0x7F) {
        fputs("\u2421", stream);
    } else if (value == 0xFFFD) {
        fputs("\uFFFD", stream);
    } else if (unseen(value)) {
        fprintf(stream, "[U+%04X]", (unsigned)value);
    } else {
        fwrite(text, 1, (size_t)bytes, stream);
    }
}

static void write_text(FILE *stream, const char *text, bool lines) {
    const bool blank = *text != '\0' && text[strspn(text, " ")] == '\0';
    while (*text != '\0') {
        int bytes = 1;
        const uint32_t value = character((const unsigned char *)text, &bytes);
        if (blank) {
            fputs("\u2423", stream);
        } else if (lines && value == '\n') {
            fputc('\n', stream);
        } else {
            write_character(stream, text, bytes, value);
        }
        text += bytes;
    }
}

void escape_text(FILE *stream, const char *text) {
    write_text(stream, text, false);
}

void escape_lines(FILE *stream, const char *text) {
    write_text(stream, text, true);
}
