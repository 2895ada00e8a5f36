#include "rom/rom.h"

#include "rom/check.h"
#include "rom/idle.h"
#include "rom/kernel.h"
#include "rom/listing.h"
#include "rom/prove.h"

#include "slotjig/slate.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* An image with what its account points to. */
struct made {
    struct image image; /* first: rom_free() gets its address */
    char where[LABEL_MAX];
};

static bool can_colour(const struct plan *plan, const struct step *step, struct problem *problem) {
    for (size_t b = 0; b < step->band_count; b++) {
        for (int w = 0; w < step->bands[b].count; w++) {
            enum reg reg = step->bands[b].writes[w].reg;
            if (reg == REG_COLUP0 || reg == REG_COLUP1) {
                return problem_set(problem, PROBLEM_INPUT, "plan %s, step %s: %s stays white in this version",
                                   plan->name, step->name, reg_name(reg));
            }
        }
    }
    return true;
}

static bool can_compile(const struct plan *plan, struct problem *problem) {
    if (plan->step_count > KERNEL_STEPS_MAX) {
        return problem_set(problem, PROBLEM_INPUT,
                           "plan %s: %zu steps, and an image counts to %d; split the plan", plan->name,
                           plan->step_count, KERNEL_STEPS_MAX);
    }
    for (size_t i = 0; i < plan->step_count; i++) {
        if (!can_colour(plan, &plan->steps[i], problem)) {
            return false;
        }
    }
    return true;
}

static bool emit(struct encoder *encoder, const struct plan *plan, const struct rom_options *options,
                 uint16_t hash, struct problem *problem) {
    const struct kernel_options kernel = {
        .plan = plan, .hash = hash, .hold = (uint16_t)options->hold, .dark = (uint8_t)options->dark};
    encoder_start(encoder, options->size);
    kernel_emit(encoder, &kernel);
    return encoder_finish(encoder, problem);
}

/* options->size 0: the smaller that fits. */
static bool emit_smallest(struct encoder *encoder, const struct plan *plan, const struct rom_options *options,
                          uint16_t hash, struct problem *problem) {
    struct rom_options sized = *options;
    if (options->size != 0) {
        return emit(encoder, plan, &sized, hash, problem);
    }
    sized.size = 2048;
    if (emit(encoder, plan, &sized, hash, NULL)) {
        return true;
    }
    sized.size = 4096;
    return emit(encoder, plan, &sized, hash, problem);
}

/* The hash is taken over the image as it is with hash and hold 0, and without a dark start. */
static bool emit_image(struct encoder *encoder, const struct plan *plan, const struct rom_options *options,
                       uint16_t *hash, struct problem *problem) {
    const struct rom_options plain = {.size = options->size};
    if (!emit_smallest(encoder, plan, &plain, 0, problem)) {
        return false;
    }
    *hash = (uint16_t)crc32(crc32(0, NULL, 0), encoder->bytes, (uInt)encoder->size);
    if (*hash == SLATE_HASH_IDLE) {
        *hash = 1;
    }
    return emit_smallest(encoder, plan, options, *hash, problem);
}

static bool fill(struct made *made, const struct encoder *encoder, enum standard standard,
                 struct problem *problem) {
    struct prove_limits limits = {.frame_lines = standard_lines(standard),
                                  .slate_from = RAM_SLATE,
                                  .slate_to = RAM_SLATE_END,
                                  .handover = HANDOVER_RAM};
    struct image *image = &made->image;
    if (!prove(encoder, &limits, &image->account, problem)) {
        return false;
    }
    snprintf(made->where, sizeof made->where, "%s", image->account.line_where);
    image->account.line_where = made->where;
    image->account.code_bytes = (int)encoder->code_bytes;
    image->account.table_bytes = (int)encoder->table_bytes;
    image->size = encoder->size;
    image->bytes = malloc(image->size);
    image->listing = listing_text(encoder);
    if (image->bytes == NULL || image->listing == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the image");
    }
    memcpy(image->bytes, encoder->bytes, image->size);
    return true;
}

typedef bool (*emitter)(struct encoder *encoder, const struct plan *plan, const struct rom_options *options,
                        uint16_t *hash, struct problem *problem);

static bool build(const struct plan *plan, const struct rom_options *options, emitter emitted,
                  struct image **image, struct problem *problem) {
    struct encoder *encoder = malloc(sizeof *encoder);
    struct made *made = calloc(1, sizeof *made);
    bool good = encoder != NULL && made != NULL;
    if (!good) {
        problem_set(problem, PROBLEM_BENCH, "out of memory for the image");
    }
    good = good && emitted(encoder, plan, options, &made->image.hash, problem) &&
           fill(made, encoder, plan->standard, problem);
    free(encoder);
    if (!good) {
        rom_free(made == NULL ? NULL : &made->image);
        return false;
    }
    *image = &made->image;
    return true;
}

int rom_hold_least(const struct plan *plan) {
    return plan->kind == PLAN_EVERY || plan->kind == PLAN_CARTRIDGE ? 1 : HOLD_MIN;
}

bool rom_build(const struct plan *plan, const struct rom_options *options, struct image **image,
               struct problem *problem) {
    /* A console can count on each field; how many a judge needs of each picture is rom_hold_least(). */
    const int least = plan_counts(plan) ? 1 : HOLD_MIN;
    if (options->hold < least || options->hold > HOLD_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "hold %d: give %d to %d fields", options->hold, least,
                           HOLD_MAX);
    }
    if (options->dark < 0 || options->dark > DARK_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "a dark start of %d fields: give 0 to %d", options->dark,
                           DARK_MAX);
    }
    if (plan->kind == PLAN_CARTRIDGE) {
        return check_build(plan, options, image, problem);
    }
    return can_compile(plan, problem) && build(plan, options, emit_image, image, problem);
}

static bool emit_idle(struct encoder *encoder, const struct plan *plan, const struct rom_options *options,
                      uint16_t *hash, struct problem *problem) {
    *hash = SLATE_HASH_IDLE;
    return emit(encoder, plan, options, *hash, problem);
}

bool rom_build_idle(struct image **image, struct problem *problem) {
    const struct rom_options options = {.hold = HOLD_MAX, .size = 2048};
    struct plan *plan = idle_plan(problem);
    const bool good = plan != NULL && build(plan, &options, emit_idle, image, problem);
    if (plan != NULL) {
        plan_free(plan);
    }
    return good;
}

void rom_free(struct image *image) {
    if (image != NULL) {
        free(image->bytes);
        free(image->listing);
        free(image);
    }
}
