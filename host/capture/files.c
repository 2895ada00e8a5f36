#include "capture/module.h"

#include <string.h>
#include <strings.h>

enum { RAW_WIDTH = 720 }; /* [S ITU-R BT.601] */

static bool ends_in(const char *path, const char *ending) {
    size_t length = strlen(path);
    size_t tail = strlen(ending);
    return length > tail && strcasecmp(path + length - tail, ending) == 0;
}

bool video_kind_of(const char *path, enum video_kind *kind) {
    static const struct {
        const char *ending;
        enum video_kind kind;
    } endings[] = {{".mkv", VIDEO_MATROSKA}, {".y4m", VIDEO_Y4M}, {".yuv", VIDEO_RAW}, {".raw", VIDEO_RAW}};
    for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
        if (ends_in(path, endings[i].ending)) {
            *kind = endings[i].kind;
            return true;
        }
    }
    return false;
}

struct video_shape video_shape_of(enum standard standard) {
    const struct standard_facts *facts = &standard_table[standard];
    return (struct video_shape){
        .width = RAW_WIDTH,
        .height = facts->frame_height,
        .rate_num = facts->frame_rate_num,
        .rate_den = facts->frame_rate_den,
        .top_first = facts->top_first,
    };
}

bool video_create_file(const char *path, int width, int height, enum standard standard,
                       struct video_sink *sink, struct problem *problem) {
    struct video_shape shape = video_shape_of(standard);
    enum video_kind kind;
    if (!video_kind_of(path, &kind)) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: no such kind of recording; let the name end in .mkv (FFV1, lossless), .y4m, .yuv or "
            ".raw",
            path);
    }
    if (kind == VIDEO_RAW && (width != shape.width || height != shape.height)) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: bare frames of %s are %d by %d, not %d by %d, and the file could not say so; let the "
            "name end in .mkv or .y4m",
            path, standard_table[standard].name, shape.width, shape.height, width, height);
    }
    shape.width = width;
    shape.height = height;
    const struct video_module *module = video_module_load(problem);
    return module != NULL && module->create(path, kind, &shape, sink, problem);
}
