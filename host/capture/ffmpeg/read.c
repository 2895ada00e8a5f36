#include "capture/ffmpeg/inside.h"

#include <errno.h>
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/opt.h>
#include <libswscale/swscale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum {
    ERRORS_MAX = 64,       /* broken packets in a row before the file is given up */
    PIXELS_MAX = 1 << 25,  /* a file that claims more is not believed */
    STRANGERS_MAX = 100000 /* packets without a frame in a row */
};

struct reader {
    char *path;
    const char *where; /* path, for texts */
    struct video_shape raw;
    bool is_raw;
    AVFormatContext *input;
    AVCodecContext *decoder;
    AVPacket *packet;
    AVFrame *picture, *scaled;
    struct SwsContext *scaler;
    int stream;
    bool draining;
    unsigned broken_in_row, broken;
    unsigned log_before;
    struct frame first; /* read when the file was opened, so that a file without a frame is refused there */
    bool first_waits;
    uint64_t number;
};

static void reader_close(void *state) {
    struct reader *reader = state;
    sws_freeContext(reader->scaler);
    av_frame_free(&reader->scaled);
    av_frame_free(&reader->picture);
    av_packet_free(&reader->packet);
    avcodec_free_context(&reader->decoder);
    avformat_close_input(&reader->input);
    free(reader->path);
    free(reader);
}

static enum next lost(const struct reader *reader, int code, struct problem *problem) {
    problem_set(problem, PROBLEM_BENCH, "%s: reading failed: %s; check the disk it lies on", reader->where,
                code_text(code));
    return NEXT_ERROR;
}

/* One more broken packet; false when there were too many in a row. */
static bool count_broken(struct reader *reader, struct problem *problem) {
    reader->broken++;
    reader->broken_in_row++;
    if (reader->broken_in_row < ERRORS_MAX) {
        return true;
    }
    return problem_set(problem, PROBLEM_INPUT,
                       "%s: %d broken pieces in a row after frame %llu; record it again", reader->where,
                       ERRORS_MAX, (unsigned long long)reader->number);
}

/* The next packet of the video stream. A demuxer that fails at the end of the file has met a cut one: that is
 * an end; one that fails before it is asked again, for some find their way back. */
static enum next next_packet(struct reader *reader, struct problem *problem) {
    for (int strangers = 0; strangers < STRANGERS_MAX; strangers++) {
        av_packet_unref(reader->packet);
        int code = av_read_frame(reader->input, reader->packet);
        AVIOContext *stream = reader->input->pb;
        if (code >= 0 && reader->packet->stream_index == reader->stream) {
            return NEXT_FRAME;
        }
        if (code >= 0) {
            continue;
        }
        if (stream != NULL && stream->error < 0 && stream->error != AVERROR_EOF) {
            return lost(reader, stream->error, problem);
        }
        if (code == AVERROR_EOF || stream == NULL || avio_feof(stream)) {
            return NEXT_END;
        }
        if (!count_broken(reader, problem)) {
            return NEXT_ERROR;
        }
    }
    problem_set(problem, PROBLEM_INPUT, "%s: no video among its last %d packets; record it again",
                reader->where, STRANGERS_MAX);
    return NEXT_ERROR;
}

static enum next next_raw(struct reader *reader, struct frame *frame, struct problem *problem) {
    enum next next = next_packet(reader, problem);
    if (next != NEXT_FRAME) {
        return next;
    }
    ptrdiff_t stride = (ptrdiff_t)2 * reader->raw.width;
    if (reader->packet->size < stride * reader->raw.height) {
        return NEXT_END; /* the file ends inside a frame */
    }
    const uint8_t *data = reader->packet->data;
    *frame = (struct frame){
        .width = reader->raw.width,
        .height = reader->raw.height,
        .y = {data, stride, 2},
        .cb = {data + 1, stride, 4},
        .cr = {data + 3, stride, 4},
        .chroma_x = 1,
    };
    return NEXT_FRAME;
}

/* Decoders hide damage, FFV1's by showing the slice of the picture before: to a judge that is a lie. A
 * picture its decoder complained about counts as broken. */
static bool is_whole(const struct reader *reader) {
    return reader->picture->decode_error_flags == 0 &&
           (reader->picture->flags & AV_FRAME_FLAG_CORRUPT) == 0 && log_errors() == reader->log_before;
}

/* Gives the decoder its next packet, or tells it that there is none. NEXT_END: nothing more can be given. */
static enum next feed(struct reader *reader, struct problem *problem) {
    if (reader->draining) {
        return NEXT_END;
    }
    enum next next = next_packet(reader, problem);
    if (next == NEXT_ERROR) {
        return next;
    }
    reader->draining = next == NEXT_END;
    reader->log_before = log_errors();
    int code = avcodec_send_packet(reader->decoder, reader->draining ? NULL : reader->packet);
    if (code == AVERROR(ENOMEM)) {
        return lost(reader, code, problem);
    }
    if (code < 0 && !reader->draining && !count_broken(reader, problem)) {
        return NEXT_ERROR;
    }
    return NEXT_FRAME;
}

/* One whole picture into reader->picture. */
static enum next next_picture(struct reader *reader, struct problem *problem) {
    for (int tries = 0; tries < STRANGERS_MAX; tries++) {
        int code = avcodec_receive_frame(reader->decoder, reader->picture);
        if (code >= 0 && is_whole(reader)) {
            reader->broken_in_row = 0;
            return NEXT_FRAME;
        }
        if (code == AVERROR_EOF) {
            return NEXT_END;
        }
        if (code != AVERROR(EAGAIN)) {
            reader->log_before = log_errors();
            if (!count_broken(reader, problem)) {
                return NEXT_ERROR;
            }
            continue;
        }
        enum next next = feed(reader, problem);
        if (next != NEXT_FRAME) {
            return next;
        }
    }
    problem_set(problem, PROBLEM_INPUT, "%s: no picture in its last %d packets; record it again",
                reader->where, STRANGERS_MAX);
    return NEXT_ERROR;
}

static bool prepare_scaler(struct reader *reader) {
    const AVFrame *from = reader->picture;
    reader->scaler = sws_getCachedContext(reader->scaler, from->width, from->height, from->format,
                                          from->width, from->height, AV_PIX_FMT_YUV422P,
                                          SWS_BILINEAR | SWS_ACCURATE_RND, NULL, NULL, NULL);
    if (reader->scaler == NULL || reader->scaled->data[0] != NULL) {
        return reader->scaler != NULL;
    }
    reader->scaled->format = AV_PIX_FMT_YUV422P;
    reader->scaled->width = from->width;
    reader->scaled->height = from->height;
    return av_frame_get_buffer(reader->scaled, 0) >= 0;
}

/* The picture in a form that struct frame can show. */
static enum next show(struct reader *reader, struct frame *frame, struct problem *problem) {
    const AVFrame *picture = reader->picture;
    if (planes_fit(picture->format)) {
        planes_view(picture, frame);
        return NEXT_FRAME;
    }
    if (!prepare_scaler(reader) ||
        sws_scale(reader->scaler, (const uint8_t *const *)picture->data, picture->linesize, 0,
                  picture->height, reader->scaled->data, reader->scaled->linesize) != picture->height) {
        problem_set(
            problem, PROBLEM_INPUT,
            "%s: its kind of pixel cannot be converted; convert it with `ffmpeg -i FILE -pix_fmt yuv422p`",
            reader->where);
        return NEXT_ERROR;
    }
    planes_view(reader->scaled, frame);
    return NEXT_FRAME;
}

static enum next next_decoded(struct reader *reader, struct frame *frame, struct problem *problem) {
    enum next next = next_picture(reader, problem);
    if (next != NEXT_FRAME) {
        return next;
    }
    const AVFrame *picture = reader->picture;
    bool same = reader->number == 0 ||
                (picture->width == reader->first.width && picture->height == reader->first.height);
    if (!same) {
        problem_set(problem, PROBLEM_INPUT,
                    "%s: its size changes from %d by %d to %d by %d at frame %llu; cut it there",
                    reader->where, reader->first.width, reader->first.height, picture->width, picture->height,
                    (unsigned long long)reader->number);
        return NEXT_ERROR;
    }
    return show(reader, frame, problem);
}

static enum next next_any(struct reader *reader, struct frame *frame, struct problem *problem) {
    enum next next = reader->is_raw ? next_raw(reader, frame, problem) : next_decoded(reader, frame, problem);
    if (next == NEXT_FRAME) {
        frame->number = reader->number++;
    }
    return next;
}

static enum next reader_next(void *state, struct frame *frame, struct problem *problem) {
    struct reader *reader = state;
    if (reader->first_waits) {
        reader->first_waits = false;
        *frame = reader->first;
        return NEXT_FRAME;
    }
    return next_any(reader, frame, problem);
}

/* What can be said before FFmpeg sees it. Only plain files: opening a pipe can wait for ever. */
static bool check_file(const char *path, struct problem *problem) {
    struct stat facts;
    if (stat(path, &facts) != 0) {
        return problem_set(problem, PROBLEM_INPUT, "%s: cannot be opened: %s; check the name", path,
                           strerror(errno));
    }
    if (!S_ISREG(facts.st_mode)) {
        return problem_set(problem, PROBLEM_INPUT, "%s: not a plain file; give a recording", path);
    }
    if (facts.st_size == 0) {
        return problem_set(problem, PROBLEM_INPUT, "%s: the file is empty; record it again", path);
    }
    return true;
}

/* "file:" keeps FFmpeg from taking a name for an address or another protocol, the white list from following
 * addresses inside a file. */
static bool open_input(struct reader *reader, struct problem *problem) {
    char *address = NULL;
    if (asprintf(&address, "file:%s", reader->path) < 0) {
        problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", reader->where);
        return false;
    }
    AVDictionary *options = NULL;
    const AVInputFormat *format = NULL;
    av_dict_set(&options, "protocol_whitelist", "file", 0);
    if (reader->is_raw) {
        char size[32];
        snprintf(size, sizeof size, "%dx%d", reader->raw.width, reader->raw.height);
        format = av_find_input_format("rawvideo");
        av_dict_set(&options, "video_size", size, 0);
        av_dict_set(&options, "pixel_format", "yuyv422", 0);
    }
    int code = avformat_open_input(&reader->input, address, format, &options);
    av_dict_free(&options);
    free(address);
    if (code < 0) {
        problem_set(problem, PROBLEM_INPUT,
                    "%s: not a video file that can be read: %s; give a recording (.mkv, .y4m, .yuv, .raw)",
                    reader->where, code_text(code));
        return false;
    }
    return true;
}

/* FFmpeg reads any text as pictures of text. */
static bool is_text(enum AVCodecID codec) {
    return codec == AV_CODEC_ID_ANSI || codec == AV_CODEC_ID_BINTEXT || codec == AV_CODEC_ID_XBIN ||
           codec == AV_CODEC_ID_IDF;
}

static bool find_stream(struct reader *reader, const AVCodec **codec, struct problem *problem) {
    AVFormatContext *input = reader->input;
    /* What it finds out is a help; a decoder can do without, so its failing is none of ours. */
    (void)avformat_find_stream_info(input, NULL);
    reader->stream = av_find_best_stream(input, AVMEDIA_TYPE_VIDEO, -1, -1, codec, 0);
    if (reader->stream == AVERROR_DECODER_NOT_FOUND) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: no decoder for its video; convert it with `ffmpeg -i FILE -c:v ffv1 NEW.mkv`",
                           reader->where);
    }
    if (reader->stream < 0 || is_text(input->streams[reader->stream]->codecpar->codec_id)) {
        return problem_set(problem, PROBLEM_INPUT, "%s: there is no video in it; give a recording",
                           reader->where);
    }
    for (unsigned i = 0; i < input->nb_streams; i++) {
        input->streams[i]->discard = (int)i == reader->stream ? AVDISCARD_DEFAULT : AVDISCARD_ALL;
    }
    return true;
}

static bool open_decoder(struct reader *reader, struct problem *problem) {
    const AVCodec *codec = NULL;
    if (!find_stream(reader, &codec, problem)) {
        return false;
    }
    reader->picture = av_frame_alloc();
    reader->scaled = av_frame_alloc();
    reader->decoder = avcodec_alloc_context3(codec);
    if (reader->picture == NULL || reader->scaled == NULL || reader->decoder == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", reader->where);
    }
    AVCodecContext *decoder = reader->decoder;
    const AVCodecParameters *parameters = reader->input->streams[reader->stream]->codecpar;
    decoder->max_pixels = PIXELS_MAX;
    decoder->err_recognition = AV_EF_CRCCHECK;
    /* Threads by slices, not by frames: what the decoder says then belongs to the packet it was given. */
    decoder->thread_type = FF_THREAD_SLICE;
    decoder->thread_count = 2;
    int code = avcodec_parameters_to_context(decoder, parameters);
    if (code >= 0) {
        code = avcodec_open2(decoder, codec, NULL);
    }
    if (code < 0) {
        return problem_set(problem, PROBLEM_INPUT, "%s: its video cannot be decoded: %s; record it again",
                           reader->where, code_text(code));
    }
    return true;
}

static bool read_first(struct reader *reader, struct problem *problem) {
    enum next next = next_any(reader, &reader->first, problem);
    if (next == NEXT_END) {
        return problem_set(problem, PROBLEM_INPUT, "%s: not one whole frame in it; record it again",
                           reader->where);
    }
    reader->first_waits = true;
    return next == NEXT_FRAME;
}

static bool open_all(struct reader *reader, struct problem *problem) {
    reader->packet = av_packet_alloc();
    reader->path = strdup(reader->where);
    if (reader->packet == NULL || reader->path == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", reader->where);
    }
    reader->where = reader->path;
    return open_input(reader, problem) && (reader->is_raw || open_decoder(reader, problem)) &&
           read_first(reader, problem);
}

bool reader_open(const char *path, const struct video_shape *raw, struct video_source *source,
                 struct problem *problem) {
    log_listen();
    if (!check_file(path, problem)) {
        return false;
    }
    struct reader *reader = calloc(1, sizeof *reader);
    if (reader == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", path);
    }
    reader->where = path;
    if (raw != NULL) {
        reader->raw = *raw;
        reader->is_raw = true;
    }
    if (!open_all(reader, problem)) {
        reader_close(reader);
        return false;
    }
    *source = (struct video_source){.state = reader, .next = reader_next, .close = reader_close};
    return true;
}
