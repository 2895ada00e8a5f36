#include "capture/module.h"

#include "base/module.h"

/* Stays loaded to the end: FFmpeg's libraries are not made to be unloaded. */
static const struct video_module *loaded;

const struct video_module *video_module_load(struct problem *problem) {
    static const struct module module = {.file = VIDEO_MODULE_FILE,
                                         .symbol = VIDEO_MODULE_SYMBOL,
                                         .what = "video module",
                                         .needs = "FFmpeg's libraries",
                                         .variable = "SLOTJIG_VIDEO_MODULE",
                                         .abi = VIDEO_MODULE_ABI};
    if (loaded == NULL) {
        loaded = (const struct video_module *)module_load(&module, problem);
    }
    return loaded;
}
