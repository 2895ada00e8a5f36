/* Pictures inside the page itself, as far as there is room for them. */
#include "report/html_inside.h"

#include <string.h>

static const struct record_blob *blob_of(const struct record_run *run, const char *name) {
    for (size_t i = 0; i < run->blob_count; i++) {
        if (strcmp(run->blobs[i].name, name) == 0) {
            return &run->blobs[i];
        }
    }
    return NULL;
}

bool html_has_blob(const struct record_run *run, const char *name) {
    return blob_of(run, name) != NULL;
}

/* [S RFC 4648, 4] */
static void base64(FILE *stream, const uint8_t *bytes, size_t size) {
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < size; i += 3) {
        const size_t left = size - i;
        const uint32_t three = (uint32_t)bytes[i] << 16 | (left > 1 ? (uint32_t)bytes[i + 1] << 8 : 0) |
                               (left > 2 ? bytes[i + 2] : 0);
        const char four[] = {digits[three >> 18], digits[three >> 12 & 63],
                             left > 1 ? digits[three >> 6 & 63] : '=', left > 2 ? digits[three & 63] : '='};
        fwrite(four, 1, sizeof four, stream);
    }
}

bool html_picture(struct html *html, const struct record_run *run, const char *name, const char *about) {
    const struct record_blob *blob = blob_of(run, name);
    if (blob == NULL || strcmp(blob->type, "image/png") != 0) {
        return false;
    }
    const size_t size = (blob->size + 2) / 3 * 4;
    if (html->pictures + size > HTML_PICTURES_MOST) {
        html->pictures_left_out++;
        html_put(html, "<p class=q>A picture was left out here: ");
        html_say(html, "%s", about);
        html_put(html, ".</p>\n");
        return true;
    }
    html->pictures += size;
    html_put(html, "<figure><img alt=\"");
    html_say(html, "%s", about);
    html_put(html, "\" src=\"data:image/png;base64,");
    base64(html->stream, blob->bytes, blob->size);
    html_put(html, "\"><figcaption>");
    html_say(html, "%s", about);
    html_put(html, "</figcaption></figure>\n");
    return true;
}

json_t *html_blob_json(const struct record_run *run, const char *name) {
    const struct record_blob *blob = blob_of(run, name);
    return blob != NULL && strcmp(blob->type, "application/json") == 0
               ? json_loadb((const char *)blob->bytes, blob->size, 0, NULL)
               : NULL;
}
