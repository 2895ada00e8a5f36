#include "rom/check.h"

#include "rom/check_fill.h"
#include "rom/check_kernel.h"
#include "rom/listing.h"
#include "rom/prove.h"
#include "slotjig/slate.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { CHECK_HOLD_MAX = 255 }; /* RAM_SHOWN_FOR is a byte */

/* An image with what its account points to. */
struct made {
    struct image image; /* first: rom_free() gets its address */
    char where[LABEL_MAX];
};

static bool emit(struct encoder *e, const struct plan *plan, int hold, int dark, uint16_t hash,
                 struct problem *problem) {
    const struct kernel_options kernel = {
        .plan = plan, .hash = hash, .hold = (uint16_t)hold, .dark = (uint8_t)dark};
    encoder_start(e, scheme_bank_bytes(plan->check.scheme));
    check_kernel_emit(e, &kernel);
    return encoder_finish(e, problem);
}

/* Over the program with hash and hold 0, before the banks are filled and sealed. Scheme and RAM are in it:
 * the first item says them. */
static uint16_t hash_of(const struct encoder *e) {
    const uint16_t hash = (uint16_t)crc32(crc32(0, NULL, 0), e->bytes, (uInt)e->size);
    return hash == SLATE_HASH_IDLE ? 1 : hash;
}

static bool account(struct made *made, const struct encoder *e, const struct plan *plan,
                    struct problem *problem) {
    const int window = check_window(plan->standard);
    const struct prove_limits limits = {.frame_lines = standard_lines(plan->standard),
                                        .slate_from = RAM_SLATE,
                                        .slate_to = RAM_SLATE_END,
                                        .handover = 0};
    struct rom_account *const account = &made->image.account;
    if (!prove(e, &limits, account, problem) ||
        !prove_work(e, &plan->check, window, &account->work, problem)) {
        return false;
    }
    account->window = window;
    snprintf(made->where, sizeof made->where, "%s", account->line_where);
    account->line_where = made->where;
    account->code_bytes = (int)e->code_bytes;
    account->table_bytes = (int)e->table_bytes;
    return true;
}

static bool lay_out(struct made *made, struct encoder *e, const struct cart_check *check,
                    struct problem *problem) {
    struct image *image = &made->image;
    image->size = scheme_bytes(check->scheme);
    image->bytes = malloc(image->size);
    if (image->bytes == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the image");
    }
    check_fill(e, check, image->bytes);
    const size_t before = image->size - e->size;
    memcpy(e->bytes, image->bytes + before, e->size);
    image->listing = listing_banks(e, image->bytes, before);
    return image->listing != NULL || problem_set(problem, PROBLEM_BENCH, "out of memory for the image");
}

static bool build(struct encoder *e, struct made *made, const struct plan *plan,
                  const struct rom_options *options, struct problem *problem) {
    if (!emit(e, plan, 0, 0, 0, problem)) {
        return false;
    }
    made->image.hash = hash_of(e);
    return emit(e, plan, options->hold, options->dark, made->image.hash, problem) &&
           account(made, e, plan, problem) && lay_out(made, e, &plan->check, problem);
}

bool check_build(const struct plan *plan, const struct rom_options *options, struct image **image,
                 struct problem *problem) {
    if (options->hold > CHECK_HOLD_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "plan %s: hold %d: give 1 to %d fields", plan->name,
                           options->hold, CHECK_HOLD_MAX);
    }
    if (options->size != 0 && options->size != scheme_bytes(plan->check.scheme)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "plan %s: the image of %s has %zu bytes; leave the size out", plan->name,
                           scheme_name(plan->check.scheme), scheme_bytes(plan->check.scheme));
    }
    struct encoder *e = malloc(sizeof *e);
    struct made *made = calloc(1, sizeof *made);
    bool good = e != NULL && made != NULL;
    if (!good) {
        problem_set(problem, PROBLEM_BENCH, "out of memory for the image");
    }
    good = good && build(e, made, plan, options, problem);
    free(e);
    if (!good) {
        rom_free(made == NULL ? NULL : &made->image);
        return false;
    }
    *image = &made->image;
    return true;
}
