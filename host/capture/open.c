#include "base/stop.h"
#include "capture/inside.h"

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* Splits "KIND:NAME". False when it is a path: no such word before a colon, or a file of that very name. */
static bool split_kind(const char *where, char *kind, size_t size, const char **name) {
    const char *colon = strchr(where, ':');
    if (colon == NULL || colon == where || (size_t)(colon - where) >= size) {
        return false;
    }
    for (const char *at = where; at < colon; at++) {
        if (!isalnum((unsigned char)*at) && *at != '_') {
            return false;
        }
    }
    if (access(where, F_OK) == 0) {
        return false;
    }
    memcpy(kind, where, (size_t)(colon - where));
    kind[colon - where] = '\0';
    *name = colon + 1;
    return true;
}

bool video_is_live(const char *where) {
    char kind[sizeof((struct video_input *)0)->kind];
    const char *name;
    return split_kind(where, kind, sizeof kind, &name) && strcmp(kind, "file") != 0 &&
           strcmp(kind, "pipe") != 0;
}

static bool pipe_number(const char *text, const char *told, int *file, struct problem *problem) {
    char *end;
    errno = 0;
    long number = strtol(text, &end, 10);
    if (text[0] == '\0' || *end != '\0' || errno != 0 || number < 0 || number > INT_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "%s: give the number of an open descriptor, as in pipe:3",
                           told);
    }
    /* A copy, so that closing the source leaves the caller's own alone. */
    *file = fcntl((int)number, F_DUPFD_CLOEXEC, 3);
    return *file >= 0 || problem_set(problem, PROBLEM_INPUT,
                                     "%s: no such open descriptor: %s; open it in the shell, as in `3<FILE`",
                                     told, strerror(errno));
}

static bool parse(const char *where, struct video_input *input, struct problem *problem) {
    char kind[sizeof input->kind];
    const char *name;
    *input = (struct video_input){.name = where, .told = where, .file = -1, .stopped = stop_asked};
    if (where[0] == '\0') {
        return problem_set(problem, PROBLEM_INPUT, "no video is named; give a file, - or KIND:DEVICE");
    }
    if (strcmp(where, "-") == 0) {
        return pipe_number("0", where, &input->file, problem);
    }
    if (!split_kind(where, kind, sizeof kind, &name)) {
        return true;
    }
    if (strcmp(kind, "pipe") == 0) {
        return pipe_number(name, where, &input->file, problem);
    }
    input->name = name;
    if (strcmp(kind, "file") == 0) {
        input->told = name;
        return true;
    }
    memcpy(input->kind, kind, sizeof kind);
    return name[0] != '\0' ||
           problem_set(problem, PROBLEM_INPUT, "%s: no device is named; as in v4l2:/dev/video0", where);
}

/* What can be said before anything is read. */
static bool check_kind(const struct video_input *input, struct problem *problem) {
    struct stat facts;
    int code = input->file >= 0 ? fstat(input->file, &facts) : stat(input->name, &facts);
    if (code != 0) {
        return problem_set(problem, PROBLEM_INPUT, "%s: cannot be opened: %s; check its name and permissions",
                           input->told, strerror(errno));
    }
    if (S_ISREG(facts.st_mode) && facts.st_size == 0) {
        return problem_set(problem, PROBLEM_INPUT, "%s: the file is empty; record it again", input->told);
    }
    if (S_ISREG(facts.st_mode) || S_ISFIFO(facts.st_mode) || (S_ISSOCK(facts.st_mode) && input->file >= 0)) {
        return true;
    }
    if (S_ISDIR(facts.st_mode)) {
        return problem_set(problem, PROBLEM_INPUT, "%s: a folder, not a file; give a recording", input->told);
    }
    if (S_ISCHR(facts.st_mode) && input->file < 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: a device, not a file; of a grabber write v4l2:%s, else give a recording",
                           input->told, input->name);
    }
    return problem_set(problem, PROBLEM_INPUT, "%s: neither a file nor a pipe; give a recording",
                       input->told);
}

static double silent_time(const struct video_request *request) {
    return request->wait_s > 0 ? request->wait_s : VIDEO_PIPE_SILENT_S;
}

/* Files that need no decoder need no FFmpeg either, which takes longer to load than most of them to judge. */
static bool is_bare(const struct video_input *input, enum standard standard, struct raw_layout *layout) {
    enum video_kind kind;
    if (input->file >= 0 || !video_kind_of(input->name, &kind)) {
        return false;
    }
    *layout = raw_layout_yuyv(standard);
    return kind == VIDEO_RAW || (kind == VIDEO_Y4M && raw_layout_y4m(input->name, layout));
}

static bool open_bytes(const struct video_input *input, const struct video_request *request,
                       struct video_source *source, struct problem *problem) {
    struct raw_layout layout;
    if (is_bare(input, request->standard, &layout)) {
        return raw_open(input, &layout, request->wait_s, source, problem);
    }
    const struct video_module *module = video_module_load(problem);
    return module != NULL && module->open(input, request, source, problem);
}

static bool open_stored(const struct video_input *input, const struct video_request *request,
                        struct video_source *source, struct problem *problem) {
    if (!check_kind(input, problem)) {
        return false;
    }
    struct video_request asked = *request;
    asked.wait_s = silent_time(request);
    struct counted *counted = counted_new();
    if (counted == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", input->told);
    }
    if (!open_bytes(input, &asked, source, problem)) {
        free(counted);
        return false;
    }
    counted_wrap(counted, source);
    return true;
}

/* All that is needed to open the device again. */
struct device {
    const struct video_module *module;
    struct video_input input;
    struct video_request request;
    char *name, *told, *wanted_input, *pixel;
};

static void device_free(void *state) {
    struct device *device = state;
    free(device->name);
    free(device->told);
    free(device->wanted_input);
    free(device->pixel);
    free(device);
}

static bool device_open(void *state, struct video_source *source, struct problem *problem) {
    const struct device *device = state;
    return device->module->open(&device->input, &device->request, source, problem);
}

static struct device *device_new(const struct video_module *module, const struct video_input *input,
                                 const struct video_request *request) {
    struct device *device = calloc(1, sizeof *device);
    if (device == NULL) {
        return NULL;
    }
    *device = (struct device){.module = module,
                              .input = *input,
                              .request = *request,
                              .name = strdup(input->name),
                              .told = strdup(input->told),
                              .wanted_input = strdup(request->input != NULL ? request->input : ""),
                              .pixel = strdup(request->pixel != NULL ? request->pixel : "")};
    if (device->name == NULL || device->told == NULL || device->wanted_input == NULL ||
        device->pixel == NULL) {
        device_free(device);
        return NULL;
    }
    device->input.name = device->name;
    device->input.told = device->told;
    device->request.where = device->told;
    device->request.input = device->wanted_input;
    device->request.pixel = device->pixel;
    return device;
}

static bool open_device(const struct video_input *input, const struct video_request *request,
                        struct video_source *source, struct problem *problem) {
    const struct video_module *module = video_module_load(problem);
    if (module == NULL) {
        return false;
    }
    struct device *device = device_new(module, input, request);
    if (device == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", input->told);
    }
    struct live_opener opener = {.state = device, .open = device_open, .close = device_free};
    return live_open(&opener, input->told, request->wait_s, source, problem);
}

bool video_open(const struct video_request *request, struct video_source *source, struct problem *problem) {
    struct video_input input;
    if (!parse(request->where, &input, problem)) {
        return false;
    }
    bool good = input.kind[0] != '\0' ? open_device(&input, request, source, problem)
                                      : open_stored(&input, request, source, problem);
    if (!good && input.file >= 0) {
        close(input.file);
    }
    return good;
}
