/* PBM [netpbm's published description of the format]: P1 in digits, P4 in packed bits, the leftmost the
 * highest. A 1 is the drawing's ink: it lights its cell. */
#include "plan/art.h"

struct reader {
    const uint8_t *at, *end;
};

static bool is_space(uint8_t byte) {
    return byte == ' ' || (byte >= '\t' && byte <= '\r');
}

/* Blanks, and comments from # to the line's end. */
static void skip(struct reader *reader) {
    while (reader->at < reader->end && (is_space(*reader->at) || *reader->at == '#')) {
        if (*reader->at == '#') {
            while (reader->at < reader->end && *reader->at != '\n') {
                reader->at++;
            }
        } else {
            reader->at++;
        }
    }
}

static bool number(struct reader *reader, unsigned long *value) {
    enum { MOST = 1000000 };
    skip(reader);
    const uint8_t *first = reader->at;
    *value = 0;
    while (reader->at < reader->end && *reader->at >= '0' && *reader->at <= '9') {
        const unsigned long digit = (unsigned long)(*reader->at++ - '0');
        *value = *value < MOST ? *value * 10 + digit : *value;
    }
    return reader->at > first;
}

static bool digits_row(struct reader *reader, uint64_t *lit) {
    *lit = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        skip(reader);
        if (reader->at == reader->end || (*reader->at != '0' && *reader->at != '1')) {
            return false;
        }
        *lit |= (uint64_t)(*reader->at++ - '0') << cell;
    }
    return true;
}

static bool packed_row(struct reader *reader, uint64_t *lit) {
    *lit = 0;
    if (reader->end - reader->at < CELLS / 8) {
        return false;
    }
    for (int cell = 0; cell < CELLS; cell++) {
        *lit |= (uint64_t)(reader->at[cell / 8] >> (7 - cell % 8) & 1) << cell;
    }
    reader->at += CELLS / 8;
    return true;
}

static bool pbm_rows(const char *path, struct reader *reader, bool packed, struct art *art,
                     struct problem *problem) {
    for (int i = 0; i < art->rows; i++) {
        uint64_t lit;
        if (!(packed ? packed_row(reader, &lit) : digits_row(reader, &lit))) {
            return problem_set(problem, PROBLEM_INPUT, "%.200s: the PBM ends, or is wrong, in row %d of %d",
                               path, i + 1, art->rows);
        }
        art->row[i] = (struct art_row){.lit = lit, .lit_colour = ART_ANY, .dark_colour = ART_ANY};
    }
    return true;
}

bool art_pbm(const char *path, const uint8_t *bytes, size_t size, int rows_most, struct art *art,
             struct problem *problem) {
    struct reader reader = {.at = bytes + 2, .end = bytes + size};
    const bool packed = bytes[1] == '4';
    unsigned long width, height;
    if (!number(&reader, &width) || !number(&reader, &height) || reader.at == reader.end ||
        !is_space(*reader.at)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%.200s: begins as a PBM and goes on without width and height", path);
    }
    reader.at++; /* one blank, then the raster */
    if (!art_check_size(path, width, height, rows_most, problem)) {
        return false;
    }
    art->rows = (int)height;
    return pbm_rows(path, &reader, packed, art, problem);
}
