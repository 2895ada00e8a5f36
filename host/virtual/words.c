#include "virtual/words.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

char *word_cut(char *text, char sign) {
    char *at = strchr(text, sign);
    if (at != NULL) {
        *at++ = '\0';
    }
    return at;
}

bool word_whole(const char *text, long least, long most, long *value) {
    char *end;
    errno = 0;
    *value = strtol(text, &end, 10);
    return *text >= '0' && *text <= '9' && *end == '\0' && errno == 0 && *value >= least && *value <= most;
}

bool word_number(const char *text, double *value) {
    static const char allowed[] = "0123456789.-";
    char *end;
    *value = strtod(text, &end);
    return *text != '\0' && text[strspn(text, allowed)] == '\0' && *end == '\0' && isfinite(*value);
}

static int least(int a, int b, int c) {
    int two = a < b ? a : b;
    return two < c ? two : c;
}

int word_distance(const char *from, const char *to) {
    int row[WORD_MAX + 1];
    int length = (int)strlen(to);
    for (int j = 0; j <= length; j++) {
        row[j] = j;
    }
    for (int i = 1; from[i - 1] != '\0'; i++) {
        int corner = row[0];
        row[0] = i;
        for (int j = 1; j <= length; j++) {
            int above = row[j];
            row[j] = least(above + 1, row[j - 1] + 1, corner + (from[i - 1] != to[j - 1]));
            corner = above;
        }
    }
    return row[length];
}

const char *word_spelling(const struct fault_spelling *spellings, const char *key) {
    size_t length = strlen(key);
    for (; spellings->spelling != NULL; spellings++) {
        const char *text = spellings->spelling;
        if (strncmp(text, key, length) == 0 && (text[length] == '=' || text[length] == '\0')) {
            return text;
        }
    }
    return key;
}

void word_shown(const char *text, char shown[WORD_SHOWN]) {
    size_t length = strnlen(text, WORD_MAX);
    for (size_t i = 0; i < length; i++) {
        shown[i] = text[i] >= ' ' && text[i] <= '~' ? text[i] : '?';
    }
    snprintf(shown + length, WORD_SHOWN - length, "%s", text[length] == '\0' ? "'" : "'...");
}
