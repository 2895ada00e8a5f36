/* Stands in until the work is there: the first item, then rounds counting up. */
#include "rom/check.h"
#include "rom/phrases.h"

void check_work_warm(struct encoder *e, const struct cart_check *check) {
    (void)e;
    (void)check;
}

void check_work_start(struct encoder *e, const struct cart_check *check) {
    set(e, check->scheme | (check->ram ? 8 : 0), RAM_VALUE);
    zp(e, "LDA", RAM_HOME);
    zp(e, "STA", RAM_VALUE + 1);
    set(e, CHECK_START, RAM_VALUE + 2);
}

void check_work_emit(struct encoder *e, const struct cart_check *check, int window) {
    (void)check;
    (void)window;
    encode_label(e, "work");
    zp(e, "INC", RAM_ROUNDS);
    branch(e, "BNE", "work_counted");
    zp(e, "INC", RAM_ROUNDS + 1);
    encode_label(e, "work_counted");
    for (int byte = 0; byte < 2; byte++) {
        zp(e, "LDA", RAM_ROUNDS + byte);
        zp(e, "STA", RAM_VALUE + byte);
    }
    set(e, CHECK_ROUND, RAM_VALUE + 2);
    set(e, 0, RAM_SHOWN_FOR);
    encode_to(e, "JMP", MODE_ABSOLUTE, "work_done", 0, NULL);
}
