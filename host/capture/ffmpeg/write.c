#include "capture/ffmpeg/inside.h"
#include "capture/ffmpeg/part.h"

#include <errno.h>

#include <libavformat/avformat.h>
#include <libavutil/opt.h>
#include <stdlib.h>

struct writer {
    struct part part;
    enum video_kind kind;
    struct video_shape shape;
    int64_t number;
    bool broken;    /* a write failed: nothing more can make the file whole */
    uint8_t *bytes; /* .y4m, .yuv, .raw: one frame as it stands in the file */
    size_t size;
    AVFormatContext *muxer; /* .mkv */
    AVCodecContext *encoder;
    AVFrame *picture;
    AVPacket *packet;
};

/* Where a frame is to be put: planes as those of struct frame, but written to. */
struct target {
    uint8_t *data;
    ptrdiff_t stride;
    int step;
    int width, height;
    int coarser_x; /* log2 of how much coarser than the luma, along a line */
};

static void writer_close(void *state) {
    struct writer *writer = state;
    av_packet_free(&writer->packet);
    av_frame_free(&writer->picture);
    avcodec_free_context(&writer->encoder);
    avformat_free_context(writer->muxer);
    part_close(&writer->part);
    free(writer->bytes);
    free(writer);
}

static bool no_memory(const struct writer *writer, struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", writer->part.path);
}

static bool refused(const struct writer *writer, int code, struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH,
                       "%s: frame %lld cannot be written: %s; make room or choose another disk",
                       writer->part.path, (long long)writer->number, code_text(code));
}

/* Sample for sample, never filtered; a plane the frame lacks is grey. from_x, from_y: how much coarser the
 * plane is than the luma. */
static void fill(const struct target *to, const struct plane *from, int from_x, int from_y) {
    for (int y = 0; y < to->height; y++) {
        uint8_t *out = to->data + y * to->stride;
        const uint8_t *in = from->data == NULL ? NULL : from->data + (ptrdiff_t)(y >> from_y) * from->stride;
        for (int x = 0; x < to->width; x++) {
            int source =
                from_x >= to->coarser_x ? x >> (from_x - to->coarser_x) : x << (to->coarser_x - from_x);
            out[(ptrdiff_t)x * to->step] = in == NULL ? 128 : in[(ptrdiff_t)source * from->step];
        }
    }
}

static void fill_all(const struct target to[3], const struct frame *frame) {
    fill(&to[0], &frame->y, 0, 0);
    fill(&to[1], &frame->cb, frame->chroma_x, frame->chroma_y);
    fill(&to[2], &frame->cr, frame->chroma_x, frame->chroma_y);
}

static bool write_bytes(struct writer *writer, const struct frame *frame, struct problem *problem) {
    static const char mark[] = "FRAME\n";
    int width = writer->shape.width;
    int height = writer->shape.height;
    int half = (width + 1) / 2;
    uint8_t *bytes = writer->bytes;
    if (writer->kind == VIDEO_RAW) {
        ptrdiff_t stride = (ptrdiff_t)2 * width;
        fill_all((struct target[]){{bytes, stride, 2, width, height, 0},
                                   {bytes + 1, stride, 4, half, height, 1},
                                   {bytes + 3, stride, 4, half, height, 1}},
                 frame);
    } else {
        ptrdiff_t luma = (ptrdiff_t)width * height;
        ptrdiff_t chroma = (ptrdiff_t)half * height;
        fill_all((struct target[]){{bytes, width, 1, width, height, 0},
                                   {bytes + luma, half, 1, half, height, 1},
                                   {bytes + luma + chroma, half, 1, half, height, 1}},
                 frame);
        avio_write(writer->part.stream, (const uint8_t *)mark, sizeof mark - 1);
    }
    avio_write(writer->part.stream, bytes, (int)writer->size);
    return part_check(&writer->part, problem);
}

static bool drain(struct writer *writer, struct problem *problem) {
    for (;;) {
        int code = avcodec_receive_packet(writer->encoder, writer->packet);
        if (code == AVERROR(EAGAIN) || code == AVERROR_EOF) {
            return part_check(&writer->part, problem);
        }
        if (code >= 0) {
            AVStream *stream = writer->muxer->streams[0];
            writer->packet->duration = 1;
            av_packet_rescale_ts(writer->packet, writer->encoder->time_base, stream->time_base);
            code = av_write_frame(writer->muxer, writer->packet);
            av_packet_unref(writer->packet);
        }
        if (code < 0) {
            return part_check(&writer->part, problem) && refused(writer, code, problem);
        }
    }
}

static bool encode(struct writer *writer, const struct frame *frame, struct problem *problem) {
    AVFrame *picture = writer->picture;
    int width = writer->shape.width;
    int height = writer->shape.height;
    int half = (width + 1) / 2;
    if (av_frame_make_writable(picture) < 0) {
        return no_memory(writer, problem);
    }
    fill_all((struct target[]){{picture->data[0], picture->linesize[0], 1, width, height, 0},
                               {picture->data[1], picture->linesize[1], 1, half, height, 1},
                               {picture->data[2], picture->linesize[2], 1, half, height, 1}},
             frame);
    picture->pts = writer->number;
    int code = avcodec_send_frame(writer->encoder, picture);
    return code < 0 ? refused(writer, code, problem) : drain(writer, problem);
}

static bool writer_write(void *state, const struct frame *frame, struct problem *problem) {
    struct writer *writer = state;
    if (frame->width != writer->shape.width || frame->height != writer->shape.height) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: a frame of %d by %d in a recording of %d by %d; record each size on its own",
                           writer->part.path, frame->width, frame->height, writer->shape.width,
                           writer->shape.height);
    }
    bool good =
        writer->kind == VIDEO_MATROSKA ? encode(writer, frame, problem) : write_bytes(writer, frame, problem);
    writer->broken = writer->broken || !good;
    writer->number++;
    return good;
}

static bool end_matroska(struct writer *writer, struct problem *problem) {
    int code = avcodec_send_frame(writer->encoder, NULL);
    if (code < 0) {
        return refused(writer, code, problem);
    }
    if (!drain(writer, problem)) {
        return false;
    }
    code = av_write_trailer(writer->muxer);
    return part_check(&writer->part, problem) && (code >= 0 || refused(writer, code, problem));
}

static bool writer_finish(void *state, struct problem *problem) {
    struct writer *writer = state;
    if (writer->broken) {
        return part_check(&writer->part, problem) &&
               problem_set(problem, PROBLEM_BENCH, "%s: not kept, for a frame could not be written",
                           writer->part.path);
    }
    writer->broken = true; /* a second finish() has nothing to do */
    return (writer->kind != VIDEO_MATROSKA || end_matroska(writer, problem)) &&
           part_finish(&writer->part, problem);
}

static void describe(const struct video_shape *shape, AVCodecContext *encoder) {
    bool woven = shape->height > FIELD_LINES_MAX;
    encoder->width = shape->width;
    encoder->height = shape->height;
    encoder->pix_fmt = AV_PIX_FMT_YUV422P;
    encoder->color_range = AVCOL_RANGE_MPEG;
    encoder->colorspace = AVCOL_SPC_SMPTE170M;
    encoder->time_base = (AVRational){shape->rate_den, shape->rate_num};
    encoder->framerate = (AVRational){shape->rate_num, shape->rate_den};
    encoder->field_order = !woven ? AV_FIELD_PROGRESSIVE : shape->top_first ? AV_FIELD_TT : AV_FIELD_BB;
    encoder->gop_size = 1; /* every frame stands alone, so a cut file is good up to the cut */
    encoder->level = 3;
    encoder->slices = 4;
    encoder->thread_type = FF_THREAD_SLICE;
    encoder->thread_count = 2;
    encoder->flags |= AV_CODEC_FLAG_GLOBAL_HEADER | AV_CODEC_FLAG_BITEXACT;
    av_opt_set_int(encoder, "slicecrc", 1, AV_OPT_SEARCH_CHILDREN); /* damage is noticed, slice by slice */
}

static bool open_encoder(struct writer *writer, struct problem *problem) {
    const AVCodec *codec = avcodec_find_encoder(AV_CODEC_ID_FFV1);
    if (codec == NULL) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "%s: this FFmpeg has no FFV1 encoder; let the name end in .y4m, or install a full FFmpeg",
            writer->part.path);
    }
    writer->encoder = avcodec_alloc_context3(codec);
    writer->picture = av_frame_alloc();
    writer->packet = av_packet_alloc();
    if (writer->encoder == NULL || writer->picture == NULL || writer->packet == NULL) {
        return no_memory(writer, problem);
    }
    describe(&writer->shape, writer->encoder);
    writer->picture->format = AV_PIX_FMT_YUV422P;
    writer->picture->width = writer->shape.width;
    writer->picture->height = writer->shape.height;
    int code = avcodec_open2(writer->encoder, codec, NULL);
    if (code >= 0) {
        code = av_frame_get_buffer(writer->picture, 0);
    }
    return code >= 0 ||
           problem_set(problem, PROBLEM_INPUT, "%s: frames of %d by %d cannot be encoded: %s",
                       writer->part.path, writer->shape.width, writer->shape.height, code_text(code));
}

static bool open_muxer(struct writer *writer, struct problem *problem) {
    if (avformat_alloc_output_context2(&writer->muxer, NULL, "matroska", NULL) < 0) {
        return no_memory(writer, problem);
    }
    AVFormatContext *muxer = writer->muxer;
    AVStream *stream = avformat_new_stream(muxer, NULL);
    if (stream == NULL || avcodec_parameters_from_context(stream->codecpar, writer->encoder) < 0) {
        return no_memory(writer, problem);
    }
    stream->time_base = writer->encoder->time_base;
    stream->avg_frame_rate = writer->encoder->framerate;
    muxer->pb = writer->part.stream;
    muxer->flags |= AVFMT_FLAG_CUSTOM_IO | AVFMT_FLAG_BITEXACT; /* the same frames give the same file */
    int code = avformat_write_header(muxer, NULL);
    return part_check(&writer->part, problem) && (code >= 0 || refused(writer, code, problem));
}

static bool open_matroska(struct writer *writer, struct problem *problem) {
    return open_encoder(writer, problem) && open_muxer(writer, problem);
}

static bool open_bytes(struct writer *writer, struct problem *problem) {
    const struct video_shape *shape = &writer->shape;
    int across = writer->kind == VIDEO_RAW ? 2 * shape->width : shape->width + (shape->width + 1) / 2 * 2;
    writer->size = (size_t)across * (size_t)shape->height;
    writer->bytes = malloc(writer->size);
    if (writer->bytes == NULL) {
        return no_memory(writer, problem);
    }
    if (writer->kind == VIDEO_Y4M) {
        char order = shape->height <= FIELD_LINES_MAX ? 'p' : shape->top_first ? 't' : 'b';
        avio_printf(writer->part.stream, "YUV4MPEG2 W%d H%d F%d:%d I%c A0:0 C422 XCOLORRANGE=LIMITED\n",
                    shape->width, shape->height, shape->rate_num, shape->rate_den, order);
    }
    return part_check(&writer->part, problem);
}

bool writer_create(const char *path, enum video_kind kind, const struct video_shape *shape,
                   struct video_sink *sink, struct problem *problem) {
    enum { SIDE_MAX = 8192 };
    log_listen();
    if (shape->width < 2 || shape->height < 1 || shape->width > SIDE_MAX || shape->height > SIDE_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "%s: frames of %d by %d cannot be recorded", path,
                           shape->width, shape->height);
    }
    struct writer *writer = calloc(1, sizeof *writer);
    if (writer == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", path);
    }
    writer->kind = kind;
    writer->shape = *shape;
    if (!part_create(&writer->part, path, problem)) {
        free(writer);
        return false;
    }
    bool good = kind == VIDEO_MATROSKA ? open_matroska(writer, problem) : open_bytes(writer, problem);
    if (!good) {
        writer_close(writer);
        return false;
    }
    *sink = (struct video_sink){
        .state = writer, .write = writer_write, .finish = writer_finish, .close = writer_close};
    return true;
}
