/* A cartridge on a reader. */
#include "commands/ship_way.h"

bool ship_reader(const struct options *options, const struct ship_plan *plan, struct ship_seen *seen,
                 struct problem *problem) {
    (void)options, (void)plan;
    *seen = (struct ship_seen){.end = RECORD_TROUBLE};
    return problem_set(problem, PROBLEM_INPUT, "ways: the reader is not built yet");
}
