/* How long it takes to work out how a plan flashes, which comes before each run on a screen that people see.
 * Lines of `name value unit`. */
#include "flash/flash.h"
#include "plan/plan.h"

#include <stdio.h>
#include <time.h>

static double milliseconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec * 1e3 + (double)now.tv_nsec * 1e-6;
}

static int measure(const char *name, int hold) {
    struct plan *plan = NULL;
    struct flashes flashes;
    struct problem problem = {0};
    if (!plan_open(name, STANDARD_NTSC, &plan, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        return 1;
    }
    const double start = milliseconds();
    const bool good = flashes_of(plan, hold, 0, &flash_screen_usual, &flashes, &problem);
    const double took = milliseconds() - start;
    const int calm = good ? flashes_calm_hold(plan, &flash_screen_usual, &problem) : 0;
    const double calm_took = milliseconds() - start - took;
    plan_free(plan);
    if (calm == 0) {
        fprintf(stderr, "%s\n", problem.text);
        return 1;
    }
    printf("flashes_%s_hold_%d %.1f ms\n", name, hold, took);
    printf("flashes_%s_calm_hold %.1f ms\n", name, calm_took);
    return 0;
}

int main(void) {
    return measure("bits", 4) + measure("colours", 4) + measure("moments", 4) + measure("every", 1);
}
