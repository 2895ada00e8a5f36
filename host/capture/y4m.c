#include "capture/inside.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { HEAD_MAX = 256, SIDE_MAX = 8192 };

/* [S yuv4mpeg(5), mjpegtools] The kinds of 4:2:0 differ in where a chroma sample lies between those of the
 * luma, which is less than is asked of colours here. */
static const struct kind {
    const char *name, *pixel;
    int chroma_x, chroma_y;
    bool is_grey;
} kinds[] = {
    {"420", "yuv420p", 1, 1, false},      {"420jpeg", "yuv420p", 1, 1, false},
    {"420mpeg2", "yuv420p", 1, 1, false}, {"420paldv", "yuv420p", 1, 1, false},
    {"422", "yuv422p", 1, 0, false},      {"444", "yuv444p", 0, 0, false},
    {"mono", "gray", 0, 0, true},
};

static bool set_kind(const char *name, struct raw_layout *layout) {
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (strcmp(name, kinds[i].name) == 0) {
            layout->pixel = kinds[i].pixel;
            layout->chroma_x = kinds[i].chroma_x;
            layout->chroma_y = kinds[i].chroma_y;
            layout->is_grey = kinds[i].is_grey;
            return true;
        }
    }
    return false;
}

static bool set_side(const char *text, int *side) {
    char *end;
    long number = strtol(text, &end, 10);
    *side = number >= 2 && number <= SIDE_MAX ? (int)number : 0;
    return *end == '\0' && *side > 0;
}

static void set_rate(const char *text, struct raw_layout *layout) {
    int num = 0, den = 0;
    if (sscanf(text, "%d:%d", &num, &den) == 2 && num > 0 && den > 0) {
        layout->rate = (double)num / den;
    }
}

static bool set_word(const char *word, struct raw_layout *layout) {
    switch (word[0]) {
    case 'W':
        return set_side(word + 1, &layout->width);
    case 'H':
        return set_side(word + 1, &layout->height);
    case 'C':
        return set_kind(word + 1, layout);
    case 'F':
        set_rate(word + 1, layout);
        return true;
    default:
        return true; /* interlacing, aspect, remarks */
    }
}

static bool parse_head(char *head, struct raw_layout *layout) {
    char *end = strchr(head, '\n');
    if (end == NULL) {
        return false;
    }
    *end = '\0';
    *layout = (struct raw_layout){.has_marks = true, .begins = (size_t)(end + 1 - head)};
    set_kind("420jpeg", layout); /* where nothing is said */
    char *rest = NULL;
    const char *word = strtok_r(head, " ", &rest);
    if (word == NULL || strcmp(word, "YUV4MPEG2") != 0) {
        return false;
    }
    while ((word = strtok_r(NULL, " ", &rest)) != NULL) {
        if (!set_word(word, layout)) {
            return false;
        }
    }
    return layout->width > 0 && layout->height > 0;
}

bool raw_layout_y4m(const char *path, struct raw_layout *layout) {
    char head[HEAD_MAX + 1];
    struct stat facts;
    if (stat(path, &facts) != 0 || !S_ISREG(facts.st_mode)) {
        return false; /* of a pipe the head could not be put back */
    }
    int file = open(path, O_RDONLY | O_CLOEXEC);
    if (file < 0) {
        return false;
    }
    ssize_t size = read(file, head, HEAD_MAX);
    close(file);
    head[size > 0 ? size : 0] = '\0';
    return parse_head(head, layout);
}
