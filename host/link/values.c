#include "link/link.h"

bool link_values(struct link *link, uint8_t stream, uint32_t first, const uint32_t *values, size_t count,
                 struct link_queue *queue, struct problem *problem) {
    (void)link, (void)stream, (void)first, (void)values, (void)count, (void)queue;
    return problem_set(problem, PROBLEM_BENCH, "the board takes no values in this version");
}
