/* Console and grabber, without a judge, for each named set: fields a second on one core. */
#include "rom/rom.h"
#include "virtual/bench.h"

#include <stdio.h>
#include <time.h>

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

static bool measure(const struct image *image, const char *set) {
    enum { FIELDS = 600 };
    const double real =
        standard_table[STANDARD_NTSC].clock_hz / (LINE_CLOCKS * standard_lines(STANDARD_NTSC));
    struct virtual_options options;
    struct video_source source;
    struct problem problem;
    struct virtual_notes notes = {0};
    virtual_defaults(STANDARD_NTSC, &options);
    if (!virtual_use_set(&options, set, &problem) ||
        !virtual_open(&options, image->bytes, image->size, &source, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        return false;
    }
    const double start = now();
    while (notes.fields < FIELDS) {
        struct frame frame;
        if (source.next(source.state, &frame, &problem) != NEXT_FRAME) {
            return false;
        }
        virtual_notes(&source, &notes);
    }
    const double rate = (double)notes.fields / (now() - start);
    printf("set_%s %.0f fields/s\nset_%s_real_time %.1f times\n", set, rate, set, rate / real);
    source.close(source.state);
    return true;
}

int main(void) {
    struct plan *plan;
    struct image *image;
    struct problem problem;
    struct rom_options rom = {.hold = 4};
    bool good = plan_open("bits", STANDARD_NTSC, &plan, &problem) && rom_build(plan, &rom, &image, &problem);
    for (const struct grabber_set *set = virtual_sets; good && set->name != NULL; set++) {
        good = measure(image, set->name);
    }
    if (!good) {
        return 1;
    }
    rom_free(image);
    plan_free(plan);
    return 0;
}
