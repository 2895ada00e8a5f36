/*
 * PNG of any kind, by libpng's simplified interface; what is transparent shows black. No palette of a chip is
 * used: luminance by step of luma, hue by angle in the plane of colour differences, 24 degrees a hue from
 * where the colour burst lies, towards -Cb [H 4.0: 15 hues; M: where they begin], grey where there is little
 * colour.
 */
#include "plan/art.h"

#include <math.h>
#include <png.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CHANNELS = 3, HUES = 15, COLOURS_MOST = 3 /* a row: one too many */ };

#define GREY 0.04 /* of full scale: colour differences below are grey's */

/* Y' and colour differences [S ITU-R BT.601]: Y' 0..1, Cb and Cr -0.5..0.5. */
static int colour_code(const uint8_t *rgb) {
    const double red = rgb[0] / 255.0, green = rgb[1] / 255.0, blue = rgb[2] / 255.0;
    const double luma = 0.299 * red + 0.587 * green + 0.114 * blue;
    const double cb = (blue - luma) / 1.772, cr = (red - luma) / 1.402;
    const int level = (int)lround(luma * 7);
    int hue = 0;
    if (hypot(cb, cr) >= GREY) {
        const double degrees = atan2(-cr, -cb) * 180 / M_PI;
        hue = (int)lround(degrees / (360.0 / HUES));
        hue = (hue + HUES) % HUES + 1;
    }
    return hue << 4 | level << 1;
}

/* The row's different colours as they stand in the file; returns how many, at most COLOURS_MOST. */
static int row_colours(const uint8_t *pixels, const uint8_t *found[COLOURS_MOST]) {
    int count = 0;
    for (int cell = 0; cell < CELLS && count < COLOURS_MOST; cell++) {
        const uint8_t *pixel = pixels + CHANNELS * cell;
        bool known = false;
        for (int i = 0; i < count; i++) {
            known = known || memcmp(found[i], pixel, CHANNELS) == 0;
        }
        if (!known) {
            found[count++] = pixel;
        }
    }
    return count;
}

static int level_of(int colour) {
    return colour >> 1 & 7;
}

/* Of one colour: lit where the upper half of the levels is. */
static struct art_row row_of(const uint8_t *pixels, const uint8_t *const found[COLOURS_MOST], int count) {
    const int first = colour_code(found[0]), second = count > 1 ? colour_code(found[1]) : first;
    const bool first_lit = count > 1 ? level_of(first) >= level_of(second) : level_of(first) > 3;
    struct art_row row = {.lit_colour = ART_ANY, .dark_colour = ART_ANY};
    for (int cell = 0; cell < CELLS; cell++) {
        const bool is_first = memcmp(pixels + CHANNELS * cell, found[0], CHANNELS) == 0;
        row.lit |= (uint64_t)(is_first == first_lit) << cell;
    }
    if (count > 1 || first_lit) {
        row.lit_colour = first_lit ? first : second;
    }
    if (count > 1 || !first_lit) {
        row.dark_colour = first_lit ? second : first;
    }
    return row;
}

static bool rows_of(const char *path, const uint8_t *pixels, struct art *art, struct problem *problem) {
    bool many[PICTURE_LINES_MAX] = {0};
    int wrong = 0;
    for (int i = 0; i < art->rows; i++) {
        const uint8_t *found[COLOURS_MOST] = {NULL};
        const uint8_t *row = pixels + (size_t)i * CHANNELS * CELLS;
        const int count = row_colours(row, found);
        many[i] = count >= COLOURS_MOST;
        wrong += many[i];
        art->row[i] = row_of(row, found, count);
    }
    if (wrong > 0) {
        char text[360];
        art_rows_text(many, art->rows, text, sizeof text);
        return problem_set(problem, PROBLEM_INPUT, "%.150s: row%s %s: three colours or more; a row has two",
                           path, wrong == 1 ? "" : "s", text);
    }
    return true;
}

bool art_png(const char *path, const uint8_t *bytes, size_t size, int rows_most, struct art *art,
             struct problem *problem) {
    static const png_color black = {0, 0, 0};
    png_image image = {.version = PNG_IMAGE_VERSION};
    uint8_t *pixels = NULL;
    bool good = png_image_begin_read_from_memory(&image, bytes, size) != 0;
    if (good && !art_check_size(path, image.width, image.height, rows_most, problem)) {
        png_image_free(&image);
        return false;
    }
    image.format = PNG_FORMAT_RGB;
    if (good) {
        pixels = malloc(PNG_IMAGE_SIZE(image));
        good = pixels != NULL && png_image_finish_read(&image, &black, pixels, 0, NULL) != 0;
    }
    if (!good) {
        problem_set(problem, PROBLEM_INPUT, "%.200s: no PNG that can be read: %s", path,
                    image.message[0] == '\0' ? "out of memory" : image.message);
    } else {
        art->rows = (int)image.height;
        good = rows_of(path, pixels, art, problem);
    }
    free(pixels);
    png_image_free(&image);
    return good;
}
