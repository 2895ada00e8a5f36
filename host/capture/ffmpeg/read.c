#include "capture/ffmpeg/bytes.h"
#include "capture/ffmpeg/decode.h"

#include <errno.h>
#include <fcntl.h>
#include <libavformat/avformat.h>
#include <libavutil/pixdesc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    ERRORS_MAX = 64,       /* broken packets in a row before the file is given up */
    STRANGERS_MAX = 100000 /* packets without a frame in a row */
};

struct reader {
    char *name, *where; /* path; and the text as it was given, for messages */
    struct bytes bytes; /* where it is a descriptor or a named pipe */
    AVFormatContext *input;
    struct decode decode;
    AVPacket *packet;
    int stream;
    bool draining;
    unsigned broken_in_row;
    struct video_counts counts;
    struct frame first; /* read when the file was opened, so that a file without a frame is refused there */
    bool first_waits;
    uint64_t number;
};

static void reader_close(void *state) {
    struct reader *reader = state;
    decode_close(&reader->decode);
    av_packet_free(&reader->packet);
    avformat_close_input(&reader->input);
    bytes_close(&reader->bytes);
    free(reader->name);
    free(reader->where);
    free(reader);
}

static enum next lost(const struct reader *reader, int code, struct problem *problem) {
    if (!bytes_gave_up(&reader->bytes, reader->where, problem)) {
        problem_set(problem, PROBLEM_BENCH, "%s: reading failed: %s; check the disk it lies on",
                    reader->where, code_text(code));
    }
    return NEXT_ERROR;
}

/* One more broken packet; false when there were too many in a row. */
static bool count_broken(struct reader *reader, struct problem *problem) {
    reader->counts.broken++;
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
        if (code >= 0 && reader->packet->stream_index == reader->stream && reader->packet->size > 0) {
            return NEXT_FRAME;
        }
        if (code >= 0) {
            reader->counts.empty += reader->packet->stream_index == reader->stream;
            continue;
        }
        if (stream != NULL && stream->error < 0 && stream->error != AVERROR_EOF) {
            return lost(reader, stream->error, problem);
        }
        if (code == AVERROR_EOF || stream == NULL || avio_feof(stream)) {
            return NEXT_END;
        }
        decode_gap(&reader->decode);
        if (!count_broken(reader, problem)) {
            return NEXT_ERROR;
        }
    }
    problem_set(problem, PROBLEM_INPUT, "%s: no video among its last %d packets; record it again",
                reader->where, STRANGERS_MAX);
    return NEXT_ERROR;
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
    enum decoded decoded = decode_give(&reader->decode, reader->draining ? NULL : reader->packet);
    if (decoded == DECODED_FAILED) {
        return lost(reader, AVERROR(ENOMEM), problem);
    }
    if (decoded == DECODED_BROKEN && !count_broken(reader, problem)) {
        return NEXT_ERROR;
    }
    return NEXT_FRAME;
}

/* One whole picture into the decoder's hands. */
static enum next next_picture(struct reader *reader, struct problem *problem) {
    for (int tries = 0; tries < STRANGERS_MAX; tries++) {
        enum decoded decoded = decode_next(&reader->decode);
        if (decoded == DECODED_PICTURE) {
            reader->broken_in_row = 0;
            return NEXT_FRAME;
        }
        if (decoded == DECODED_END) {
            return NEXT_END;
        }
        if (decoded == DECODED_SPOILED) {
            reader->counts.broken++;
            continue;
        }
        if (decoded == DECODED_BROKEN) {
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

static enum next next_decoded(struct reader *reader, struct frame *frame, struct problem *problem) {
    enum next next = next_picture(reader, problem);
    if (next != NEXT_FRAME) {
        return next;
    }
    const AVFrame *picture = reader->decode.picture;
    bool same = reader->number == 0 ||
                (picture->width == reader->first.width && picture->height == reader->first.height);
    if (!same) {
        problem_set(problem, PROBLEM_INPUT,
                    "%s: its size changes from %d by %d to %d by %d at frame %llu; cut it there",
                    reader->where, reader->first.width, reader->first.height, picture->width, picture->height,
                    (unsigned long long)reader->number);
        return NEXT_ERROR;
    }
    int64_t pts = picture->best_effort_timestamp;
    if (!decode_show(&reader->decode, reader->where, frame, problem)) {
        return NEXT_ERROR;
    }
    AVRational base = reader->input->streams[reader->stream]->time_base;
    frame->time_us = pts > 0 ? (uint64_t)av_rescale_q(pts, base, (AVRational){1, 1000000}) : 0;
    frame->number = reader->number++;
    return NEXT_FRAME;
}

static enum next reader_next(void *state, struct frame *frame, struct problem *problem) {
    struct reader *reader = state;
    if (reader->first_waits) {
        reader->first_waits = false;
        *frame = reader->first;
        return NEXT_FRAME;
    }
    return next_decoded(reader, frame, problem);
}

static void reader_tell(void *state, struct video_about *about, struct video_counts *counts) {
    const struct reader *reader = state;
    if (counts != NULL) {
        *counts = reader->counts;
    }
    if (about == NULL) {
        return;
    }
    const AVStream *stream = reader->input->streams[reader->stream];
    const char *pixel = av_get_pix_fmt_name(reader->decode.shown[reader->decode.turn]->format);
    snprintf(about->kind, sizeof about->kind, "%s", reader->bytes.is_pipe ? "pipe" : "file");
    snprintf(about->name, sizeof about->name, "%s", reader->where);
    snprintf(about->format, sizeof about->format, "%s %s", avcodec_get_name(stream->codecpar->codec_id),
             pixel != NULL ? pixel : "");
    about->width = reader->first.width;
    about->height = reader->first.height;
    about->rate = stream->avg_frame_rate.den > 0 ? av_q2d(stream->avg_frame_rate) : 0;
}

static bool no_memory(const struct reader *reader, struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", reader->where);
}

/* A descriptor, or a named pipe: those FFmpeg would wait for without end. */
static bool open_bytes(struct reader *reader, const struct video_input *input, double silent_s,
                       struct problem *problem) {
    struct stat facts;
    int file = input->file;
    if (file < 0 && (stat(input->name, &facts) != 0 || S_ISREG(facts.st_mode))) {
        return true;
    }
    if (file < 0) {
        file = open(input->name, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    }
    if (file < 0) {
        return problem_set(problem, PROBLEM_INPUT, "%s: cannot be opened: %s; check its name and permissions",
                           reader->where, strerror(errno));
    }
    if (!bytes_open(&reader->bytes, file, silent_s, input->stopped)) {
        if (input->file < 0) {
            close(file);
        }
        return no_memory(reader, problem);
    }
    return true;
}

/* "file:" keeps FFmpeg from taking a name for an address or another protocol, the white list from following
 * addresses inside a file. */
static bool open_input(struct reader *reader, struct problem *problem) {
    char *address = NULL;
    if (asprintf(&address, "file:%s", reader->name) < 0) {
        no_memory(reader, problem);
        return false;
    }
    AVDictionary *options = NULL;
    av_dict_set(&options, "protocol_whitelist", "file", 0);
    int code = AVERROR(ENOMEM);
    reader->input = avformat_alloc_context();
    if (reader->input != NULL) {
        reader->input->pb = reader->bytes.stream;
        code = avformat_open_input(&reader->input, reader->bytes.stream != NULL ? NULL : address, NULL,
                                   &options);
    }
    av_dict_free(&options);
    free(address);
    if (code >= 0) {
        return true;
    }
    if (!bytes_gave_up(&reader->bytes, reader->where, problem)) {
        problem_set(problem, PROBLEM_INPUT,
                    "%s: not a video file that can be read: %s; give a recording (.mkv, .y4m, .yuv, .raw)",
                    reader->where, code_text(code));
    }
    return false;
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
    if (bytes_gave_up(&reader->bytes, reader->where, problem)) {
        return false;
    }
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

static bool read_first(struct reader *reader, struct problem *problem) {
    enum next next = next_decoded(reader, &reader->first, problem);
    if (next == NEXT_END) {
        return problem_set(problem, PROBLEM_INPUT, "%s: not one whole frame in it; record it again",
                           reader->where);
    }
    reader->first_waits = true;
    bytes_opened(&reader->bytes);
    return next == NEXT_FRAME;
}

static bool open_all(struct reader *reader, const struct video_input *input,
                     const struct video_request *request, struct problem *problem) {
    const AVCodec *codec = NULL;
    return open_bytes(reader, input, request->wait_s, problem) && open_input(reader, problem) &&
           find_stream(reader, &codec, problem) &&
           decode_open(&reader->decode, codec, reader->input->streams[reader->stream]->codecpar,
                       request->threads, reader->where, problem) &&
           read_first(reader, problem);
}

bool reader_open(const struct video_input *input, const struct video_request *request,
                 struct video_source *source, struct problem *problem) {
    log_listen();
    struct reader *reader = calloc(1, sizeof *reader);
    if (reader == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", input->told);
    }
    reader->name = strdup(input->name);
    reader->where = strdup(input->told);
    reader->packet = av_packet_alloc();
    bool good = reader->name != NULL && reader->where != NULL && reader->packet != NULL;
    if (!good) {
        problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", input->told);
    }
    if (!good || !open_all(reader, input, request, problem)) {
        if (reader->bytes.file == input->file) {
            reader->bytes.file = -1; /* the caller's still, as it failed */
        }
        reader_close(reader);
        return false;
    }
    *source = (struct video_source){
        .state = reader, .next = reader_next, .close = reader_close, .tell = reader_tell};
    return true;
}
