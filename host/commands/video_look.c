#include "commands/video_look.h"

#include "base/stop.h"

#include <time.h>

struct looking {
    const struct video_source *source;
    struct frames *frames;
    struct video_look *look;
    double left, right, top, clock_width, slant; /* sums */
    uint64_t fresh;                              /* fields that were new, until now */
    int silent;                                  /* times in a row that no frame came */
};

static double now_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static void count_reading(struct looking *looking, const struct field *field, const struct reading *reading) {
    struct video_look *look = looking->look;
    const struct raster *raster = &reading->raster;
    look->fields++;
    look->dark += reading->state == FIELD_NO_SIGNAL;
    look->strange += reading->state == FIELD_NO_SLATE || reading->state == FIELD_BAD_SLATE;
    look->still = reading->state == FIELD_READ ? look->still + 1 : 0;
    if (reading->state != FIELD_READ) {
        return;
    }
    look->margin = look->read == 0 || reading->margin < look->margin ? reading->margin : look->margin;
    look->lines = look->read == 0 || reading->lines < look->lines ? reading->lines : look->lines;
    look->read++;
    look->hash = reading->slate.hash;
    look->frame_lines = field->frame_lines;
    look->field_width = field->width;
    looking->left += raster->left;
    looking->right += raster->left + raster->clock_width * PICTURE_CLOCKS;
    looking->top += raster->top;
    looking->clock_width += raster->clock_width;
    looking->slant += raster->slant;
}

static void take_means(struct looking *looking) {
    struct video_look *look = looking->look;
    const double read = (double)look->read;
    if (look->read > 0) {
        look->raster = (struct raster){.left = looking->left / read,
                                       .top = looking->top / read,
                                       .clock_width = looking->clock_width / read,
                                       .slant = looking->slant / read};
        look->right = looking->right / read;
    }
}

static bool one_frame(struct looking *looking, struct problem *problem) {
    struct frame frame;
    struct field fields[2];
    struct reading readings[2];
    const enum next next = looking->source->next(looking->source->state, &frame, problem);
    looking->silent = next == NEXT_NOTHING ? looking->silent + 1 : 0;
    if (next != NEXT_FRAME) {
        looking->look->lost = next == NEXT_ERROR || next == NEXT_GONE;
        return next == NEXT_NOTHING;
    }
    looking->look->frames++;
    const int count = frames_read(looking->frames, &frame, fields, readings);
    for (int i = 0; i < count; i++) {
        count_reading(looking, &fields[i], &readings[i]);
    }
    const uint64_t fresh = frames_facts(looking->frames)->fresh;
    looking->look->still = fresh != looking->fresh ? 0 : looking->look->still;
    looking->fresh = fresh;
    return true;
}

/* Real time: the device is given a moment more for its first frame. */
static void watch(struct looking *looking, double seconds, double rate, bool real_time) {
    enum { SILENCE_MAX = 20 }; /* times VIDEO_WAIT_MS */
    struct video_look *look = looking->look;
    const uint64_t wanted = (uint64_t)(seconds * rate) + 1;
    double began = 0;
    while (!stop_asked() && looking->silent < SILENCE_MAX && one_frame(looking, &look->problem)) {
        const double now = real_time ? now_s() : 0;
        began = look->frames == 1 && began <= 0 ? now : began;
        if (real_time ? look->frames > 0 && now - began >= seconds : look->frames >= wanted) {
            break;
        }
    }
    look->seconds = real_time && look->frames > 0 ? now_s() - began : (double)look->frames / rate;
}

void video_look(const struct video_source *source, enum standard standard, double seconds, bool real_time,
                struct video_look *look) {
    const struct picture_options options = {.standard = standard, .unclear_below = PICTURE_UNCLEAR};
    const struct standard_facts *facts = &standard_table[standard];
    struct looking looking = {.source = source, .frames = frames_new(&options), .look = look};
    *look = (struct video_look){.opened = true, .standard = standard};
    if (looking.frames == NULL) {
        look->opened = problem_set(&look->problem, PROBLEM_BENCH, "out of memory; close other programs");
        return;
    }
    video_tell(source, &look->about, NULL);
    const double usual = (double)facts->frame_rate_num / facts->frame_rate_den;
    watch(&looking, seconds, look->about.rate > 0 ? look->about.rate : usual, real_time);
    take_means(&looking);
    video_tell(source, &look->about, &look->counts);
    look->facts = *frames_facts(looking.frames);
    frames_free(looking.frames);
}

void video_look_at(const struct video_request *request, double seconds, struct video_look *look) {
    struct video_source source;
    *look = (struct video_look){.standard = request->standard};
    if (video_open(request, &source, &look->problem)) {
        video_look(&source, request->standard, seconds, video_is_live(request->where), look);
        source.close(source.state);
    }
}

bool video_look_whole(const struct video_look *look) {
    return look->read > 0 && look->lines >= standard_plan_lines(look->standard);
}
