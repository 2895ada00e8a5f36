/* Texts from outside, made harmless. */
#include "report/escape.h"

#include "base/utf8.h"

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

enum { REPLACEMENT = 0xFFFD };

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
    } else if (value == REPLACEMENT) {
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
        uint32_t code = 0;
        const int length = utf8_decode(text, &code), bytes = length > 0 ? length : 1;
        const uint32_t value = length > 0 ? code : REPLACEMENT;
        if (blank) {
            fputs("\u2423", stream);
        } else if (lines && (value == '\n' || value == '\t')) {
            fputc((int)value, stream);
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
