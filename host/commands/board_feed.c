#include "commands/board_feed.h"

bool board_feed_possible(const struct plan *plan, const struct link *link) {
    return plan_counts(plan) && link != NULL && (link_facts(link)->capabilities & WIRE_CAN_VALUES) != 0;
}

static bool offer(void *user, const uint32_t *values, size_t count, struct session_queue *queue,
                  struct problem *problem) {
    struct board_feed *feed = user;
    struct link_queue board;
    if (!link_values(feed->link, feed->stream, feed->next, values, count, &board, problem)) {
        return false;
    }
    const uint32_t taken = board.next - feed->next;
    queue->taken = taken < count ? taken : count;
    queue->waiting = board.next - board.taken;
    feed->next += (uint32_t)queue->taken;
    return true;
}

struct session_feed board_feed_start(struct board_feed *feed, struct link *link, uint8_t stream) {
    *feed = (struct board_feed){.link = link, .stream = stream};
    return (struct session_feed){.user = feed, .offer = offer};
}
