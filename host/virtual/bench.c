#include "virtual/bench.h"

#include "virtual/console.h"
#include "virtual/grabber.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SMALL_IMAGE = 2048, LARGE_IMAGE = 4096 };

struct bench {
    struct console console;
    uint8_t rom[LARGE_IMAGE];
    struct grabber *grabber;
    bool no_video;
    long frozen_after;
    uint64_t frames, fields;
};

void virtual_defaults(enum standard standard, struct virtual_options *options) {
    *options = (struct virtual_options){
        .standard = standard,
        .seed = 1,
        .grabber = {.noise_db = HUGE_VAL,
                    .gain = 1,
                    .offset = 0,
                    .bandwidth_mhz = standard == STANDARD_NTSC ? 4.2 : 5.0,
                    .left = 74.0},
        .faults = {.frozen_after = -1},
    };
    tia_chip_default(&options->faults.chip);
}

static uint8_t read_rom(void *state, uint16_t address, uint8_t bus) {
    (void)bus;
    const struct bench *bench = state;
    return bench->rom[address & (LARGE_IMAGE - 1)];
}

/* A field already taken stays until its place in the frame is overwritten: a frozen source gives the same
 * bytes again and again. */
static bool is_frozen(const struct bench *bench) {
    return bench->frames > 0 && bench->frozen_after >= 0 && bench->fields >= (uint64_t)bench->frozen_after;
}

static enum next next_frame(void *state, struct frame *frame, struct problem *problem) {
    struct bench *bench = state;
    (void)problem;
    if (!is_frozen(bench)) {
        for (int which = 0; which < 2; which++) {
            console_run_field(&bench->console, TIA_LINES_MAX);
            bench->fields++;
            grabber_take(bench->grabber, bench->no_video ? NULL : &bench->console.tia.field, which);
        }
    }
    grabber_frame(bench->grabber, frame);
    frame->number = bench->frames++;
    return NEXT_FRAME;
}

static void close_bench(void *state) {
    struct bench *bench = state;
    grabber_free(bench->grabber);
    free(bench);
}

static void insert(struct bench *bench, const uint8_t *image, size_t size) {
    for (size_t at = 0; at < LARGE_IMAGE; at += size) {
        memcpy(bench->rom + at, image, size);
    }
}

static void power_on(struct bench *bench, const struct virtual_options *options) {
    struct cartridge cartridge = {.state = bench,
                                  .read = read_rom,
                                  .data_stuck_low = options->faults.cart_low,
                                  .data_stuck_high = options->faults.cart_high};
    console_power_on(&bench->console, &options->faults.chip, &cartridge, options->seed);
}

bool virtual_open(const struct virtual_options *options, const uint8_t *image, size_t size,
                  struct video_source *source, struct problem *problem) {
    static const uint64_t apart = UINT64_C(0x6E6F697365);
    if (size != SMALL_IMAGE && size != LARGE_IMAGE) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "virtual bench: an image of %zu bytes does not fit the slot; it takes 2048 or 4096", size);
    }
    struct bench *bench = calloc(1, sizeof *bench);
    if (bench == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "virtual bench: out of memory; close other programs");
    }
    /* another seed than the console's, so that the two do not draw the same numbers */
    bench->grabber = grabber_new(options->standard, &options->grabber, options->seed ^ apart, problem);
    if (bench->grabber == NULL) {
        free(bench);
        return false;
    }
    bench->no_video = options->faults.no_video;
    bench->frozen_after = options->faults.frozen_after;
    insert(bench, image, size);
    power_on(bench, options);
    *source = (struct video_source){.state = bench, .next = next_frame, .close = close_bench};
    return true;
}

void virtual_notes(const struct video_source *source, struct virtual_notes *notes) {
    const struct bench *bench = source->state;
    *notes = (struct virtual_notes){.unmodelled_writes = bench->console.unmodelled_writes,
                                    .unmodelled_last = bench->console.unmodelled_last,
                                    .fields = bench->fields};
}
