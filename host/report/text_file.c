#include "report/text_file.h"

#include "base/output.h"

#include <stdlib.h>

bool text_file(const char *folder, const char *name, void (*print)(FILE *stream, const void *what),
               const void *what, struct problem *problem) {
    char path[4096], *text = NULL;
    size_t size = 0;
    if (snprintf(path, sizeof path, "%s/%s", folder, name) >= (int)sizeof path) {
        return problem_set(problem, PROBLEM_INPUT, "%s: the path is too long", folder);
    }
    FILE *stream = open_memstream(&text, &size);
    if (stream != NULL) {
        print(stream, what);
    }
    const bool made = stream != NULL && fclose(stream) == 0;
    const bool good = made ? output_write(path, text, size, problem)
                           : problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    free(text);
    return good;
}
