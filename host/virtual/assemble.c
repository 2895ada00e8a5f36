#include "virtual/assemble.h"

#include <stdlib.h>
#include <string.h>

void layout_of(enum standard standard, const struct grabber_options *options, struct layout *layout) {
    const bool two = options->layout == GRABBER_WOVEN || options->layout == GRABBER_STACKED;
    const bool blended = options->layout == GRABBER_BLENDED;
    const bool kept = two && options->stale != GRABBER_NONE;
    const int lines = standard_table[standard].frame_height / 2;
    const int usual = standard_table[standard].top_first ? 0 : 1;
    *layout = (struct layout){
        .kind = options->layout,
        .fields = blended || (two && !kept) ? 2 : 1,
        .first = options->older == GRABBER_NONE  ? usual
                 : options->older == GRABBER_TOP ? 0
                                                 : 1,
        .stale = kept ? options->stale == GRABBER_BOTTOM : -1,
        .field_lines = lines,
        .height = options->layout == GRABBER_SINGLE ? lines : 2 * lines,
        .black = options->half_black,
    };
}

struct lines layout_lines(const struct layout *layout, struct canvas *canvas, int parity) {
    switch (layout->kind) {
    case GRABBER_SINGLE:
        return (struct lines){canvas->lines[0], LINE_BYTES};
    case GRABBER_STACKED:
        return (struct lines){canvas->lines[parity * layout->field_lines], LINE_BYTES};
    default:
        return (struct lines){canvas->lines[parity], 2 * LINE_BYTES};
    }
}

static void lay(const struct layout *layout, const uint8_t *field, int parity, struct canvas *canvas) {
    const struct lines out = layout_lines(layout, canvas, parity);
    for (int y = 0; y < layout->field_lines; y++) {
        memcpy(out.first + y * out.stride, field + y * LINE_BYTES, LINE_BYTES);
    }
}

static void mean_of(const uint8_t *restrict a, const uint8_t *restrict b, uint8_t *restrict out) {
    for (int i = 0; i < LINE_BYTES; i++) {
        out[i] = (uint8_t)((a[i] + b[i] + 1) / 2);
    }
}

/* The lines in between, from those above and below. */
static void fill_in(const struct layout *layout, int parity, struct canvas *canvas) {
    for (int y = 1 - parity; y < layout->height; y += 2) {
        const int above = y == 0 ? 1 : y - 1, below = y == layout->height - 1 ? y - 1 : y + 1;
        mean_of(canvas->lines[above], canvas->lines[below], canvas->lines[y]);
    }
}

/* above: the line before, as it was; kept for the next one meanwhile. */
static void blend_line(const uint8_t *restrict below, uint8_t *restrict above, uint8_t *restrict line) {
    for (int i = 0; i < LINE_BYTES; i++) {
        const int own = line[i];
        line[i] = (uint8_t)((above[i] + 2 * own + below[i] + 2) / 4);
        above[i] = (uint8_t)own;
    }
}

static void blend(const struct layout *layout, struct canvas *canvas) {
    uint8_t above[LINE_BYTES], last[LINE_BYTES];
    memcpy(above, canvas->lines[0], LINE_BYTES);
    memcpy(last, canvas->lines[layout->height - 1], LINE_BYTES);
    for (int y = 0; y < layout->height; y++) {
        blend_line(y == layout->height - 1 ? last : canvas->lines[y + 1], above, canvas->lines[y]);
    }
}

void assemble(const struct layout *layout, const uint8_t *const fields[2], unsigned turn,
              struct canvas *canvas) {
    if (layout->kind == GRABBER_BOBBED) {
        const int parity = (layout->first + (int)(turn % 2)) % 2;
        lay(layout, fields[0], parity, canvas);
        fill_in(layout, parity, canvas);
        return;
    }
    if (layout->fields == 1) {
        lay(layout, fields[0], layout->stale < 0 ? 0 : 1 - layout->stale, canvas);
        return;
    }
    lay(layout, fields[0], layout->first, canvas);
    lay(layout, fields[1], 1 - layout->first, canvas);
    if (layout->kind == GRABBER_BLENDED) {
        blend(layout, canvas);
    }
}

static void blacken_line(uint8_t *line) {
    for (int i = 0; i < LINE_BYTES; i += 2) {
        line[i] = 16;
        line[i + 1] = 128;
    }
}

void blacken(const struct layout *layout, struct canvas *canvas) {
    const int half = layout->height / 2;
    const bool of_field = layout->black == GRABBER_TOP || layout->black == GRABBER_BOTTOM;
    const bool second = layout->black == GRABBER_BOTTOM || layout->black == GRABBER_LOWER;
    const bool woven = of_field && layout->kind != GRABBER_STACKED;
    for (int i = 0; i < half && layout->black != GRABBER_NONE; i++) {
        blacken_line(canvas->lines[woven ? 2 * i + second : i + second * half]);
    }
}

/* ---- the comb filter ---- */

enum { WHOLE = 256 };

static void comb_line(const uint8_t *restrict below, uint8_t *restrict above, uint8_t *restrict line,
                      int share) {
    for (int i = 0; i < LINE_BYTES; i++) {
        const int own = line[i];
        line[i] =
            (uint8_t)((2 * WHOLE * own + share * (above[i] + below[i] - 2 * own) + WHOLE) / (2 * WHOLE));
        above[i] = (uint8_t)own;
    }
}

static void comb_line_adaptively(const uint8_t *restrict below, uint8_t *restrict above,
                                 uint8_t *restrict line, int share) {
    for (int i = 0; i < LINE_BYTES; i++) {
        const int own = line[i], up = above[i] - own, down = below[i] - own;
        const int nearer = abs(up) < abs(down) ? up : down;
        line[i] = (uint8_t)((WHOLE * own + share * nearer + WHOLE / 2) / WHOLE);
        above[i] = (uint8_t)own;
    }
}

void comb_lines(uint8_t *field, int lines, double share, bool adaptive) {
    uint8_t above[LINE_BYTES], last[LINE_BYTES];
    const int whole = (int)(share * WHOLE + 0.5);
    memcpy(above, field, LINE_BYTES);
    memcpy(last, field + (lines - 1) * LINE_BYTES, LINE_BYTES);
    for (int y = 0; y < lines; y++) {
        const uint8_t *below = y == lines - 1 ? last : field + (y + 1) * LINE_BYTES;
        (adaptive ? comb_line_adaptively : comb_line)(below, above, field + y * LINE_BYTES, whole);
    }
}
