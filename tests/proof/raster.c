/*
 * Where the raster is found beside where the virtual grabber truly put it: left and right edge, rms over
 * fields of many seeds. Asked: within 0.1 sample at 30 dB. The sets at their own strength are told beside it;
 * where lines jitter, the truth is that of the grabber's clock. SLOTJIG_SEED.
 */
#include "picture/frames.h"
#include "proof/pool.h"
#include "rom/rom.h"
#include "virtual/bench.h"
#include "virtual/grabber.h"

#include <math.h>

enum { SEEDS = 100, FRAMES = 12, KINDS_MAX = 40 };

static uint64_t first_seed;

struct kind {
    char name[48];
    const char *set;
    enum standard standard;
    double noise_db, bandwidth, shift; /* 0: the set's own */
    const char *impairment;            /* beside the set's; NULL: none */
    bool asked;
};

static struct kind kinds[KINDS_MAX];
static int kind_count;

struct sums {
    double left, right, slant; /* of squares */
    int fields;
};

static void measure(size_t index, void *out) {
    struct sums *sums = out;
    const struct kind *kind = &kinds[index / SEEDS];
    struct virtual_options options;
    struct problem problem = {0};
    struct plan *plan = NULL;
    struct image *image = NULL;
    struct video_source source;
    struct rom_options rom = {.hold = 4};
    struct picture_options picture = {.standard = kind->standard, .unclear_below = PICTURE_UNCLEAR};
    virtual_defaults(kind->standard, &options);
    options.seed = first_seed + index;
    bool good = virtual_use_set(&options, kind->set, &problem) &&
                (kind->impairment == NULL || virtual_add_impairment(&options, kind->impairment, &problem));
    options.grabber.noise_db = kind->noise_db > 0 ? kind->noise_db : options.grabber.noise_db;
    options.grabber.left += kind->asked ? (double)(index % 16) / 16 : 0; /* every phase of the samples */
    struct grabber_truth truth = grabber_truth(kind->standard, &options.grabber);
    struct frames *frames = frames_new(&picture);
    good = good && frames != NULL && plan_open("bits", kind->standard, &plan, &problem) &&
           rom_build(plan, &rom, &image, &problem) &&
           virtual_open(&options, image->bytes, image->size, &source, &problem);
    if (!good) {
        fprintf(stderr, "%s: %s\n", kind->name, problem.text);
        exit(3);
    }
    for (int i = 0; i < FRAMES; i++) {
        struct frame frame;
        struct field fields[2];
        struct reading readings[2];
        if (source.next(source.state, &frame, &problem) != NEXT_FRAME) {
            break;
        }
        int count = frames_read(frames, &frame, fields, readings);
        for (int f = 0; f < count; f++) {
            if (readings[f].state == FIELD_READ) {
                const struct raster *raster = &readings[f].raster;
                sums->left += pow(raster->left - truth.left, 2);
                sums->right += pow(raster->left + PICTURE_CLOCKS * raster->clock_width - truth.right, 2);
                sums->slant += pow(raster->slant - truth.slant, 2);
                sums->fields++;
            }
        }
    }
    source.close(source.state);
    frames_free(frames);
    rom_free(image);
    plan_free(plan);
}

static void add(const char *name, const struct kind *kind) {
    kinds[kind_count] = *kind;
    snprintf(kinds[kind_count++].name, sizeof kinds[0].name, "%s", name);
}

static void list(void) {
    static const struct {
        const char *name, *impairment;
        enum standard standard;
    } asked[] = {{"30 dB, NTSC", NULL, STANDARD_NTSC},
                 {"30 dB, PAL", NULL, STANDARD_PAL},
                 {"30 dB, 640 wide", "width=640", STANDARD_NTSC},
                 {"30 dB, 704 wide", "width=704", STANDARD_NTSC},
                 {"30 dB, 2.5 MHz", "bandwidth=2.5", STANDARD_NTSC},
                 {"30 dB, slant 0.02", "slant=0.02", STANDARD_NTSC},
                 {"30 dB, scale 0.97", "scale=0.97", STANDARD_NTSC}};
    for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++) {
        add(asked[i].name, &(struct kind){.set = "clean",
                                          .standard = asked[i].standard,
                                          .noise_db = 30,
                                          .impairment = asked[i].impairment,
                                          .asked = true});
    }
    for (const struct grabber_set *set = virtual_sets; set->name != NULL && kind_count < KINDS_MAX; set++) {
        char name[48];
        snprintf(name, sizeof name, "set %s", set->name);
        add(name, &(struct kind){.set = set->name, .standard = STANDARD_NTSC});
    }
}

int main(void) {
    static struct sums parts[KINDS_MAX * SEEDS];
    const char *told = getenv("SLOTJIG_SEED");
    first_seed = told != NULL ? strtoull(told, NULL, 10) : 1;
    list();
    bool good = pool_run((size_t)kind_count * SEEDS, measure, parts, sizeof parts[0]);
    printf("Raster beside the truth, %d seeds from %llu (SLOTJIG_SEED), samples rms\n\n| video | fields | "
           "left | right | slant, samples a line |\n"
           "| --- | ---: | ---: | ---: | ---: |\n",
           SEEDS, (unsigned long long)first_seed);
    for (int kind = 0; kind < kind_count; kind++) {
        struct sums all = {0};
        for (int i = 0; i < SEEDS; i++) {
            const struct sums *part = &parts[kind * SEEDS + i];
            all.left += part->left;
            all.right += part->right;
            all.slant += part->slant;
            all.fields += part->fields;
        }
        double left = sqrt(all.left / all.fields), right = sqrt(all.right / all.fields);
        bool right_enough = all.fields > 0 && left <= 0.1 && right <= 0.1;
        printf("| %s | %d | %.3f | %.3f | %.4f |%s\n", kinds[kind].name, all.fields, left, right,
               sqrt(all.slant / all.fields), kinds[kind].asked && !right_enough ? " NOT as asked" : "");
        good = good && (!kinds[kind].asked || right_enough);
    }
    return good ? 0 : 1;
}
