/* Named sets of impairments: classes of real grabbers, by what they do. Strengths are what such things do on
 * an ordinary day [P]; none is where the picture can no longer be read. */
#include "virtual/bench.h"
#include "virtual/grabber.h"

#include <stdio.h>
#include <string.h>

enum { TEXTS_MAX = 12 };

/* In the order of the names below. */
static const char *const texts[][TEXTS_MAX] = {
    {NULL},
    {"noise=34", "chroma-noise=32", "bandwidth=3", "sharpen=0.08", "agc=0.04:7", "chroma-delay=2",
     "left=71.3"},
    {"noise=28", "chroma-noise=26", "bandwidth=2.5", "chroma-bandwidth=0.6", "chroma-delay=4", "gain=0.9",
     "ghost=0.12:1.4", "hum=0.03", "shift=-5.4:1", "scale=0.998"},
    {"comb=0.3", "noise=38", "chroma-noise=36"},
    {"comb=0.3:adaptive", "noise=38", "chroma-noise=36", "bandwidth=3.5"},
    {"stale=bottom", "noise=36", "chroma-noise=34"},
    {"pairs", "noise=36", "chroma-noise=34"},
    {"layout=stacked", "width=704", "noise=36", "chroma-noise=34"},
    {"layout=single", "noise=34", "chroma-noise=32", "bandwidth=3"},
    {"layout=bobbed", "noise=36", "chroma-noise=34", "chroma=420"},
    {"layout=blended", "noise=38", "chroma-noise=36"},
    {"layout=stacked", "stale=bottom", "half-black=lower", "noise=34", "chroma-noise=32"},
    {"older=top", "noise=36", "chroma-noise=34", "crop=8:8:4:4"},
    {"width=640", "mjpeg=60", "chroma=420", "bandwidth=3", "noise=36", "chroma-noise=34"},
    {"jitter=0.3", "slant=0.02", "noise=32", "chroma-noise=30", "bandwidth=3"},
    {"gain=1.2", "offset=-0.06", "agc=0.08:5", "noise=36", "chroma-noise=34"},
    {"drop=0.02", "double=0.02", "swap=0.01", "slip", "noise=36", "chroma-noise=34"},
    {"no-colour", "noise=36", "bandwidth=2"},
};

const struct grabber_set virtual_sets[] = {
    {"clean", "nothing: no noise, two fields woven, edges of the usual bandwidth", texts[0]},
    {"stick", "a plain stick: soft, sharpened again, some noise, the gain drifts a little", texts[1]},
    {"tuner", "RF through a tuner: an echo, a hum bar, noise, a narrow band, late colour", texts[2]},
    {"comb", "a comb filter that takes a part of both neighbouring lines", texts[3]},
    {"adaptive-comb", "a comb filter that takes a part of whichever neighbouring line is more alike",
     texts[4]},
    {"stale", "woven, but the bottom field stands still since the lock; frames at the field rate", texts[5]},
    {"pairs", "woven, every frame twice, at the field rate", texts[6]},
    {"stacked", "the fields one above the other, 704 samples wide", texts[7]},
    {"single", "a field a frame", texts[8]},
    {"bob", "a field a frame, filled in to full height, up and down by turns, 4:2:0", texts[9]},
    {"blend", "two fields blended by a deinterlacer", texts[10]},
    {"half-black", "a field a frame in the upper half, the lower half black", texts[11]},
    {"top-first", "woven with the top field the older, and cropped", texts[12]},
    {"mjpeg", "640 samples wide, soft, MJPEG 4:2:0", texts[13]},
    {"time-base", "a worn time base: lines jitter, the picture slants", texts[14]},
    {"hot", "too high a gain, which hunts: white and black are cut off", texts[15]},
    {"drops", "fields lost, doubled and out of order, and the grabber's own clock", texts[16]},
    {"colourless", "brightness only, soft", texts[17]},
    {NULL, NULL, NULL},
};

static bool no_such_set(const char *name, struct problem *problem) {
    char names[400] = "";
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        size_t at = strlen(names);
        snprintf(names + at, sizeof names - at, "%s%s", at == 0 ? "" : ", ", set->name);
    }
    return problem_set(problem, PROBLEM_INPUT, "grabber '%.60s': there is no such set; there are %s", name,
                       names);
}

bool virtual_use_set(struct virtual_options *options, const char *name, struct problem *problem) {
    const struct grabber_set *set = virtual_sets;
    while (set->name != NULL && strcmp(set->name, name) != 0) {
        set++;
    }
    if (set->name == NULL) {
        return no_such_set(name, problem);
    }
    struct virtual_options changed = *options;
    grabber_defaults(options->standard, &changed.grabber);
    snprintf(changed.grabber.set, sizeof changed.grabber.set, "%s", name);
    for (const char *const *text = set->impairments; *text != NULL; text++) {
        if (!virtual_add_impairment(&changed, *text, problem)) {
            return false;
        }
    }
    *options = changed;
    return true;
}
