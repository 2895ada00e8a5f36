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

bool png_write(const char *path, const uint8_t *rgb, int width, int height, struct problem *problem) {
    if (width < 1 || height < 1) {
        return problem_set(problem, PROBLEM_INPUT, "%s: a picture of %d by %d has nothing to show", path,
                           width, height);
    }
    png_image image = image_of(width, height);
    /* The bound saves libpng from compressing twice only to learn the size. */
    png_alloc_size_t size = PNG_IMAGE_PNG_SIZE_MAX(image);
    void *bytes = malloc(size);
    if (bytes == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", path);
    }
    bool good =
        encode(&image, rgb, bytes, &size)
            ? output_write(path, bytes, size, problem)
            : problem_set(problem, PROBLEM_BENCH, "%s: cannot be made a PNG: %s", path, image.message);
    png_image_free(&image);
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
