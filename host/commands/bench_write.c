#include "commands/bench_write.h"

#include "base/output.h"
#include "plan/settings_file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { KEYS_MAX = 16, VALUE_MAX = 150 };

struct edit {
    FILE *out;
    const char *name;
    const struct bench_key *keys;
    size_t count;
    const char *newline; /* as the file has it */
    bool done[KEYS_MAX];
};

/* ---- what a line is; as plan/settings_file.h reads it ---- */

static bool is_blank(char c) {
    return c == ' ' || c == '\t' || c == '\r';
}

/* The line without blanks at its ends. */
static const char *trim(const char *line, size_t *length) {
    while (*length > 0 && is_blank(line[*length - 1])) {
        --*length;
    }
    while (*length > 0 && is_blank(*line)) {
        line++;
        --*length;
    }
    return line;
}

static bool is_section(const char *line, size_t length) {
    line = trim(line, &length);
    return length > 0 && *line == '[';
}

static bool is_bench(const char *line, size_t length, const char *name) {
    static const char prefix[] = "[bench ";
    line = trim(line, &length);
    const char *end = memchr(line, ']', length);
    if (length < strlen(prefix) || strncmp(line, prefix, strlen(prefix)) != 0 || end == NULL) {
        return false;
    }
    line += strlen(prefix);
    while (*line == ' ' || *line == '\t') {
        line++;
    }
    return (size_t)(end - line) == strlen(name) && strncmp(line, name, strlen(name)) == 0;
}

/* Where the value's sign stands, or NULL: a comment, an empty line, a section. */
static const char *equals_of(const char *line, size_t length) {
    const char *text = trim(line, &length);
    if (length == 0 || *text == ';' || *text == '#' || *text == '[') {
        return NULL;
    }
    for (size_t i = 0; i < length; i++) {
        if (text[i] == '=' || text[i] == ':') {
            return text + i;
        }
    }
    return NULL;
}

static bool has_key(const char *line, size_t length, const char *key) {
    const char *equals = equals_of(line, length);
    if (equals == NULL) {
        return false;
    }
    size_t size = (size_t)(equals - line);
    const char *text = trim(line, &size);
    return size == strlen(key) && strncasecmp(text, key, size) == 0;
}

/* Where a comment begins behind the value, with the blanks before it; else where the line ends. */
static const char *comment_of(const char *value, const char *end) {
    for (const char *at = value; at < end; at++) {
        if (*at == ';' && at > value && is_blank(at[-1])) {
            while (at > value && is_blank(at[-1])) {
                at--;
            }
            return at;
        }
    }
    while (end > value && end[-1] == '\r') {
        end--;
    }
    return end;
}

/* ---- writing ---- */

static void put_rest(struct edit *edit) {
    for (size_t i = 0; i < edit->count; i++) {
        if (!edit->done[i] && edit->keys[i].value != NULL) {
            fprintf(edit->out, "%s = %s%s", edit->keys[i].key, edit->keys[i].value, edit->newline);
        }
    }
}

static void put_line(struct edit *edit, const char *line, size_t length) {
    for (size_t i = 0; i < edit->count; i++) {
        if (!has_key(line, length, edit->keys[i].key)) {
            continue;
        }
        edit->done[i] = true;
        if (edit->keys[i].value != NULL) {
            const char *equals = equals_of(line, length), *end = line + length;
            const char *comment = comment_of(equals + 1, end);
            fwrite(line, 1, (size_t)(equals - line), edit->out);
            fprintf(edit->out, "= %s", edit->keys[i].value);
            fwrite(comment, 1, (size_t)(end - comment), edit->out);
            fputc('\n', edit->out);
        }
        return;
    }
    fwrite(line, 1, length, edit->out);
    fputc('\n', edit->out);
}

/* The end of a section's last setting, from where its first line begins: what follows (comments, empty lines)
 * may be about the next section. */
static const char *end_of_settings(const char *text) {
    const char *end = text;
    while (*text != '\0') {
        const size_t length = strcspn(text, "\n");
        const char *next = text + length + (text[length] == '\n');
        if (is_section(text, length)) {
            break;
        }
        end = equals_of(text, length) != NULL ? next : end;
        text = next;
    }
    return end;
}

/* Writes the section's lines, changed; returns what comes behind them. */
static const char *put_section(struct edit *edit, const char *text) {
    const char *end = end_of_settings(text);
    while (text < end) {
        const size_t length = strcspn(text, "\n");
        put_line(edit, text, length);
        text += length + (text[length] == '\n');
    }
    put_rest(edit);
    return end;
}

static void put_all(struct edit *edit, const char *text) {
    static const char mark[] = "\xEF\xBB\xBF"; /* byte order mark */
    const char *start = text;
    bool found = false;
    while (*text != '\0' && !found) {
        const char *line = text == start && strncmp(text, mark, 3) == 0 ? text + 3 : text;
        size_t length = strcspn(text, "\n");
        found = is_bench(line, length - (size_t)(line - text), edit->name);
        fwrite(text, 1, length, edit->out);
        text += length;
        if (*text == '\n' || found) {
            fputs(*text == '\n' ? "\n" : edit->newline, edit->out);
            text += *text == '\n';
        }
    }
    if (found) {
        text = put_section(edit, text);
        fputs(text, edit->out);
        return;
    }
    if (text > start) {
        fprintf(edit->out, "%s%s", text[-1] != '\n' ? edit->newline : "", edit->newline);
    }
    fprintf(edit->out, "[bench %s]%s", edit->name, edit->newline);
    put_rest(edit);
}

char *bench_edit(const char *text, const char *name, const struct bench_key *keys, size_t count) {
    char *bytes = NULL;
    size_t size = 0;
    struct edit edit = {.out = open_memstream(&bytes, &size),
                        .name = name,
                        .keys = keys,
                        .count = count < KEYS_MAX ? count : KEYS_MAX,
                        .newline = strstr(text, "\r\n") != NULL ? "\r\n" : "\n"};
    if (edit.out == NULL) {
        return NULL;
    }
    put_all(&edit, text);
    if (fclose(edit.out) != 0) {
        free(bytes);
        return NULL;
    }
    return bytes;
}

bool bench_value_fits(const char *value) {
    const size_t length = strlen(value);
    if (length == 0 || length > VALUE_MAX || is_blank(value[0]) || is_blank(value[length - 1])) {
        return false;
    }
    for (size_t i = 0; i < length; i++) {
        if ((unsigned char)value[i] < ' ' || value[i] == 0x7F ||
            (value[i] == ';' && (i == 0 || is_blank(value[i - 1])))) {
            return false;
        }
    }
    return true;
}

static char *read_text(const char *path, struct problem *problem) {
    char *text = calloc(1, SETTINGS_FILE_MAX + 1);
    FILE *file = fopen(path, "re");
    if (text == NULL || (file == NULL && errno != ENOENT)) {
        problem_set(problem, text == NULL ? PROBLEM_BENCH : PROBLEM_INPUT,
                    "%s: cannot be read: %s; check who may read it", path, strerror(errno));
        free(text);
        text = NULL;
    } else if (file != NULL && fread(text, 1, SETTINGS_FILE_MAX, file) == SETTINGS_FILE_MAX) {
        problem_set(problem, PROBLEM_INPUT, "%s: longer than 1 MiB, which is no benches file", path);
        free(text);
        text = NULL;
    }
    if (file != NULL) {
        fclose(file);
    }
    return text;
}

static bool make_folder(const char *path, struct problem *problem) {
    char folder[4096];
    snprintf(folder, sizeof folder, "%s", path);
    char *slash = strrchr(folder, '/');
    if (slash == NULL || slash == folder) {
        return true;
    }
    *slash = '\0';
    return output_folder(folder, problem);
}

bool bench_write(const char *path, const char *name, const struct bench_key *keys, size_t count,
                 struct problem *problem) {
    char *text = read_text(path, problem);
    if (text == NULL || !make_folder(path, problem)) {
        free(text);
        return false;
    }
    char *edited = bench_edit(text, name, keys, count);
    const bool good = edited != NULL ? output_write(path, edited, strlen(edited), problem)
                                     : problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    free(edited);
    free(text);
    return good;
}
