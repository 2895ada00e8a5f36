#include "capture/ffmpeg/inside.h"

static bool open_any(const struct video_input *input, const struct video_request *request,
                     struct video_source *source, struct problem *problem) {
    return input->kind[0] != '\0' ? device_open(input, request, source, problem)
                                  : reader_open(input, request, source, problem);
}

__attribute__((visibility("default"))) const struct video_module slotjig_video_module = {
    .abi = VIDEO_MODULE_ABI,
    .open = open_any,
    .create = writer_create,
};
