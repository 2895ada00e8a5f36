/* Looks through devices, inputs and standards for what shows the console. */
#include "commands/doctor.h"

#include "base/stop.h"
#include "commands/setup.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { DEVICES_MAX = 16, INPUTS_MAX = 8, LOOKS_MAX = 24 };

enum worth { WORTH_NOTHING, WORTH_OPENS, WORTH_SIGNAL, WORTH_SLATE, WORTH_WHOLE };

struct search {
    struct bench_settings *bench; /* the best so far */
    struct video_look *look;      /* of the best, or of the first that failed */
    enum worth best;
    bool looked;
    double seconds;
    int looks;
    const enum standard *standards;
    int standard_count;
};

static enum worth worth_of(const struct video_look *look) {
    if (!look->opened) {
        return WORTH_NOTHING;
    }
    return video_look_whole(look) && doctor_standard_fits(look) ? WORTH_WHOLE
           : look->read > 0                                     ? WORTH_SLATE
           : look->fields > look->dark                          ? WORTH_SIGNAL
                                                                : WORTH_OPENS;
}

/* How the device stands now is what the section will ask for. */
static void note_best(struct bench_settings *bench, const struct video_about *about) {
    struct bench_video *video = &bench->video;
    const char *space = strchr(about->format, ' ');
    const bool raw = strncmp(about->format, "rawvideo", strlen("rawvideo")) == 0;
    if (!about->live) {
        return;
    }
    if (about->input[0] != '\0') {
        snprintf(video->input, sizeof video->input, "%s", about->input);
    }
    video->width = about->width;
    video->height = about->height;
    if (raw && space != NULL) {
        snprintf(video->pixel, sizeof video->pixel, "%s", space + 1);
    } else if (!raw) {
        snprintf(video->pixel, sizeof video->pixel, "%.*s",
                 space != NULL ? (int)(space - about->format) : (int)sizeof video->pixel - 1, about->format);
    }
}

/* False when it cannot be opened so. */
static bool try_one(struct search *search, const struct bench_settings *bench) {
    struct video_look look;
    const struct video_request request = bench_request(bench);
    search->looks++;
    video_look_at(&request, search->seconds, &look);
    const enum worth worth = worth_of(&look);
    if (search->looked && worth <= search->best) {
        return look.opened;
    }
    search->looked = true;
    search->best = worth;
    *search->look = look;
    if (worth > WORTH_NOTHING) {
        *search->bench = *bench;
        note_best(search->bench, &look.about);
    }
    return look.opened;
}

static bool go_on(const struct search *search) {
    return search->best < WORTH_WHOLE && search->looks < LOOKS_MAX && !stop_asked();
}

/* One input, with each standard that comes into question. */
static bool try_input(struct search *search, const struct bench_settings *bench) {
    bool opened = false;
    for (int i = 0; i < search->standard_count && go_on(search); i++) {
        struct bench_settings tried = *bench;
        tried.options.standard = search->standards[i];
        opened = try_one(search, &tried) || opened;
    }
    return opened;
}

/* As it stands, and then every input by its number, until there is none of that number. */
static void try_device(struct search *search, const struct bench_settings *bench) {
    struct bench_settings tried = *bench;
    const bool chosen = bench->video.input[0] != '\0' || !setup_is_live(bench);
    bool opened = try_input(search, &tried);
    for (int input = 0; !chosen && opened && input < INPUTS_MAX && go_on(search); input++) {
        snprintf(tried.video.input, sizeof tried.video.input, "%d", input);
        opened = try_input(search, &tried);
    }
}

bool doctor_search(struct bench_settings *bench, const struct options *options, struct video_look *look) {
    static const enum standard usual[] = {STANDARD_NTSC, STANDARD_PAL};
    const struct bench_settings asked = *bench;
    const bool told = options->standard_given || asked.options.standard != STANDARD_NTSC;
    struct search search = {.bench = bench,
                            .look = look,
                            .seconds = options->seconds > 0 ? options->seconds : LOOK_SECONDS,
                            .standards = told ? &asked.options.standard : usual,
                            .standard_count = told ? 1 : 2};
    *look = (struct video_look){.standard = asked.options.standard};
    problem_set(&look->problem, PROBLEM_BENCH,
                "no video device is there (/dev/video0 and so on); plug one in, or name it with --video");
    if (asked.video.where[0] != '\0') {
        try_device(&search, &asked);
        return search.best >= WORTH_SIGNAL;
    }
    for (int i = 0; i < DEVICES_MAX && go_on(&search); i++) {
        struct bench_settings tried = asked;
        char path[32];
        snprintf(path, sizeof path, "/dev/video%d", i);
        snprintf(tried.video.where, sizeof tried.video.where, "v4l2:%s", path);
        if (access(path, F_OK) == 0) {
            try_device(&search, &tried);
        }
    }
    return search.best >= WORTH_SIGNAL;
}
