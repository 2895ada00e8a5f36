#include "plan/settings_file.h"

#include <errno.h>
#include <ini.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { SECTION_NAME_MAX = 49 }; /* inih cuts longer ones without a word */

/* inih says nothing of a section without keys, nor where one begins again under the same name. After each
 * section's line it is therefore given a line of ours with this key. A file cannot hold it: control
 * characters are refused before. */
static const char section_key[] = "\x01";

struct reading {
    setting_taker *take;
    void *user;
    struct problem *problem;
    const char *path;
    const char *next; /* the rest of the text */
    int line;
    bool section_line_due, failed;
};

bool setting_refuse(struct problem *problem, const struct setting *setting, const char *format, ...) {
    char text[sizeof problem->text];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    return problem_set(problem, PROBLEM_INPUT, "%s:%d: %s", setting->path, setting->line, text);
}

bool setting_yes_no(const char *text, bool *value) {
    static const char *const words[] = {"no", "yes", "false", "true", "off", "on", "0", "1"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcasecmp(text, words[i]) == 0) {
            *value = i % 2 != 0;
            return true;
        }
    }
    return false;
}

static bool refuse_line(struct reading *reading, const char *text) {
    const struct setting here = {.path = reading->path, .line = reading->line};
    reading->failed = true;
    return setting_refuse(reading->problem, &here, "%s", text);
}

static int take_one(void *user, const char *section, const char *key, const char *value) {
    struct reading *reading = user;
    struct setting setting = {reading->path, reading->line, section, key, value};
    if (strcmp(key, section_key) == 0) {
        setting.key = NULL;
        setting.value = NULL;
    }
    if (!reading->failed && !reading->take(reading->user, &setting, reading->problem)) {
        reading->failed = true;
    }
    return 1;
}

/* Blanks at both ends are no part of a line. */
static const char *trim(const char *text, size_t *length) {
    while (*length > 0 && strchr(" \t\r", text[*length - 1]) != NULL) {
        --*length;
    }
    while (*length > 0 && (*text == ' ' || *text == '\t')) {
        text++;
        --*length;
    }
    return text;
}

/* What inih would pass over in silence, or call an error without a reason. */
static bool check_line(struct reading *reading, const char *text, size_t length, size_t room) {
    if (length == 0 || *text == ';' || *text == '#') {
        return true;
    }
    if (length + 2 > room) {
        return refuse_line(reading, "the line is too long; keep it under 199 characters");
    }
    if (*text == '[') {
        const char *end = memchr(text, ']', length);
        if (end == NULL) {
            return refuse_line(reading, "the section's name has no closing ]; add it");
        }
        const char *behind = end + 1 + strspn(end + 1, " \t");
        if (behind < text + length && *behind != ';' && *behind != '#') {
            return refuse_line(reading,
                               "nothing may stand behind the section's ]; remove it, or the first ]");
        }
        reading->section_line_due = true;
        return end - text - 1 <= SECTION_NAME_MAX ||
               refuse_line(reading, "the section's name is too long; keep it to 49 characters");
    }
    if (memchr(text, '=', length) == NULL && memchr(text, ':', length) == NULL) {
        return refuse_line(reading,
                           "this is neither [section] nor key = value; correct it, or start the line with ; "
                           "to make it a comment");
    }
    return true;
}

/* inih's fgets(). */
static char *next_line(char *line, int room, void *user) {
    struct reading *reading = user;
    if (reading->failed) {
        return NULL;
    }
    if (reading->section_line_due) {
        reading->section_line_due = false;
        snprintf(line, (size_t)room, "%s=\n", section_key);
        return line;
    }
    if (*reading->next == '\0') {
        return NULL;
    }
    reading->line++;
    const char *text = reading->next;
    size_t length = strcspn(text, "\n");
    reading->next += length + (text[length] == '\n');
    text = trim(text, &length);
    if (!check_line(reading, text, length, (size_t)room)) {
        return NULL;
    }
    bool comment = length + 2 > (size_t)room; /* only comments may be that long */
    snprintf(line, (size_t)room, "%.*s\n", comment ? 0 : (int)length, text);
    return line;
}

/* Bytes of the UTF-8 character at text, 0 when it is none or a control character. */
static size_t character_size(const unsigned char *text) {
    static const struct {
        unsigned char mask, is;
        uint32_t least;
    } kinds[] = {{0x80, 0x00, 0}, {0xE0, 0xC0, 0x80}, {0xF0, 0xE0, 0x800}, {0xF8, 0xF0, 0x10000}};
    for (size_t more = 0; more < 4; more++) {
        if ((*text & kinds[more].mask) != kinds[more].is) {
            continue;
        }
        uint32_t code = (unsigned char)~kinds[more].mask & *text;
        for (size_t i = 1; i <= more; i++) {
            if ((text[i] & 0xC0) != 0x80) {
                return 0;
            }
            code = code << 6 | (text[i] & 0x3F);
        }
        bool control =
            (code < 0x20 && code != '\t' && code != '\n' && code != '\r') || (code >= 0x7F && code < 0xA0);
        bool bad =
            control || code < kinds[more].least || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF);
        return bad ? 0 : more + 1;
    }
    return 0;
}

static bool is_text(const char *text, size_t size) {
    for (size_t at = 0; at < size;) {
        size_t step = character_size((const unsigned char *)text + at);
        if (step == 0) {
            return false;
        }
        at += step;
    }
    return true;
}

/* The whole file with a final 0, to be freed. */
static char *load(const char *path, size_t *size, struct problem *problem) {
    char *text = malloc(SETTINGS_FILE_MAX + 2);
    FILE *file = fopen(path, "re");
    if (text == NULL || file == NULL) {
        problem_set(problem, text == NULL ? PROBLEM_BENCH : PROBLEM_INPUT,
                    "%s: cannot be read: %s; check the path and who may read it", path, strerror(errno));
        free(text);
        if (file != NULL) {
            fclose(file);
        }
        return NULL;
    }
    *size = fread(text, 1, SETTINGS_FILE_MAX + 1, file);
    int error = ferror(file) != 0 ? errno : 0;
    fclose(file);
    if (error != 0 || *size > SETTINGS_FILE_MAX) {
        problem_set(problem, PROBLEM_INPUT, "%s: cannot be read: %s; give the path of a plan or benches file",
                    path, error != 0 ? strerror(error) : "it is longer than 1 MiB");
        free(text);
        return NULL;
    }
    text[*size] = '\0';
    return text;
}

bool settings_read_text(const char *what, const char *text, setting_taker *take, void *user,
                        struct problem *problem) {
    if (!is_text(text, strlen(text))) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: not a text file (UTF-8); give an INI file made with an editor", what);
    }
    const bool marked = strncmp(text, "\xEF\xBB\xBF", 3) == 0; /* byte order mark */
    struct reading reading = {take, user, problem, what, text + (marked ? 3 : 0), 0, false, false};
    int error = ini_parse_stream(next_line, &reading, take_one, &reading);
    if (!reading.failed && error != 0) {
        return problem_set(problem, error < 0 ? PROBLEM_BENCH : PROBLEM_INPUT,
                           "%s: cannot be understood near line %d; compare it with the README's example",
                           what, error);
    }
    return !reading.failed;
}

bool settings_read(const char *path, setting_taker *take, void *user, struct problem *problem) {
    size_t size = 0;
    char *text = load(path, &size, problem);
    if (text == NULL) {
        return false;
    }
    /* A 0 inside would end the text early. */
    const bool good =
        strlen(text) == size
            ? settings_read_text(path, text, take, user, problem)
            : problem_set(problem, PROBLEM_INPUT,
                          "%s: not a text file (UTF-8); give an INI file made with an editor", path);
    free(text);
    return good;
}
