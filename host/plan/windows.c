#include "plan/windows.h"

#include <string.h>

void windows_arithmetic(struct write_windows *windows) {
    memset(windows, 0, sizeof *windows);
}

void windows_handbook(struct write_windows *windows) {
    memset(windows, 0, sizeof *windows);
}

bool windows_read(const char *path, struct write_windows *windows, struct problem *problem) {
    (void)windows;
    return problem_set(problem, PROBLEM_INPUT, "%s: windows are not read yet", path);
}
