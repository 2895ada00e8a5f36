/*
 * Fields and seconds of a round of plan `cartridge` on the console model, by scheme, and what its image's
 * proof takes. Prints `name value unit`.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <time.h>

#include <cmocka.h>

#include "rom/check_rounds.h"

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static void measure(int scheme, bool ram, enum standard standard) {
    static struct round_seen seen;
    const double clock = standard == STANDARD_NTSC ? 3579545.0 : 3546894.0;
    struct plan *plan = check_plan_of(scheme, ram, standard);
    const double before = seconds();
    struct image *image = check_image_of(plan, 1, 0);
    const double built = seconds() - before;
    char name[64];
    snprintf(name, sizeof name, "check_%s%s_%s", scheme_name(scheme), ram ? "_ram" : "",
             standard_table[standard].name);
    check_power_on(plan, image, 0, 1);
    /* The first round may have begun while the console started. */
    if (!round_begin(plan) || !round_watch(plan, &seen, 10000) || !round_watch(plan, &seen, 10000)) {
        printf("%s_fields 0 no_round\n", name);
    } else {
        printf("%s_fields %d fields\n", name, seen.fields);
        printf("%s_round %.2f s\n", name, seen.fields * 228.0 * standard_lines(standard) / clock);
    }
    printf("%s_build %.1f ms\n", name, built * 1e3);
    rom_free(image);
    plan_free(plan);
}

int main(void) {
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (int standard = STANDARD_NTSC; standard <= STANDARD_PAL; standard++) {
            for (int ram = scheme == WIRE_F4 ? 1 : 0; ram < (scheme == WIRE_F4 ? 2 : 1); ram++) {
                measure(scheme, ram, (enum standard)standard);
            }
        }
    }
    return 0;
}
