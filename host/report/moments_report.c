#include "report/moments_report.h"

json_t *moments_json(const struct moments *moments) {
    (void)moments;
    return json_object();
}

void moments_terminal(FILE *stream, const struct moments *moments) {
    (void)stream, (void)moments;
}

bool moments_write(const struct moments *moments, const char *folder, struct problem *problem) {
    (void)moments, (void)folder, (void)problem;
    return true;
}
