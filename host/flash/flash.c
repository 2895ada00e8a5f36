#include "flash/flash.h"

const struct flash_screen flash_screen_usual = {.peak = 200, .degrees = 20};

bool flashes_of(const struct plan *plan, int hold, int dark, const struct flash_screen *screen,
                struct flashes *flashes, struct problem *problem) {
    (void)plan, (void)hold, (void)dark, (void)screen, (void)flashes;
    return problem_set(problem, PROBLEM_INPUT, "flashes are not worked out yet");
}

int flashes_calm_hold(const struct plan *plan, const struct flash_screen *screen, struct problem *problem) {
    (void)plan, (void)screen, (void)problem;
    return 0;
}
