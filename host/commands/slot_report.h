/* What the board saw of the slot when a run did not pass, and what follows from it. */
#ifndef SLOTJIG_COMMANDS_SLOT_REPORT_H
#define SLOTJIG_COMMANDS_SLOT_REPORT_H

#include "commands/bench_board.h"
#include "verdict/slot.h"

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

struct slot_report {
    bool asked; /* the rest is there */
    struct link_watch watch;
    size_t count;
    struct finding findings[SLOT_EXPLAINED_MAX];
};

/* Asks the board and explains what it says; image: the one that should run. A board that cannot be asked, or
 * does not answer, leaves asked false. */
void slot_look(struct bench_board *board, const struct link_image *image, enum slot_video video,
               struct slot_report *slot);
/* The slot's findings onto a result: first where the video says nothing, last where it shows a fault. */
void slot_add_findings(const struct slot_report *slot, struct result *result);
/* The watch's numbers, or null. */
json_t *slot_report_json(const struct slot_report *slot);

/* What of the console a finding of the slot is about, in the order in which one needs the other. */
enum slot_part { SLOT_NO_PART, SLOT_SUPPLY, SLOT_BUS, SLOT_PROCESSOR, SLOT_PROGRAM };
enum slot_part slot_part_of(enum finding_kind kind);

#endif
