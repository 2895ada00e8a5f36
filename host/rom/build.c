#include "rom/rom.h"

#include "rom/kernel.h"
#include "rom/listing.h"
#include "rom/prove.h"

#include "slotjig/slate.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

static bool can_hold(const struct plan *plan, struct problem *problem) {
    if (plan->step_count > KERNEL_STEPS_MAX) {
        return problem_set(problem, PROBLEM_INPUT,
                           "plan %s: %zu steps, and an image counts to %d; split the plan", plan->name,
                           plan->step_count, KERNEL_STEPS_MAX);
    }
    for (size_t i = 0; i < plan->step_count; i++) {
        if (!step_is_hold(&plan->steps[i])) {
            return problem_set(
                problem, PROBLEM_INPUT,
                "plan %s, step %s: registers that change further down the picture are not compiled in this "
                "version; `expect` shows them",
                plan->name, plan->steps[i].name);
        }
        for (int w = 0; w < plan->steps[i].bands[0].count; w++) {
            enum reg reg = plan->steps[i].bands[0].writes[w].reg;
            if (reg == REG_COLUP0 || reg == REG_COLUP1) {
                return problem_set(problem, PROBLEM_INPUT, "plan %s, step %s: %s stays white in this version",
                                   plan->name, plan->steps[i].name, reg_name(reg));
            }
        }
    }
    return true;
}

static bool emit(struct encoder *encoder, const struct plan *plan, size_t size, uint16_t hash, int hold,
                 struct problem *problem) {
    struct kernel_options options = {.plan = plan, .hash = hash, .hold = (uint16_t)hold};
    encoder_start(encoder, size);
    kernel_emit(encoder, &options);
    return encoder_finish(encoder, problem);
}

/* The hash is taken over the image as it is with hash and hold 0. */
static bool emit_with_hash(struct encoder *encoder, const struct plan *plan, size_t size, int hold,
                           uint16_t *hash, struct problem *problem) {
    if (!emit(encoder, plan, size, 0, 0, problem)) {
        return false;
    }
    *hash = (uint16_t)crc32(crc32(0, NULL, 0), encoder->bytes, (uInt)encoder->size);
    if (*hash == SLATE_HASH_IDLE) {
        *hash = 1;
    }
    return emit(encoder, plan, size, *hash, hold, problem);
}

static bool emit_smallest(struct encoder *encoder, const struct plan *plan, const struct rom_options *options,
                          uint16_t *hash, struct problem *problem) {
    if (options->size != 0) {
        return emit_with_hash(encoder, plan, options->size, options->hold, hash, problem);
    }
    return emit_with_hash(encoder, plan, 2048, options->hold, hash, NULL) ||
           emit_with_hash(encoder, plan, 4096, options->hold, hash, problem);
}

static bool fill(struct image *image, const struct encoder *encoder, enum standard standard,
                 struct problem *problem) {
    struct prove_limits limits = {.frame_lines = standard_lines(standard),
                                  .slate_from = RAM_SLATE,
                                  .slate_to = RAM_SLATE_END,
                                  .handover = HANDOVER_RAM};
    if (!prove(encoder, &limits, &image->account, problem)) {
        return false;
    }
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

bool rom_build(const struct plan *plan, const struct rom_options *options, struct image **image,
               struct problem *problem) {
    if (options->hold < HOLD_MIN || options->hold > HOLD_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "hold %d: give %d to %d fields", options->hold, HOLD_MIN,
                           HOLD_MAX);
    }
    if (!can_hold(plan, problem)) {
        return false;
    }
    struct encoder *encoder = malloc(sizeof *encoder);
    struct image *made = calloc(1, sizeof *made);
    bool good = encoder != NULL && made != NULL;
    if (!good) {
        problem_set(problem, PROBLEM_BENCH, "out of memory for the image");
    }
    good = good && emit_smallest(encoder, plan, options, &made->hash, problem) &&
           fill(made, encoder, plan->standard, problem);
    free(encoder);
    if (!good) {
        rom_free(made);
        return false;
    }
    *image = made;
    return true;
}

void rom_free(struct image *image) {
    if (image != NULL) {
        free(image->bytes);
        free(image->listing);
        free(image);
    }
}
