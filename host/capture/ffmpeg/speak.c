#include "capture/ffmpeg/inside.h"

#include <libavutil/error.h>
#include <libavutil/log.h>
#include <stdarg.h>
#include <stdatomic.h>

/* Slice threads speak too. */
static atomic_uint errors;

const char *code_text(int code) {
    static char text[AV_ERROR_MAX_STRING_SIZE];
    av_strerror(code, text, sizeof text);
    return text;
}

static void listen(void *speaker, int level, const char *format, va_list arguments) {
    (void)speaker;
    (void)format;
    (void)arguments;
    if (level <= AV_LOG_ERROR) {
        atomic_fetch_add(&errors, 1);
    }
}

void log_listen(void) {
    av_log_set_level(AV_LOG_QUIET);
    av_log_set_callback(listen);
}

unsigned log_errors(void) {
    return atomic_load(&errors);
}
