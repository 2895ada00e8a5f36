/*
 * Field splitter, raster and slate finder, and the finding of layouts, with pictures that begin as good ones
 * and are then bent by the fuzzer's bytes. What must hold of every answer is checked apart from the code
 * under test: a field that was read shows, where its raster says, the bits of the very slate it was read as;
 * and a judge that got no two such fields passes nothing.
 *
 * Input: one byte of shape for each of six properties, then frames, each an opening byte and up to 15
 * operations of five bytes. Anything makes a valid input.
 */
#include "fuzz/fuzz.h"
#include "picture/draw.h"
#include "picture/frames.h"
#include "verdict/verdict.h"

#include <stdbool.h>
#include <stdio.h>

enum {
    BASES = 4,
    BASE_WIDTH = 720,
    BASE_LINES = 240,
    FRAMES_MAX = 4,
    WIDTH_MAX = 1024,
    HEIGHT_MAX = 640,
    HASH = 0xA5C3
};

static uint8_t *base[BASES];
static struct plan *plan;
static uint8_t made[HEIGHT_MAX][WIDTH_MAX];

static void must_be(bool truth, const char *what) {
    if (!truth) {
        fprintf(stderr, "picture: %s\n", what);
        abort();
    }
}

static void start(void) {
    struct problem problem = {0};
    if (plan != NULL) {
        return;
    }
    must_be(plan_open("bits", STANDARD_NTSC, &plan, &problem), "plan bits");
    plan->step_count = 1;
    for (int n = 0; n < BASES; n++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        scene.step = 1;
        scene.slate = (struct slate){HASH, 0, (uint8_t)(30 + n)};
        for (int line = 0; line < 168; line++) {
            scene.cells[line] = n % 2 == 0 ? 1 : UINT64_C(0x5555555555);
        }
        draw_field(&scene, &base[n]);
    }
}

/* ---- the fuzzer's bytes ---- */

struct input {
    const uint8_t *bytes;
    size_t count;
};

static unsigned next_byte(struct input *input) {
    if (input->count == 0) {
        return 0;
    }
    input->count--;
    return *input->bytes++;
}

struct shape {
    int width, height, step;
    ptrdiff_t gap; /* bytes between lines */
    bool upside_down, chroma;
    enum standard standard;
};

static struct shape shape_of(struct input *input) {
    static const int widths[] = {720, 704, 640, 320, 352, 1024, 16, 1};
    static const int heights[] = {480, 240, 288, 576, 525, 48, 25, 1};
    struct shape shape = {0};
    unsigned width = next_byte(input), height = next_byte(input), more = next_byte(input);
    shape.width = width < 224 ? widths[width & 7] : 1 + (int)(next_byte(input) * 4);
    shape.height = height < 224 ? heights[height & 7] : (int)(next_byte(input) * 2 + (more & 1));
    shape.step = 1 + (int)(more >> 1 & 3);
    shape.gap = more >> 3 & 7;
    shape.upside_down = more >> 6 & 1;
    shape.chroma = more >> 7 & 1;
    shape.standard = (enum standard)(next_byte(input) % STANDARD_COUNT);
    shape.width = shape.width > WIDTH_MAX ? WIDTH_MAX : shape.width;
    return shape;
}

/* ---- a picture ---- */

static void draw_line(const struct shape *shape, unsigned layout, const uint8_t *a, const uint8_t *b,
                      uint8_t *out) {
    int width = shape->width < BASE_WIDTH ? shape->width : BASE_WIDTH;
    memset(out, a[BASE_WIDTH - 1], WIDTH_MAX);
    memcpy(out, a, (size_t)width);
    for (int x = 0; layout == 4 && x < width; x++) {
        out[x] = (uint8_t)((a[x] + b[x] + 1) / 2);
    }
    for (int x = 0; layout == 5 && x < shape->width; x++) {
        out[x] = a[x * BASE_WIDTH / shape->width];
    }
}

/* How the good fields lie in it, before they are bent: woven, stacked, single, doubled, mixed. */
static void draw_made(const struct shape *shape, unsigned opening) {
    unsigned layout = opening & 7, first = opening >> 3 & 3, second = opening >> 5 & 3;
    for (int y = 0; y < shape->height; y++) {
        int line = layout == 0 || layout == 3 ? y / 2 : layout == 1 ? y % BASE_LINES : y;
        bool other = layout == 0 ? y % 2 == 1 : layout == 1 && y >= BASE_LINES;
        line = line < BASE_LINES ? line : BASE_LINES - 1;
        const uint8_t *a = base[other ? second : first] + line * BASE_WIDTH,
                      *b = base[second] + line * BASE_WIDTH;
        draw_line(shape, layout, a, b, made[y]);
    }
}

static void bend(const struct shape *shape, struct input *input) {
    unsigned kind = next_byte(input), where = next_byte(input), size = next_byte(input),
             across = next_byte(input), value = next_byte(input);
    int top = (int)where * shape->height / 256, lines = 1 + (int)(size & 63);
    int left = (int)across * shape->width / 256, columns = 1 + (int)(size >> 2) * shape->width / 64;
    uint64_t random = (uint64_t)value * 977 + 1;
    for (int y = top; y < top + lines && y < shape->height; y++) {
        for (int x = left; x < left + columns && x < shape->width; x++) {
            uint8_t *at = &made[y][x];
            switch (kind & 7) {
            case 0:
                *at = (uint8_t)value;
                break;
            case 1:
                *at = (uint8_t)(255 - *at);
                break;
            case 2:
                *at = (uint8_t)(*at / 2 + value / 2);
                break;
            case 3:
                *at = (uint8_t)(*at ^ (draw_random(&random) & value));
                break;
            case 4:
                *at = made[y > 0 ? y - 1 : y][x];
                break;
            case 5:
                *at = made[y][x + (int)(value & 31) < shape->width ? x + (int)(value & 31) : x];
                break;
            case 6:
                *at = (uint8_t)(*at * (value & 15) / 15);
                break;
            default:
                *at = made[(y + (int)value) % shape->height][x];
            }
        }
    }
}

/* Exactly as large as it must be, so that a sanitizer sees every read beside it. */
static uint8_t *lay_out(const struct shape *shape, struct frame *frame) {
    size_t pitch = (size_t)shape->width * (size_t)shape->step + (size_t)shape->gap;
    size_t size = shape->height == 0 ? 1
                                     : (size_t)(shape->height - 1) * pitch +
                                           (size_t)(shape->width - 1) * (size_t)shape->step + 1;
    uint8_t *memory = malloc(size);
    must_be(memory != NULL, "memory");
    memset(memory, 0x80, size);
    for (int y = 0; y < shape->height; y++) {
        int line = shape->upside_down ? shape->height - 1 - y : y;
        if (shape->step == 1) {
            memcpy(memory + (size_t)line * pitch, made[y], (size_t)shape->width);
        }
        for (int x = 0; shape->step > 1 && x < shape->width; x++) {
            memory[(size_t)line * pitch + (size_t)x * (size_t)shape->step] = made[y][x];
        }
    }
    bool turned = shape->upside_down && shape->height > 0;
    *frame = (struct frame){
        .width = shape->width,
        .height = shape->height,
        .y = {.data = turned ? memory + (size_t)(shape->height - 1) * pitch : memory,
              .stride = turned ? -(ptrdiff_t)pitch : (ptrdiff_t)pitch,
              .step = shape->step},
    };
    if (shape->chroma) { /* the luma over again, at every second sample: as large as asked for */
        frame->cb = frame->cr = frame->y;
        frame->cb.step = frame->cr.step = shape->step;
        frame->chroma_x = 1;
    }
    return memory;
}

/* ---- what must hold ---- */

/* Samples of a bit's width that are white, of one line. */
static bool shows(const struct field *field, const struct raster *raster, int line, double from, bool one) {
    double slanted = raster->slant * (line - (raster->top + SLATE_BAND_LINES / 2));
    int first = (int)lround(raster->left + slanted + from * raster->clock_width),
        end = (int)lround(raster->left + slanted + (from + SLATE_BIT_CLOCKS) * raster->clock_width);
    int white = 0, all = 0;
    double middle = (raster->black + raster->white) / 2;
    for (int x = first; x < end; x++) {
        if (x >= 0 && x < field->width && line >= 0 && line < field->height) {
            white += field->luma[line * field->stride + (ptrdiff_t)x * field->step] > middle;
            all++;
        }
    }
    /* Six clocks of 18 may be a neighbour's or another cell's. */
    return all > 0 && (one ? 3 * white > all : 3 * (all - white) > all);
}

/* A bit is there when one of its row's lines shows it, or when it is one that is half. */
static int bits_shown(const struct field *field, const struct reading *reading, int shift) {
    uint8_t rows[SLATE_ROWS], younger_rows[SLATE_ROWS];
    struct slate younger = reading->slate;
    int shown = 0;
    younger.counter = (younger.counter + 1) & 63;
    slate_encode(&reading->slate, rows);
    slate_encode(reading->blended ? &younger : &reading->slate, younger_rows);
    for (int i = 0; i < SLATE_ROWS * SLATE_ROW_BITS; i++) {
        int row = i / SLATE_ROW_BITS, bit = i % SLATE_ROW_BITS, line = 0;
        bool one = rows[row] >> (7 - bit) & 1, half = (rows[row] ^ younger_rows[row]) >> (7 - bit) & 1;
        double from = SLATE_FIRST_CLOCK + bit * SLATE_BIT_CLOCKS + shift;
        while (!half && line < SLATE_ROW_LINES &&
               !shows(field, &reading->raster,
                      (int)reading->raster.top + SLATE_BAND_LINES + row * SLATE_ROW_LINES + line, from,
                      one)) {
            line++;
        }
        shown += line < SLATE_ROW_LINES;
    }
    return shown;
}

static void check_read(const struct field *field, const struct reading *reading, enum standard standard) {
    const struct raster *raster = &reading->raster;
    int best = 0;
    for (int shift = -2; shift <= 4; shift++) {
        int shown = bits_shown(field, reading, shift);
        best = shown > best ? shown : best;
    }
    must_be(best == SLATE_ROWS * SLATE_ROW_BITS, "a slate that is not there");
    must_be(raster->left > -2 && raster->left + 160 * raster->clock_width < field->width + 2,
            "raster outside");
    must_be(raster->white > raster->black, "no contrast");
    must_be(reading->lines >= 0 && reading->lines <= standard_plan_lines(standard), "lines");
    must_be(reading->lines + (int)raster->top + SLATE_LINES <= field->height, "lines beyond the field");
    must_be(reading->margin >= 0 && reading->margin <= 1, "margin");
    for (int line = 0; line < reading->lines; line++) {
        must_be((reading->lit[line] | reading->unclear[line]) >> 40 == 0, "a cell beyond the last");
    }
}

/* Fields of the judge's image that came out. */
static int read_one(struct frames *frames, struct judge *judge, const struct frame *frame,
                    enum standard standard) {
    struct field fields[2];
    struct reading readings[2];
    int good = 0, count = frames_read(frames, frame, fields, readings);
    must_be(count >= 0 && count <= 2, "number of fields");
    for (int i = 0; i < count; i++) {
        if (readings[i].state == FIELD_READ) {
            check_read(&fields[i], &readings[i], standard);
            good += readings[i].slate.hash == HASH;
        }
        judge_reading(judge, &readings[i], fields[i].frame_lines);
    }
    return good;
}

static void check_facts(const struct frames_facts *facts) {
    must_be(facts->fresh + facts->doubled == facts->read, "fields counted");
    must_be((facts->layout == LAYOUT_UNKNOWN) == (facts->read == 0), "a layout without a slate");
    must_be(facts->older >= -1 && facts->older <= 1 && facts->stale >= -1 && facts->stale <= 1, "places");
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count) {
    struct input input = {bytes, count};
    start();
    struct shape shape = shape_of(&input);
    struct picture_options options = {.standard = shape.standard};
    struct frames *frames = frames_new(&options);
    struct judge *judge = judge_new(plan, HASH);
    int good = 0;
    for (int n = 0; n < FRAMES_MAX && (n == 0 || input.count > 0); n++) {
        struct frame frame;
        unsigned opening = next_byte(&input);
        draw_made(&shape, opening);
        for (unsigned ops = next_byte(&input) & 15; ops > 0 && input.count > 0; ops--) {
            bend(&shape, &input);
        }
        uint8_t *memory = lay_out(&shape, &frame);
        frame.number = (uint64_t)n;
        good += read_one(frames, judge, &frame, shape.standard);
        free(memory);
    }
    check_facts(frames_facts(frames));
    judge_capture(judge, frames_facts(frames), &(struct video_counts){0});
    must_be(judge_result(judge)->verdict == VERDICT_INCONCLUSIVE || good >= JUDGE_GOOD_FIELDS,
            "a verdict without slates");
    judge_free(judge);
    frames_free(frames);
    return 0;
}
