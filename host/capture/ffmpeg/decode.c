#include "capture/ffmpeg/decode.h"

#include <libavutil/cpu.h>

enum {
    PIXELS_MAX = 1 << 25, /* a file that claims more is not believed */
    THREADS_MAX = 8,
    IN_WORK_MAX = 64 /* packets between a picture and those it waits for */
};

static int limit(int threads) {
    return threads < 1 ? 1 : threads > THREADS_MAX ? THREADS_MAX : threads;
}

static void set_threads(struct decode *decode, const AVCodec *codec, int threads) {
    int wanted = limit(threads > 0 ? threads : av_cpu_count()); /* those this process may run on */
    bool slices = (codec->capabilities & AV_CODEC_CAP_SLICE_THREADS) != 0;
    bool frames = (codec->capabilities & AV_CODEC_CAP_FRAME_THREADS) != 0;
    decode->context->thread_count = wanted;
    /* FFV1 has slices of its own making, most H.264 has one a picture. */
    bool by_slice = slices && (!frames || codec->id == AV_CODEC_ID_FFV1);
    decode->context->thread_type = by_slice ? FF_THREAD_SLICE : frames ? FF_THREAD_FRAME : 0;
    decode->threads = wanted > 1 && decode->context->thread_type == FF_THREAD_FRAME ? wanted : 1;
}

static bool make_frames(struct decode *decode) {
    decode->picture = av_frame_alloc();
    for (int i = 0; i < 2; i++) {
        decode->shown[i] = av_frame_alloc();
        decode->scaled[i] = av_frame_alloc();
        if (decode->shown[i] == NULL || decode->scaled[i] == NULL) {
            return false;
        }
    }
    return decode->picture != NULL;
}

bool decode_open(struct decode *decode, const AVCodec *codec, const AVCodecParameters *parameters,
                 int threads, const char *told, struct problem *problem) {
    *decode = (struct decode){.context = avcodec_alloc_context3(codec)};
    if (decode->context == NULL || !make_frames(decode)) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", told);
    }
    decode->context->max_pixels = PIXELS_MAX;
    decode->context->err_recognition = AV_EF_CRCCHECK;
    set_threads(decode, codec, threads);
    int code = avcodec_parameters_to_context(decode->context, parameters);
    if (code >= 0) {
        code = avcodec_open2(decode->context, codec, NULL);
    }
    if (code == AVERROR(ENOMEM)) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", told);
    }
    return code >= 0 ||
           problem_set(problem, PROBLEM_INPUT, "%s: its video cannot be decoded: %s; record it again", told,
                       code_text(code));
}

void decode_close(struct decode *decode) {
    av_frame_free(&decode->picture);
    for (int i = 0; i < 2; i++) {
        av_frame_free(&decode->shown[i]);
        av_frame_free(&decode->scaled[i]);
    }
    avcodec_free_context(&decode->context);
    sws_freeContext(decode->scaler);
    decode->scaler = NULL;
}

/* Everything from a packet on, to the next picture that stands alone, is not to be believed. */
static void damage(struct decode *decode, uint64_t packet, uint64_t from) {
    uint64_t key = decode->given[packet % PACKETS_TRACKED].key;
    struct chain *chain = &decode->damaged[key % PACKETS_TRACKED];
    if (chain->key != key || from < chain->from) {
        *chain = (struct chain){key, from};
    }
}

static bool is_spoiled(const struct decode *decode, uint64_t packet) {
    uint64_t key = decode->given[packet % PACKETS_TRACKED].key;
    const struct chain *chain = &decode->damaged[key % PACKETS_TRACKED];
    return chain->key == key && packet >= chain->from;
}

void decode_gap(struct decode *decode) {
    if (decode->packet != 0) { /* the packet before the gap is whole */
        damage(decode, decode->packet, decode->packet + 1);
    }
}

enum decoded decode_give(struct decode *decode, const AVPacket *packet) {
    if (packet != NULL) {
        decode->packet = log_packet();
        if ((packet->flags & AV_PKT_FLAG_KEY) != 0 || decode->key == 0) {
            decode->key = decode->packet;
        }
        decode->given[decode->packet % PACKETS_TRACKED] = (struct given){decode->packet, decode->key};
        decode->context->reordered_opaque = (int64_t)decode->packet;
    }
    int code = avcodec_send_packet(decode->context, packet);
    if (code == AVERROR(ENOMEM)) {
        return DECODED_FAILED;
    }
    if (code < 0 && packet != NULL) {
        damage(decode, decode->packet, decode->packet);
        return DECODED_BROKEN;
    }
    return DECODED_HUNGRY;
}

/* A picture may be shown before the broken one that it builds on. */
static void note_complaints(struct decode *decode, uint64_t packet) {
    for (uint64_t at = packet > IN_WORK_MAX ? packet - IN_WORK_MAX : 1; at <= packet; at++) {
        if (decode->given[at % PACKETS_TRACKED].packet == at && log_complained(at)) {
            damage(decode, at, at);
        }
    }
}

/* Decoders hide damage, FFV1's by showing the slice of the picture before, H.264's by guessing: to a judge
 * that is a lie. A picture its decoder complained about counts as broken, and those that build on it as
 * spoiled. */
static enum decoded trust(struct decode *decode) {
    const AVFrame *picture = decode->picture;
    uint64_t packet = picture->reordered_opaque > 0 ? (uint64_t)picture->reordered_opaque : decode->packet;
    note_complaints(decode, packet);
    if (picture->decode_error_flags != 0 || (picture->flags & AV_FRAME_FLAG_CORRUPT) != 0 ||
        log_complained(packet)) {
        damage(decode, packet, packet);
        return DECODED_BROKEN;
    }
    return is_spoiled(decode, packet) ? DECODED_SPOILED : DECODED_PICTURE;
}

enum decoded decode_next(struct decode *decode) {
    int code = avcodec_receive_frame(decode->context, decode->picture);
    if (code >= 0) {
        return trust(decode);
    }
    if (code == AVERROR(EAGAIN)) {
        return DECODED_HUNGRY;
    }
    if (code == AVERROR_EOF) {
        return DECODED_END;
    }
    /* Which of the packets in work it was is not said: the oldest may be it. */
    uint64_t oldest = decode->packet - (uint64_t)(decode->threads - 1);
    oldest = oldest > decode->packet || oldest < decode->key ? decode->packet : oldest;
    damage(decode, oldest, oldest);
    return DECODED_BROKEN;
}

static bool prepare_scaler(struct decode *decode, const AVFrame *from, AVFrame *to) {
    decode->scaler = sws_getCachedContext(decode->scaler, from->width, from->height, from->format,
                                          from->width, from->height, AV_PIX_FMT_YUV422P,
                                          SWS_BILINEAR | SWS_ACCURATE_RND, NULL, NULL, NULL);
    if (decode->scaler == NULL || to->data[0] != NULL) {
        return decode->scaler != NULL;
    }
    to->format = AV_PIX_FMT_YUV422P;
    to->width = from->width;
    to->height = from->height;
    return av_frame_get_buffer(to, 0) >= 0;
}

bool decode_show(struct decode *decode, const char *told, struct frame *frame, struct problem *problem) {
    int turn = decode->turn = 1 - decode->turn;
    AVFrame *picture = decode->shown[turn];
    AVFrame *scaled = decode->scaled[turn];
    av_frame_unref(picture);
    av_frame_move_ref(picture, decode->picture);
    if (planes_fit(picture->format)) {
        planes_view(picture, frame);
        return true;
    }
    if (!prepare_scaler(decode, picture, scaled) ||
        sws_scale(decode->scaler, (const uint8_t *const *)picture->data, picture->linesize, 0,
                  picture->height, scaled->data, scaled->linesize) != picture->height) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: its kind of pixel cannot be converted; convert it with `ffmpeg -i FILE -pix_fmt yuv422p`",
            told);
    }
    planes_view(scaled, frame);
    return true;
}
