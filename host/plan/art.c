#include "plan/art.h"

#include "plan/plan.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FILE_MOST = 1 << 20 };

/* ---- rows told ---- */

static int range_end(const bool *rows, int count, int first) {
    int end = first;
    while (end < count && rows[end]) {
        end++;
    }
    return end;
}

static int rows_left(const bool *rows, int count, int from) {
    int left = 0;
    for (int i = from; i < count; i++) {
        left += rows[i];
    }
    return left;
}

void art_rows_text(const bool *rows, int count, char *text, size_t size) {
    enum { ROOM_FOR_THE_REST = 24 };
    size_t used = 0;
    text[0] = '\0';
    for (int first = 0; first < count;) {
        const int end = range_end(rows, count, first);
        if (end == first) {
            first++;
            continue;
        }
        if (used + ROOM_FOR_THE_REST > size) {
            snprintf(text + used, size - used, " and %d more", rows_left(rows, count, first));
            return;
        }
        const char *comma = used == 0 ? "" : ", ";
        const int written = end - first == 1
                                ? snprintf(text + used, size - used, "%s%d", comma, first + 1)
                                : snprintf(text + used, size - used, "%s%d-%d", comma, first + 1, end);
        used += (size_t)written;
        first = end;
    }
}

/* ---- checks that all kinds of file share ---- */

bool art_check_size(const char *path, unsigned long width, unsigned long height, int rows_most,
                    struct problem *problem) {
    if (width != CELLS) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%.200s: the picture is %lu wide; a drawing is %d wide, a dot for each cell", path,
                           width, CELLS);
    }
    if (height == 0 || height > (unsigned long)rows_most) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%.200s: the picture has %lu rows; a drawing has 1 to %d in this standard", path,
                           height, rows_most);
    }
    return true;
}

static int luminance(int colour) {
    return colour >> 1 & 7;
}

/* "row 3: dark cells are too bright"; nothing where there are no such rows. */
static void tell_colours(const bool *rows, int count, const char *what, char *text, size_t size) {
    char list[160];
    art_rows_text(rows, count, list, sizeof list);
    if (list[0] != '\0') {
        const bool one = strpbrk(list, ",-") == NULL;
        snprintf(text, size, "row%s %s: %s", one ? "" : "s", list, what);
    }
}

bool art_check_colours(const char *path, const struct art *art, struct problem *problem) {
    bool dark_lit[PICTURE_LINES_MAX], bright_dark[PICTURE_LINES_MAX];
    char lit[240] = "", dark[240] = "";
    for (int i = 0; i < art->rows; i++) {
        const struct art_row *row = &art->row[i];
        dark_lit[i] = row->lit_colour != ART_ANY && luminance(row->lit_colour) < PLAN_LIT_LEAST;
        bright_dark[i] = row->dark_colour != ART_ANY && luminance(row->dark_colour) > PLAN_DARK_MOST;
    }
    tell_colours(dark_lit, art->rows, "the brighter colour is too dark", lit, sizeof lit);
    tell_colours(bright_dark, art->rows, "the darker colour is too bright", dark, sizeof dark);
    if (lit[0] == '\0' && dark[0] == '\0') {
        return true;
    }
    return problem_set(problem, PROBLEM_INPUT,
                       "%.100s: %s%s%s; lit cells have a luminance of %d to 7 of 7, dark ones of 0 to %d",
                       path, lit, lit[0] != '\0' && dark[0] != '\0' ? "; " : "", dark, PLAN_LIT_LEAST,
                       PLAN_DARK_MOST);
}

/* ---- the file ---- */

static uint8_t *load(const char *path, size_t *size, struct problem *problem) {
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        problem_set(problem, PROBLEM_INPUT, "%.200s: cannot be read: %s", path, strerror(errno));
        return NULL;
    }
    uint8_t *bytes = malloc(FILE_MOST + 1);
    *size = bytes == NULL ? 0 : fread(bytes, 1, FILE_MOST + 1, file);
    const bool failed = ferror(file) != 0;
    const int why = errno;
    fclose(file);
    if (bytes == NULL) {
        problem_set(problem, PROBLEM_BENCH, "%.200s: out of memory", path);
    } else if (failed) {
        problem_set(problem, PROBLEM_INPUT, "%.200s: cannot be read: %s", path, strerror(why));
    } else if (*size == 0 || *size > FILE_MOST) {
        problem_set(problem, PROBLEM_INPUT, "%.200s: %s; give a picture 40 dots wide as PNG, PBM or text",
                    path, *size == 0 ? "is empty" : "is larger than 1 MiB");
    } else {
        return bytes;
    }
    free(bytes);
    return NULL;
}

static bool is_space(uint8_t byte) {
    return byte == ' ' || (byte >= '\t' && byte <= '\r');
}

bool art_open(const char *path, int rows_most, struct art *art, struct problem *problem) {
    static const uint8_t png[] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1A, '\n'}; /* [S PNG, 5.2] */
    size_t size = 0;
    uint8_t *bytes = load(path, &size, problem);
    if (bytes == NULL) {
        return false;
    }
    const bool pbm = size > 3 && bytes[0] == 'P' && (bytes[1] == '1' || bytes[1] == '4') &&
                     (is_space(bytes[2]) || bytes[2] == '#');
    memset(art, 0, sizeof *art);
    const bool good = size > sizeof png && memcmp(bytes, png, sizeof png) == 0
                          ? art_png(path, bytes, size, rows_most, art, problem)
                      : pbm ? art_pbm(path, bytes, size, rows_most, art, problem)
                            : art_text(path, bytes, size, rows_most, art, problem);
    free(bytes);
    return good && art_check_colours(path, art, problem);
}
