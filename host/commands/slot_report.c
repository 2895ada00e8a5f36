#include "commands/slot_report.h"

#include "commands/board_report.h"

#include <string.h>

void slot_look(struct bench_board *board, struct slot_report *slot) {
    struct problem problem = {0};
    *slot = (struct slot_report){0};
    if (!bench_board_watch(board, &slot->watch, &slot->asked, &problem)) {
        slot->asked = false;
    }
}

void slot_add_findings(const struct slot_report *slot, struct result *result) {
    (void)slot, (void)result;
}

json_t *slot_report_json(const struct slot_report *slot) {
    return slot->asked ? slot_json(&slot->watch) : json_null();
}

enum slot_part slot_part_of(enum finding_kind kind) {
    (void)kind;
    return SLOT_NO_PART;
}

const struct finding *slot_first_fault(const struct slot_report *slot) {
    for (size_t i = 0; i < slot->count; i++) {
        if (slot_part_of(slot->findings[i].kind) != SLOT_NO_PART) {
            return &slot->findings[i];
        }
    }
    return NULL;
}
