/* What the grabber may do to the picture, as texts. The named sets of them are in grabber_sets.c. */
#include "virtual/bench.h"
#include "virtual/geometry.h"
#include "virtual/words.h"

#include <stddef.h>
#include <stdio.h>
#include <string.h>

const struct fault_spelling virtual_impairment_spellings[] = {
    {"layout=woven", "how fields lie in frames: woven, stacked, single, bobbed or blended"},
    {"older=top", "which of two fields in a frame is the older one: top or bottom"},
    {"stale=bottom", "woven or stacked, the top or bottom field stands still since the lock and the other is "
                     "new in each frame, 50 or 60 a second; bottom:30: taken anew every 30 fields"},
    {"pairs", "every frame is given twice"},
    {"half-black=lower", "the top or bottom field, or the upper or lower half of the frame, is black"},
    {"crop=8:8:0:0",
     "samples left and right (0-160), lines top and bottom (0-100), all even, that frames lose"},
    {"width=640", "samples a line: 640 (square), 704 (the same part of the line) or 720"},
    {"chroma=420", "colour of every line (422) or of the mean of two (420)"},
    {"mjpeg=60", "compressed and decompressed, with a JPEG quality of 1-100"},
    {"noise=34", "white noise of the luma: black-to-white over rms, 0-200 dB"},
    {"chroma-noise=30", "the same of each colour difference"},
    {"gain=0.9", "of the luma, 0.01-4"},
    {"offset=0.05", "added to the luma, -1 to 1 of black-to-white"},
    {"agc=0.05:4", "automatic gain hunts: swings by this share (0-0.5) once in so many seconds (0.1-1000)"},
    {"clip=1:0", "luma ends at these levels, white (0.1-2) and black (-1 to 0.9)"},
    {"bandwidth=3", "of the luma, -3 dB, 0.5-6.75 MHz"},
    {"sharpen=0.1", "edges overshoot by this share, 0-1"},
    {"ghost=0.1:1.5", "an echo of this share (-0.5 to 0.5) comes so many microseconds (0-20) later"},
    {"hum=0.05:60", "a hum bar of this level (0-0.5) and frequency (0-1000 Hz; without one the mains')"},
    {"no-colour", "the colour is not decoded"},
    {"cross=0.2",
     "this share of the colour (0-0.9) is missing from it and stays in the luma as fine stripes"},
    {"chroma-bandwidth=0.6", "of the colour, -3 dB, 0.25-3 MHz"},
    {"chroma-delay=3", "samples that the colour comes after the luma, -30 to 30"},
    {"left=74", "sample at which the picture begins, -720 to 720"},
    {"jitter=0.3", "lines lie this many samples (rms, 0-5) beside their place"},
    {"slant=0.02", "each line lies this many samples (-0.1 to 0.1) to the right of the one above"},
    {"scale=0.998", "horizontal, about the middle, 0.9-1.1"},
    {"shift=5.5:2", "samples to the right (-100 to 100) and lines of a field down (-20 to 20)"},
    {"comb=0.3", "lines are mixed with this share (0-0.5) of both neighbours, or, as in 0.3:adaptive, of the "
                 "one more like them"},
    {"drop=0.02", "this share of fields (0-0.5) is lost"},
    {"double=0.02", "this share of fields (0-0.5) is seen twice"},
    {"swap=0.02", "this share of fields (0-0.5) changes places with the next"},
    {"burst=1000:200",
     "from that field on (0-10000000, counted from 0) so many (1-100000) are lost, all of them"},
    {"slip", "fields go out by the grabber's own clock: one is lost or repeated now and then"},
    {NULL, NULL},
};

/* What is wrong with the value, or NULL. */
typedef const char *(*taker)(struct virtual_options *options, char *value);

static int choice(const char *value, const char *const *words) {
    for (int i = 0; words[i] != NULL; i++) {
        if (strcmp(value, words[i]) == 0) {
            return i;
        }
    }
    return -1;
}

static const char *take_layout(struct virtual_options *options, char *value) {
    static const char *const words[] = {"woven", "stacked", "single", "bobbed", "blended", NULL};
    int which = choice(value, words);
    options->grabber.layout = (enum grabber_layout)(which < 0 ? 0 : which);
    return which < 0 ? "it takes woven, stacked, single, bobbed or blended" : NULL;
}

static bool take_part(const char *value, bool halves, enum grabber_part *part) {
    static const char *const words[] = {"", "top", "bottom", "upper", "lower", NULL};
    int which = choice(value, words);
    *part = (enum grabber_part)which;
    return which > GRABBER_NONE && (halves || which <= GRABBER_BOTTOM);
}

static const char *take_older(struct virtual_options *options, char *value) {
    return take_part(value, false, &options->grabber.older) ? NULL : "it takes top or bottom";
}

static const char *take_stale(struct virtual_options *options, char *value) {
    long fields = 0;
    const char *text = word_cut(value, ':');
    if (!take_part(value, false, &options->grabber.stale) ||
        (text != NULL && !word_whole(text, 1, 1000000, &fields))) {
        return "it takes top or bottom, and after a colon a number of fields, 1 to 1000000";
    }
    options->grabber.stale_fields = (int)fields;
    return NULL;
}

static const char *take_half_black(struct virtual_options *options, char *value) {
    return take_part(value, true, &options->grabber.half_black) ? NULL
                                                                : "it takes top, bottom, upper or lower";
}

static const char *take_crop(struct virtual_options *options, char *value) {
    for (int side = 0; side < 4; side++) {
        long samples;
        char *rest = value == NULL ? NULL : word_cut(value, ':');
        if (value == NULL || !word_whole(value, 0, 10000, &samples) || (side == 3 && rest != NULL)) {
            return "it takes four whole numbers with colons between them: left, right, top, bottom";
        }
        options->grabber.crop[side] = (int)samples;
        value = rest;
    }
    return NULL;
}

static const char *take_int(const char *value, int *number) {
    long whole = 0;
    bool good = word_whole(value, 0, 100000, &whole);
    *number = (int)whole;
    return good ? NULL : "it takes a whole number";
}

static const char *take_width(struct virtual_options *options, char *value) {
    return take_int(value, &options->grabber.width);
}

static const char *take_chroma(struct virtual_options *options, char *value) {
    return take_int(value, &options->grabber.chroma);
}

static const char *take_mjpeg(struct virtual_options *options, char *value) {
    const char *wrong = take_int(value, &options->grabber.mjpeg);
    return wrong == NULL && options->grabber.mjpeg == 0 ? "it takes a quality of 1 to 100" : wrong;
}

static const char *take_clip(struct virtual_options *options, char *value) {
    const char *black = word_cut(value, ':');
    if (!word_number(value, &options->grabber.clip_white) ||
        (black != NULL && !word_number(black, &options->grabber.clip_black))) {
        return "it takes the level of white, and after a colon that of black";
    }
    return NULL;
}

static const char *take_shift(struct virtual_options *options, char *value) {
    double lines = 0;
    const char *text = word_cut(value, ':');
    if (!word_number(value, &options->grabber.shift) ||
        (text != NULL && (!word_number(text, &lines) || lines < -20 || lines > 20 || lines > (int)lines ||
                          lines < (int)lines))) {
        return "it takes samples, and after a colon whole lines, -20 to 20";
    }
    options->grabber.shift_lines = (int)lines;
    return NULL;
}

static const char *take_comb(struct virtual_options *options, char *value) {
    const char *how = word_cut(value, ':');
    options->grabber.comb_adaptive = how != NULL;
    if (!word_number(value, &options->grabber.comb) || (how != NULL && strcmp(how, "adaptive") != 0)) {
        return "it takes a share, and after a colon nothing but adaptive";
    }
    return NULL;
}

static const char *take_hum(struct virtual_options *options, char *value) {
    const char *hertz = word_cut(value, ':');
    options->grabber.hum_hz = options->standard == STANDARD_NTSC ? 60 : 50;
    if (!word_number(value, &options->grabber.hum) ||
        (hertz != NULL && !word_number(hertz, &options->grabber.hum_hz))) {
        return "it takes a level, and after a colon a frequency in Hz";
    }
    return NULL;
}

static const char *take_pairs(struct virtual_options *options, char *value) {
    (void)value;
    options->grabber.pairs = true;
    return NULL;
}

static const char *take_no_colour(struct virtual_options *options, char *value) {
    (void)value;
    options->grabber.no_colour = true;
    return NULL;
}

static const char *take_burst(struct virtual_options *options, char *value) {
    long at = 0, fields = 0;
    const char *count = word_cut(value, ':');
    if (count == NULL || !word_whole(value, 0, 10000000, &at) || !word_whole(count, 1, 100000, &fields)) {
        return "it takes the first field lost, 0 to 10000000, and after a colon how many are, 1 to 100000";
    }
    options->grabber.burst_at = (int)at;
    options->grabber.burst_fields = (int)fields;
    return NULL;
}

static const char *take_slip(struct virtual_options *options, char *value) {
    (void)value;
    options->grabber.slip = true;
    return NULL;
}

/* Where the numbers go, or who takes the value. */
#define AT(member) offsetof(struct grabber_options, member)
static const struct impairment {
    const char *key;
    taker take;
    size_t at[2];
    int numbers; /* 1 or 2, both needed; 0: take */
    bool bare;   /* it takes no value */
} impairments[] = {
    {"layout", take_layout, {0}, 0, false},
    {"older", take_older, {0}, 0, false},
    {"stale", take_stale, {0}, 0, false},
    {"pairs", take_pairs, {0}, 0, true},
    {"half-black", take_half_black, {0}, 0, false},
    {"crop", take_crop, {0}, 0, false},
    {"width", take_width, {0}, 0, false},
    {"chroma", take_chroma, {0}, 0, false},
    {"mjpeg", take_mjpeg, {0}, 0, false},
    {"noise", NULL, {AT(noise_db)}, 1, false},
    {"chroma-noise", NULL, {AT(chroma_noise_db)}, 1, false},
    {"gain", NULL, {AT(gain)}, 1, false},
    {"offset", NULL, {AT(offset)}, 1, false},
    {"agc", NULL, {AT(agc), AT(agc_s)}, 2, false},
    {"clip", take_clip, {0}, 0, false},
    {"bandwidth", NULL, {AT(bandwidth_mhz)}, 1, false},
    {"sharpen", NULL, {AT(sharpen)}, 1, false},
    {"ghost", NULL, {AT(ghost), AT(ghost_us)}, 2, false},
    {"hum", take_hum, {0}, 0, false},
    {"no-colour", take_no_colour, {0}, 0, true},
    {"cross", NULL, {AT(cross)}, 1, false},
    {"chroma-bandwidth", NULL, {AT(chroma_mhz)}, 1, false},
    {"chroma-delay", NULL, {AT(chroma_delay)}, 1, false},
    {"left", NULL, {AT(left)}, 1, false},
    {"jitter", NULL, {AT(jitter)}, 1, false},
    {"slant", NULL, {AT(slant)}, 1, false},
    {"scale", NULL, {AT(scale)}, 1, false},
    {"shift", take_shift, {0}, 0, false},
    {"comb", take_comb, {0}, 0, false},
    {"drop", NULL, {AT(drop)}, 1, false},
    {"double", NULL, {AT(twice)}, 1, false},
    {"swap", NULL, {AT(swap)}, 1, false},
    {"burst", take_burst, {0}, 0, false},
    {"slip", take_slip, {0}, 0, true},
};
enum { IMPAIRMENTS = sizeof impairments / sizeof impairments[0] };

static const char *take_numbers(const struct impairment *kind, struct virtual_options *options, char *value) {
    for (int i = 0; i < kind->numbers; i++) {
        double number;
        char *rest = value == NULL ? NULL : word_cut(value, ':');
        if (value == NULL || !word_number(value, &number) || (i == kind->numbers - 1 && rest != NULL)) {
            return kind->numbers == 1 ? "it takes one number" : "it takes two numbers with a colon between";
        }
        memcpy((char *)&options->grabber + kind->at[i], &number, sizeof number);
        value = rest;
    }
    return NULL;
}

static const char *take_value(const struct impairment *kind, struct virtual_options *options, char *value) {
    if (kind->bare != (value == NULL)) {
        return kind->bare ? "it takes no value" : "its value is missing";
    }
    return kind->numbers > 0 ? take_numbers(kind, options, value) : kind->take(options, value);
}

static const struct impairment *nearest(const char *key) {
    const struct impairment *best = impairments;
    for (int i = 1; i < IMPAIRMENTS; i++) {
        if (word_distance(key, impairments[i].key) < word_distance(key, best->key)) {
            best = &impairments[i];
        }
    }
    return best;
}

static bool refuse(const char *text, const char *wrong, const char *key, struct problem *problem) {
    char shown[WORD_SHOWN];
    word_shown(text, shown);
    return problem_set(problem, PROBLEM_INPUT,
                       "impairment '%s: %s; spelled like %s; `slotjig run --help` lists them all", shown,
                       wrong, word_spelling(virtual_impairment_spellings, key));
}

bool virtual_add_impairment(struct virtual_options *options, const char *text, struct problem *problem) {
    char copy[WORD_MAX];
    struct virtual_options changed = *options;
    snprintf(copy, sizeof copy, "%s", text);
    char *value = word_cut(copy, '=');
    const struct impairment *kind = nearest(copy);
    if (strcmp(copy, kind->key) != 0 || strlen(text) >= sizeof copy) {
        return refuse(text, "there is no such impairment", kind->key, problem);
    }
    const char *wrong = take_value(kind, &changed, value);
    if (wrong != NULL) {
        return refuse(text, wrong, kind->key, problem);
    }
    if (!grabber_check(&changed.grabber, problem)) {
        return false;
    }
    *options = changed;
    return true;
}
