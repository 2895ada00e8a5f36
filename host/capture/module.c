#include "capture/module.h"

#include "base/module.h"

const struct video_module *video_module_load(struct problem *problem) {
    static const struct module module = {.file = VIDEO_MODULE_FILE,
                                         .symbol = VIDEO_MODULE_SYMBOL,
                                         .what = "video module",
                                         .needs = "FFmpeg's libraries",
                                         .variable = "SLOTJIG_VIDEO_MODULE",
                                         .abi = VIDEO_MODULE_ABI};
    return (const struct video_module *)module_load(&module, problem);
}
