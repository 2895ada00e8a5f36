#include "rom/counting.h"

#include "rom/phrases.h"

#include "slotjig/mailbox.h"

const struct counting *counting_of(const struct plan *plan) {
    switch (plan->kind) {
    case PLAN_EVERY:
        return &every_counting;
    case PLAN_MOMENTS:
        return &moments_counting;
    default:
        return NULL;
    }
}

void counting_next(struct encoder *e, const struct kernel_options *options) {
    const struct counting *counting = counting_of(options->plan);
    zp(e, "LDA", RAM_WORK);
    branch(e, "BNE", "same");
    set(e, options->hold & 0xFF, RAM_HOLD);
    set(e, options->hold >> 8, RAM_HOLD + 1);
    zp(e, "LDA", RAM_MODE);
    imm(e, "CMP", MAILBOX_GIVEN);
    branch(e, "BNE", "count");
    counting->given(e);
    encode_to(e, "JMP", MODE_ABSOLUTE, "same", 0, NULL);
    encode_label(e, "count");
    counting->count(e, options->plan);
    encode_label(e, "same");
    end_line(e);
    counting->wrap(e, options->plan);
    encode_label(e, "kept");
    end_line(e);
}
