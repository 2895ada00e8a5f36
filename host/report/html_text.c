/* The two ways to write into a page. */
#include "report/html_inside.h"

#include <stdarg.h>
#include <stdlib.h>

void html_put(struct html *html, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    vfprintf(html->stream, format, arguments);
    va_end(arguments);
}

void html_say(struct html *html, const char *format, ...) {
    char *text = NULL;
    va_list arguments;
    va_start(arguments, format);
    const int length = vasprintf(&text, format, arguments);
    va_end(arguments);
    if (length >= 0) {
        escape_text(html->stream, text);
        free(text);
    }
}

void html_name(struct html *html, const char *name, const char *none) {
    if (*name == '\0') {
        html_put(html, "<span class=q>");
        html_say(html, "%s", none);
        html_put(html, "</span>");
        return;
    }
    html_put(html, "<bdi>");
    html_say(html, "%s", name);
    html_put(html, "</bdi>");
}
