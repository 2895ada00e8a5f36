#include "capture/ffmpeg/inside.h"

#include <libavutil/pixdesc.h>

enum {
    UNFIT = AV_PIX_FMT_FLAG_BE | AV_PIX_FMT_FLAG_PAL | AV_PIX_FMT_FLAG_BITSTREAM | AV_PIX_FMT_FLAG_HWACCEL |
            AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_BAYER | AV_PIX_FMT_FLAG_FLOAT
};

bool planes_fit(enum AVPixelFormat format) {
    const AVPixFmtDescriptor *facts = av_pix_fmt_desc_get(format);
    /* 4:1:1 packed has its luma samples at uneven distances, which one step cannot say. */
    if (facts == NULL || (facts->flags & UNFIT) != 0 || format == AV_PIX_FMT_UYYVYY411) {
        return false;
    }
    for (int i = 0; i < facts->nb_components; i++) {
        if (facts->comp[i].depth != 8 || facts->comp[i].shift != 0) {
            return false;
        }
    }
    return true;
}

static struct plane component(const AVFrame *picture, const AVComponentDescriptor *facts) {
    return (struct plane){
        .data = picture->data[facts->plane] + facts->offset,
        .stride = picture->linesize[facts->plane],
        .step = facts->step,
    };
}

void planes_view(const AVFrame *picture, struct frame *frame) {
    const AVPixFmtDescriptor *facts = av_pix_fmt_desc_get(picture->format);
    *frame = (struct frame){
        .width = picture->width, .height = picture->height, .y = component(picture, &facts->comp[0])};
    if (facts->nb_components >= 3) {
        frame->cb = component(picture, &facts->comp[1]);
        frame->cr = component(picture, &facts->comp[2]);
        frame->chroma_x = facts->log2_chroma_w;
        frame->chroma_y = facts->log2_chroma_h;
    }
}
