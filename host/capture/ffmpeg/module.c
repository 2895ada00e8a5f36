#include "capture/ffmpeg/inside.h"

__attribute__((visibility("default"))) const struct video_module slotjig_video_module = {
    .abi = VIDEO_MODULE_ABI,
    .open = reader_open,
    .create = writer_create,
};
