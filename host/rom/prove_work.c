#include "rom/check.h"

bool prove_work(const struct encoder *encoder, const struct cart_check *check, int window, int *worst,
                struct problem *problem) {
    (void)encoder;
    (void)check;
    (void)window;
    (void)problem;
    *worst = 0;
    return true;
}
