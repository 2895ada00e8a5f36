/* Named sets of impairments: classes of real grabbers, by what they do. Strengths are what such things do on
 * an ordinary day [P]; none is where the picture can no longer be read, and none hides a fault of the chip: a
 * grabber without colour cannot show a wrong hue, so that no-colour is in no set. */
#include "virtual/bench.h"
#include "virtual/grabber.h"

#include <stdio.h>
#include <string.h>

const struct grabber_set virtual_sets[] = {
    {"clean", "nothing: no noise, two fields woven, edges of the usual bandwidth",
     (const char *const[]){NULL}},
    {"stick", "a plain stick: soft, sharpened again, some noise, the gain drifts a little",
     (const char *const[]){"noise=34", "chroma-noise=32", "bandwidth=3", "sharpen=0.08", "agc=0.04:7",
                           "chroma-delay=2", "cross=0.1", "left=71.3", NULL}},
    {"tuner", "RF through a tuner: an echo, a hum bar, noise, a narrow band, late colour",
     (const char *const[]){"noise=28", "chroma-noise=26", "bandwidth=2.5", "chroma-bandwidth=0.6",
                           "chroma-delay=4", "gain=0.9", "ghost=0.12:1.4", "hum=0.03", "shift=-5.4:1",
                           "scale=0.998", NULL}},
    {"comb",
     "a comb filter that takes a part of both neighbouring lines and leaves half the colour in the luma",
     (const char *const[]){"comb=0.3", "cross=0.5", "noise=38", "chroma-noise=36", NULL}},
    {"adaptive-comb", "a comb filter that takes a part of whichever neighbouring line is more alike",
     (const char *const[]){"comb=0.3:adaptive", "bandwidth=3.5", "noise=38", "chroma-noise=36", NULL}},
    {"stale", "woven, but the bottom field stands still since the lock; frames at the field rate",
     (const char *const[]){"stale=bottom", "noise=36", "chroma-noise=34", NULL}},
    {"pairs", "woven, every frame twice, at the field rate",
     (const char *const[]){"pairs", "noise=36", "chroma-noise=34", NULL}},
    {"stacked", "the fields one above the other, 704 samples wide",
     (const char *const[]){"layout=stacked", "width=704", "noise=36", "chroma-noise=34", NULL}},
    {"single", "a field a frame",
     (const char *const[]){"layout=single", "bandwidth=3", "noise=34", "chroma-noise=32", NULL}},
    {"bob", "a field a frame, filled in to full height, up and down by turns, 4:2:0",
     (const char *const[]){"layout=bobbed", "chroma=420", "noise=36", "chroma-noise=34", NULL}},
    {"blend", "two fields blended by a deinterlacer",
     (const char *const[]){"layout=blended", "noise=38", "chroma-noise=36", NULL}},
    {"half-black", "a field a frame in the upper half, the lower half black",
     (const char *const[]){"layout=stacked", "stale=bottom", "half-black=lower", "noise=34",
                           "chroma-noise=32", NULL}},
    {"top-first", "woven with the top field the older, and cropped",
     (const char *const[]){"older=top", "crop=8:8:4:4", "noise=36", "chroma-noise=34", NULL}},
    {"mjpeg", "640 samples wide, soft, MJPEG 4:2:0",
     (const char *const[]){"width=640", "mjpeg=60", "chroma=420", "bandwidth=3", "noise=36",
                           "chroma-noise=34", NULL}},
    {"time-base", "a worn time base: lines jitter, the picture slants",
     (const char *const[]){"jitter=0.3", "slant=0.02", "bandwidth=3", "noise=32", "chroma-noise=30", NULL}},
    {"hot", "too high a gain, which hunts: white is cut off two fifths of the time, and black's noise",
     (const char *const[]){"gain=1.1", "offset=-0.04", "agc=0.08:5", "noise=36", "chroma-noise=34", NULL}},
    {"drops", "fields lost, doubled and out of order, and the grabber's own clock",
     (const char *const[]){"drop=0.02", "double=0.02", "swap=0.01", "slip", "noise=36", "chroma-noise=34",
                           NULL}},
    {NULL, NULL, NULL},
};

static bool no_such_set(const char *name, struct problem *problem) {
    char names[400] = "";
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        size_t at = strlen(names);
        snprintf(names + at, sizeof names - at, "%s%s", at == 0 ? "" : ", ", set->name);
    }
    return problem_set(problem, PROBLEM_INPUT, "grabber '%.60s': there is no such kind; there are %s", name,
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
