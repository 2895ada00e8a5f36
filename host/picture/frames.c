#include "picture/frames.h"

#include <stdlib.h>

struct frames {
    struct picture_options options;
    struct picture *picture;
    struct frames_facts facts;
};

const char *layout_name(enum layout layout) {
    static const char *const names[LAYOUTS] = {"unknown", "woven", "stacked", "single", "bobbed", "blended"};
    return names[layout];
}

struct frames *frames_new(const struct picture_options *options) {
    struct frames *frames = calloc(1, sizeof *frames);
    if (frames == NULL) {
        return NULL;
    }
    frames->options = *options;
    frames->facts.older = frames->facts.stale = -1;
    frames->picture = picture_new(options);
    if (frames->picture == NULL) {
        frames_free(frames);
        return NULL;
    }
    return frames;
}

void frames_free(struct frames *frames) {
    if (frames != NULL) {
        picture_free(frames->picture);
        free(frames);
    }
}

int frames_read(struct frames *frames, const struct frame *frame, struct field fields[2],
                struct reading readings[2]) {
    int count = frame_fields(frame, frames->options.standard, fields);
    frames->facts.frames++;
    for (int i = 0; i < count; i++) {
        picture_read(frames->picture, &fields[i], &readings[i]);
        if (readings[i].state == FIELD_READ) {
            frames->facts.read++;
            frames->facts.layout = count == 2 ? LAYOUT_WOVEN : LAYOUT_SINGLE;
        }
    }
    return count;
}

const struct frames_facts *frames_facts(const struct frames *frames) {
    return &frames->facts;
}
