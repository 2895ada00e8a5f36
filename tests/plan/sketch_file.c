#include "plan/sketch_file.h"

char sketch_folder[SCRATCH_MAX], sketch_path[SCRATCH_MAX + 64];

int sketch_start(void **state) {
    (void)state;
    scratch_make(sketch_folder);
    scratch_path(sketch_folder, "drawing.txt", sketch_path);
    return 0;
}

int sketch_stop(void **state) {
    static const char *const names[] = {"drawing.txt"};
    (void)state;
    scratch_remove(sketch_folder, names, 1);
    return 0;
}
