#include "virtual/bench.h"

#include "virtual/console.h"
#include "virtual/grabber.h"
#include "virtual/noise.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { IMAGE_SMALL = 2048, IMAGE_LARGE = 4096, WARM_UP_FIELDS = 4 /* a grabber needs a few to lock [P] */ };

struct bench {
    struct virtual_options options;
    uint8_t image[IMAGE_LARGE];
    struct console *console;
    struct grabber *grabber;
    uint64_t fields, frames;
};

void virtual_defaults(enum standard standard, struct virtual_options *options) {
    *options = (struct virtual_options){
        .standard = standard,
        .seed = 1,
        .grabber = {.noise_db = HUGE_VAL,
                    .gain = 1,
                    .offset = 0,
                    .bandwidth_mhz = standard == STANDARD_NTSC ? 4.2 : 5.0, /* [S BT.470: 4.2 MHz M/NTSC; 5.0 MHz B, G/PAL] */
                    .left = 74.0},
        .faults = {.frozen_after = -1}};
    tia_chip_default(&options->faults.chip);
}

/* Twelve address lines: an image of 2 KiB is there twice. */
static uint8_t serve(void *state, uint16_t address) {
    const struct bench *bench = state;
    return bench->image[address & 0x0FFF];
}

static void field_into_frame(struct bench *bench, bool newer) {
    bool synced = console_run_field(bench->console, TIA_LINES_MAX);
    bool shown = synced && !bench->options.faults.no_video && bench->fields >= WARM_UP_FIELDS;
    grabber_field(bench->grabber, shown ? &bench->console->tia.field : NULL, newer);
    bench->fields++;
}

/* Once frozen, the very same samples go out again and again. */
static bool frozen(const struct bench *bench) {
    long after = bench->options.faults.frozen_after;
    return after >= 0 && bench->frames > 0 && bench->fields >= WARM_UP_FIELDS + 2 + (uint64_t)after;
}

static enum next next_frame(void *state, struct frame *frame, struct problem *problem) {
    struct bench *bench = state;
    (void)problem;
    if (!frozen(bench)) {
        field_into_frame(bench, false);
        field_into_frame(bench, true);
    }
    *frame = grabber_frame(bench->grabber);
    frame->number = bench->frames++;
    return NEXT_FRAME;
}

static void close_bench(void *state) {
    struct bench *bench = state;
    grabber_free(bench->grabber);
    free(bench->console);
    free(bench);
}

static void power_on(struct bench *bench) {
    struct cartridge cartridge = {.state = bench,
                                  .read = serve,
                                  .data_stuck_low = bench->options.faults.cart_low,
                                  .data_stuck_high = bench->options.faults.cart_high};
    console_power_on(bench->console, &bench->options.faults.chip, &cartridge, noise_seed(bench->options.seed));
}

bool virtual_open(const struct virtual_options *options, const uint8_t *image, size_t size,
                  struct video_source *source, struct problem *problem) {
    if (size != IMAGE_SMALL && size != IMAGE_LARGE) {
        return problem_set(problem, PROBLEM_INPUT, "bench virtual: an image of %zu bytes; it takes 2048 or 4096", size);
    }
    struct bench *bench = calloc(1, sizeof *bench);
    if (bench == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "bench virtual: out of memory");
    }
    bench->options = *options;
    memcpy(bench->image, image, size);
    memcpy(bench->image + IMAGE_LARGE - size, image, size);
    bench->console = calloc(1, sizeof *bench->console);
    bench->grabber = grabber_new(options->standard, &options->grabber, options->seed);
    if (bench->console == NULL || bench->grabber == NULL) {
        close_bench(bench);
        return problem_set(problem, PROBLEM_BENCH, "bench virtual: out of memory");
    }
    power_on(bench);
    *source = (struct video_source){.state = bench, .next = next_frame, .close = close_bench};
    return true;
}

void virtual_notes(const struct video_source *source, struct virtual_notes *notes) {
    *notes = (struct virtual_notes){0};
    if (source->next == next_frame) {
        const struct bench *bench = source->state;
        notes->unmodelled_writes = bench->console->unmodelled_writes;
        notes->unmodelled_last = bench->console->unmodelled_last;
        notes->fields = bench->fields;
    }
}
