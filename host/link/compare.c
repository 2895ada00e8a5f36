/* Which blocks of a new image the board has already, found by the CRCs of its blocks. */
#include "core/bytes.h"
#include "link/inside.h"

bool link_holds(const struct link_status *status, const struct link_image *image, uint32_t crc) {
    return status->generation != 0 && status->crc == crc && status->size == image->size &&
           status->scheme == image->scheme && status->flags == image->flags;
}

bool link_same_blocks(struct link *link, const struct link_image *image, uint32_t *same,
                      struct problem *problem) {
    const struct question question = {.type = WIRE_SUMS};
    const size_t blocks = image->size / WIRE_BLOCK;
    struct reply reply;
    *same = 0;
    if (!link_query(link, &question, SIZE_MAX, &reply, problem)) {
        return false;
    }
    if (reply.count != 4 * blocks) {
        return true; /* it serves another image than it did a moment ago: nothing is the same */
    }
    for (size_t i = 0; i < blocks; i++) {
        if (get32(reply.bytes + 4 * i) == frame_crc(0, image->bytes + i * WIRE_BLOCK, WIRE_BLOCK)) {
            *same |= (uint32_t)1 << i;
        }
    }
    return true;
}
