/* The settings of a run, in words; what was not set is left out. */
#include "report/html_inside.h"

#include <stdlib.h>

static void texts(struct html *html, const json_t *list) {
    size_t index;
    const json_t *item;
    json_array_foreach(list, index, item) {
        html_say(html, "%s%s", index > 0 ? ", " : "", json_string_value(item));
    }
}

static bool is_texts(const json_t *value) {
    size_t index;
    const json_t *item;
    json_array_foreach(value, index, item) {
        if (!json_is_string(item)) {
            return false;
        }
    }
    return json_is_array(value);
}

static void setting(struct html *html, const json_t *value) {
    if (json_is_string(value)) {
        html_say(html, "%s", json_string_value(value));
    } else if (is_texts(value)) {
        texts(html, value);
    } else {
        char *text = json_dumps(value, JSON_COMPACT | JSON_ENCODE_ANY);
        html_say(html, "%s", text != NULL ? text : "");
        free(text);
    }
}

static bool is_set(const json_t *value) {
    return !json_is_null(value) && !(json_is_array(value) && json_array_size(value) == 0);
}

void html_settings(struct html *html, const char *settings) {
    json_t *json = json_loads(settings, 0, NULL);
    if (!json_is_object(json)) {
        html_fact(html, "Settings", "%s", settings);
        json_decref(json);
        return;
    }
    const char *key;
    json_t *value;
    bool said = false;
    html_put(html, "<dt>Settings</dt><dd><bdi>");
    json_object_foreach(json, key, value) {
        if (is_set(value)) {
            html_say(html, "%s%s ", said ? "; " : "", key);
            setting(html, value);
            said = true;
        }
    }
    html_say(html, "%s", said ? "" : "none");
    html_put(html, "</bdi></dd>\n");
    json_decref(json);
}
