#include "record/whole.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* What measures are kept to. */
#define KEPT_MARGIN 1e-4
#define KEPT_OFFSET 1e-3
#define KEPT_LEVEL 1e-4
#define KEPT_CHROMA 1e-2
#define KEPT_MINUTES 1e-2
#define KEPT_DECIBELS 1e-2
#define KEPT_PLACE 1e-3 /* samples, lines */
#define KEPT_SLOPE 1e-6 /* samples a clock, a line */
#define KEPT_CODES 1e-2

static bool differs(char *why, size_t size, const char *format, ...) __attribute__((format(printf, 3, 4)));
static bool differs(char *why, size_t size, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(why, size, format, arguments);
    va_end(arguments);
    return false;
}

static bool near(double a, double b, double kept) {
    return fabs(a - b) <= kept / 2 + 1e-9;
}

#define SAME_NUMBER(field)                                                                                   \
    if (put->field != got->field) {                                                                          \
        return differs(why, size, "%s: put %.17g, got %.17g", #field, (double)put->field,                    \
                       (double)got->field);                                                                  \
    }
#define SAME_TEXT(field)                                                                                     \
    if (got->field == NULL || strcmp(put->field, got->field) != 0) {                                         \
        return differs(why, size, "%s: put \"%s\", got \"%s\"", #field, put->field,                          \
                       got->field == NULL ? "(nothing)" : got->field);                                       \
    }
#define SAME_KEPT(field, kept)                                                                               \
    if (!near(put->field, got->field, kept)) {                                                               \
        return differs(why, size, "%s: put %.9g, got %.9g", #field, put->field, got->field);                 \
    }

static bool same_colour(const struct cell_colour *put, const struct cell_colour *got, char *why,
                        size_t size) {
    SAME_NUMBER(count)
    SAME_KEPT(level, KEPT_LEVEL)
    SAME_KEPT(cb, KEPT_CHROMA)
    SAME_KEPT(cr, KEPT_CHROMA)
    return true;
}

static bool same_step(const struct step_result *put, const struct step_result *got, char *why, size_t size) {
    SAME_NUMBER(verdict)
    SAME_NUMBER(fields)
    SAME_NUMBER(failed)
    SAME_KEPT(margin, KEPT_MARGIN)
    SAME_NUMBER(expected)
    SAME_NUMBER(sure)
    SAME_NUMBER(seen)
    SAME_NUMBER(unclear)
    SAME_KEPT(offset, KEPT_OFFSET)
    SAME_NUMBER(wrong_line)
    return same_colour(&put->lit_colour, &got->lit_colour, why, size) &&
           same_colour(&put->dark_colour, &got->dark_colour, why, size);
}

static bool same_finding(const struct finding *put, const struct finding *got, char *why, size_t size) {
    SAME_NUMBER(kind)
    SAME_NUMBER(reg)
    SAME_NUMBER(bit)
    SAME_NUMBER(alternative)
    SAME_NUMBER(explanation)
    SAME_NUMBER(rate)
    SAME_NUMBER(rate_low)
    SAME_NUMBER(rate_high)
    SAME_TEXT(text)
    SAME_TEXT(next)
    return true;
}

static bool same_blob(const struct record_blob *put, const struct record_blob *got, char *why, size_t size) {
    SAME_TEXT(name)
    SAME_TEXT(type)
    SAME_NUMBER(size)
    if (memcmp(put->bytes, got->bytes, put->size) != 0) {
        return differs(why, size, "bytes of %s", put->name);
    }
    return true;
}

static bool same_plan_step(const struct record_plan_step *put, const struct record_plan_step *got, char *why,
                           size_t size) {
    SAME_TEXT(name)
    SAME_TEXT(mode)
    SAME_NUMBER(expected)
    SAME_NUMBER(sure)
    SAME_NUMBER(bands)
    if (memcmp(put->registers, got->registers, sizeof put->registers) != 0) {
        return differs(why, size, "registers of %s", put->name);
    }
    return true;
}

static bool same_plan(const struct record_plan *put, const struct record_plan *got, char *why, size_t size) {
    SAME_TEXT(id)
    SAME_TEXT(name)
    SAME_TEXT(text)
    SAME_NUMBER(standard)
    SAME_NUMBER(kind)
    SAME_NUMBER(step_count)
    for (size_t i = 0; i < put->step_count; i++) {
        if (!same_plan_step(&put->steps[i], &got->steps[i], why, size)) {
            return false;
        }
    }
    return true;
}

static bool same_origin(const struct record_run *put, const struct record_run *got, char *why, size_t size) {
    SAME_NUMBER(started_ms)
    SAME_NUMBER(took_ms)
    SAME_KEPT(minutes_on, KEPT_MINUTES)
    SAME_TEXT(station)
    SAME_TEXT(bench)
    SAME_TEXT(console.name)
    SAME_TEXT(console.revision)
    SAME_TEXT(console.markings)
    SAME_TEXT(console.modifications)
    SAME_TEXT(cartridge.kind)
    SAME_TEXT(cartridge.serial)
    SAME_TEXT(cartridge.firmware)
    SAME_TEXT(tool)
    SAME_NUMBER(image_hash)
    SAME_TEXT(settings)
    SAME_NUMBER(seed)
    SAME_NUMBER(has_seed)
    SAME_TEXT(command)
    SAME_NUMBER(seen_by_eye)
    SAME_NUMBER(item)
    SAME_NUMBER(attempt)
    return true;
}

static bool same_end(const struct record_run *put, const struct record_run *got, char *why, size_t size) {
    SAME_NUMBER(end)
    SAME_NUMBER(exit)
    SAME_KEPT(margin, KEPT_MARGIN)
    SAME_NUMBER(fields_seen)
    SAME_NUMBER(fields_judged)
    SAME_NUMBER(fields_unreadable)
    SAME_NUMBER(coverage.seen)
    SAME_NUMBER(coverage.of)
    SAME_NUMBER(coverage.wrong)
    SAME_NUMBER(coverage.open)
    SAME_KEPT(noise_db, KEPT_DECIBELS)
    SAME_NUMBER(has_raster)
    SAME_KEPT(raster.left, KEPT_PLACE)
    SAME_KEPT(raster.top, KEPT_PLACE)
    SAME_KEPT(raster.clock_width, KEPT_SLOPE)
    SAME_KEPT(raster.black, KEPT_CODES)
    SAME_KEPT(raster.white, KEPT_CODES)
    SAME_KEPT(raster.slant, KEPT_SLOPE)
    SAME_NUMBER(frame_lines)
    SAME_TEXT(problem)
    SAME_NUMBER(step_count)
    SAME_NUMBER(finding_count)
    SAME_NUMBER(trouble_count)
    SAME_NUMBER(blob_count)
    return true;
}

static bool in(size_t index, const char *what, char *why, size_t size) {
    char inner[200];
    snprintf(inner, sizeof inner, "%s", why);
    return differs(why, size, "%s %zu: %s", what, index, inner);
}

bool whole_same(const struct record_run *put, const struct record_run *got, char *why, size_t size) {
    if (!same_origin(put, got, why, size) || !same_end(put, got, why, size) ||
        !same_plan(put->plan, got->plan, why, size)) {
        return false;
    }
    for (size_t i = 0; i < put->step_count; i++) {
        if (!same_step(&put->steps[i], &got->steps[i], why, size)) {
            return in(i, "step", why, size);
        }
    }
    for (size_t i = 0; i < put->finding_count; i++) {
        if (!same_finding(&put->findings[i], &got->findings[i], why, size)) {
            return in(i, "finding", why, size);
        }
    }
    for (size_t i = 0; i < put->trouble_count; i++) {
        if (!same_finding(&put->troubles[i], &got->troubles[i], why, size)) {
            return in(i, "trouble", why, size);
        }
    }
    for (size_t i = 0; i < put->blob_count; i++) {
        if (!same_blob(&put->blobs[i], &got->blobs[i], why, size)) {
            return in(i, "blob", why, size);
        }
    }
    return true;
}
