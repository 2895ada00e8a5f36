#include "capture/ffmpeg/inside.h"

#include <libavutil/error.h>
#include <libavutil/log.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <string.h>

enum { REMEMBERED = 1024 };

static atomic_uint_fast64_t packets;
static atomic_uint_fast64_t complaints[REMEMBERED];
static _Thread_local enum buffer_trouble trouble;
static _Thread_local int device_file = -1;

const char *code_text(int code) {
    static _Thread_local char text[AV_ERROR_MAX_STRING_SIZE];
    av_strerror(code, text, sizeof text);
    return text;
}

uint64_t log_packet(void) {
    return atomic_fetch_add(&packets, 1) + 1;
}

static void complain(uint64_t packet) {
    atomic_store(&complaints[packet % REMEMBERED], packet);
}

bool log_complained(uint64_t packet) {
    return packet != 0 && atomic_load(&complaints[packet % REMEMBERED]) == packet;
}

/* A decoder's threads have contexts of their own, each with the number of the packet it works on. */
static void note_decoder(void *speaker) {
    if (speaker == NULL || *(const AVClass **)speaker != avcodec_get_class()) {
        return;
    }
    const AVCodecContext *decoder = speaker;
    if (decoder->reordered_opaque > 0) {
        complain((uint64_t)decoder->reordered_opaque);
    }
}

/* libavdevice/v4l2.c hands out both a buffer with the error flag and one of the wrong length as a packet of
 * size 0 [read in FFmpeg 5.1]. */
static void note_device(int level, const char *format, va_list arguments) {
    if (strncmp(format, "fd:%d capabilities", 18) == 0) {
        device_file = va_arg(arguments, int);
    } else if (level == AV_LOG_WARNING && strstr(format, "buffer contains corrupted data") != NULL) {
        trouble = BUFFER_MARKED;
    } else if (level == AV_LOG_WARNING && strstr(format, "buffer contains %d bytes, but") != NULL) {
        trouble = va_arg(arguments, int) == 0 ? BUFFER_EMPTY : BUFFER_SHORT;
    }
}

static bool begins_with_any(const char *text, const char *const *beginnings, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (strncmp(text, beginnings[i], strlen(beginnings[i])) == 0) {
            return true;
        }
    }
    return false;
}

/* That it guesses a part of a picture a decoder does not call an error, and with threads by frames the mark
 * on the picture may come too late. On the other hand there are errors in what is beside a JPEG's picture, of
 * which cheap grabbers make some in every frame. [libavcodec/error_resilience.c, mjpegdec.c, FFmpeg 5.1] */
static bool is_complaint(int level, const char *format) {
    static const char *const guesses[] = {"concealing "};
    static const char *const harmless[] = {"unable to decode APP fields", "mjpeg: invalid TIFF header",
                                           "mjpeg: error decoding"};
    if (level > AV_LOG_ERROR) {
        return begins_with_any(format, guesses, sizeof guesses / sizeof guesses[0]);
    }
    return !begins_with_any(format, harmless, sizeof harmless / sizeof harmless[0]);
}

static void listen(void *speaker, int level, const char *format, va_list arguments) {
    if (is_complaint(level, format)) {
        note_decoder(speaker);
    }
    note_device(level, format, arguments);
}

void log_listen(void) {
    av_log_set_level(AV_LOG_QUIET);
    av_log_set_callback(listen);
}

enum buffer_trouble log_buffer_trouble(void) {
    enum buffer_trouble said = trouble;
    trouble = BUFFER_FINE;
    return said;
}

int log_device_file(void) {
    int file = device_file;
    device_file = -1;
    return file;
}
