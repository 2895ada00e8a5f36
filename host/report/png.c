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
    const bool good = encode(&image, rgb, made, &used) ||
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
