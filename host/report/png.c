#include "report/png.h"

#include "base/output.h"

#include <png.h>
#include <stdlib.h>
#include <string.h>

static png_image image_of(int width, int height) {
    png_image image;
    memset(&image, 0, sizeof image);
    image.version = PNG_IMAGE_VERSION;
    image.width = (png_uint_32)width;
    image.height = (png_uint_32)height;
    image.format = PNG_FORMAT_RGB;
    return image;
}

static bool encode(png_image *image, const uint8_t *rgb, void *bytes, png_alloc_size_t *size) {
    return png_image_write_to_memory(image, bytes, size, 0, rgb, 0, NULL) != 0;
}

/* ---- pictures of few colours ---- */

enum { COLOURS_MAX = 256, PLACES = 1024 };

struct colours {
    uint8_t map[COLOURS_MAX * 3];
    int count;
    int16_t places[PLACES]; /* by a colour's hash: its number, or -1 */
};

/* The number of a colour, which may be new; -1: there are too many. */
static int number_of(struct colours *colours, const uint8_t *rgb) {
    size_t place = (rgb[0] * 67u + rgb[1] * 41u + rgb[2] * 13u) % PLACES;
    while (colours->places[place] >= 0) {
        const int number = colours->places[place];
        if (memcmp(colours->map + (size_t)number * 3, rgb, 3) == 0) {
            return number;
        }
        place = (place + 1) % PLACES;
    }
    if (colours->count == COLOURS_MAX) {
        return -1;
    }
    memcpy(colours->map + (size_t)colours->count * 3, rgb, 3);
    colours->places[place] = (int16_t)colours->count;
    return colours->count++;
}

/* The picture as numbers of its colours, to be freed; NULL where it has too many (or memory is short, which
 * only makes it larger). */
static uint8_t *by_number(const uint8_t *rgb, size_t pixels, struct colours *colours) {
    uint8_t *numbers = malloc(pixels);
    int number = 0;
    colours->count = 0;
    memset(colours->places, -1, sizeof colours->places);
    for (size_t i = 0; numbers != NULL && i < pixels && number >= 0; i++) {
        const uint8_t *now = rgb + i * 3;
        number = i > 0 && memcmp(now, now - 3, 3) == 0 ? number : number_of(colours, now);
        numbers[i] = (uint8_t)number;
    }
    if (number < 0) {
        free(numbers);
        return NULL;
    }
    return numbers;
}

/* ---- all pictures ---- */

static bool encode_best(png_image *image, const uint8_t *rgb, void *bytes, png_alloc_size_t *size) {
    struct colours colours;
    uint8_t *numbers = by_number(rgb, (size_t)image->width * image->height, &colours);
    image->flags = PNG_IMAGE_FLAG_FAST;
    if (numbers == NULL) {
        return encode(image, rgb, bytes, size);
    }
    image->format = PNG_FORMAT_RGB_COLORMAP;
    image->colormap_entries = (png_uint_32)colours.count;
    const bool good = png_image_write_to_memory(image, bytes, size, 0, numbers, 0, colours.map) != 0;
    free(numbers);
    return good;
}

bool png_bytes(const uint8_t *rgb, int width, int height, uint8_t **bytes, size_t *size,
               struct problem *problem) {
    *bytes = NULL;
    if (width < 1 || height < 1) {
        return problem_set(problem, PROBLEM_INPUT, "a picture of %d by %d has nothing to show", width,
                           height);
    }
    png_image image = image_of(width, height);
    /* The bound saves libpng from compressing twice only to learn the size. */
    png_alloc_size_t used = PNG_IMAGE_PNG_SIZE_MAX(image);
    uint8_t *made = malloc(used);
    if (made == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for a picture; close other programs");
    }
    const bool good = encode_best(&image, rgb, made, &used) ||
                      problem_set(problem, PROBLEM_BENCH, "cannot be made a PNG: %s", image.message);
    png_image_free(&image);
    if (!good) {
        free(made);
        return false;
    }
    *size = used;
    *bytes = realloc(made, used);
    if (*bytes == NULL) {
        *bytes = made;
    }
    return true;
}

bool png_write(const char *path, const uint8_t *rgb, int width, int height, struct problem *problem) {
    struct problem why = {0};
    uint8_t *bytes = NULL;
    size_t size = 0;
    if (!png_bytes(rgb, width, height, &bytes, &size, &why)) {
        return problem_set(problem, why.kind, "%s: %s", path, why.text);
    }
    const bool good = output_write(path, bytes, size, problem);
    free(bytes);
    return good;
}

size_t png_room(int width, int height) {
    png_image image = image_of(width, height);
    return PNG_IMAGE_PNG_SIZE_MAX(image);
}

size_t png_encode(const uint8_t *rgb, int width, int height, void *bytes, size_t room) {
    png_image image = image_of(width, height);
    image.flags = PNG_IMAGE_FLAG_FAST;
    png_alloc_size_t size = room;
    const bool good = width > 0 && height > 0 && encode(&image, rgb, bytes, &size);
    png_image_free(&image);
    return good ? size : 0;
}
