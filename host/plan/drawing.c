#include "plan/drawing.h"

bool drawing_plan(const char *path, enum standard standard, const struct write_windows *windows,
                  struct plan **plan, struct problem *problem) {
    (void)standard, (void)windows, (void)plan;
    return problem_set(problem, PROBLEM_INPUT, "%s: drawings are not built yet", path);
}
