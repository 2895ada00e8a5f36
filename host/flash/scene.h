/* A plan's pictures one by one, as flashing needs them: the 40 cells of each line, the slate's lines first.
 */
#ifndef SLOTJIG_FLASH_SCENE_H
#define SLOTJIG_FLASH_SCENE_H

#include "plan/plan.h"
#include "slotjig/slate.h"

#include <stdint.h>

struct scenes {
    const struct plan *plan;
    int lines;                     /* the slate's included */
    bool two_level;                /* nothing but black and white: only the masks are filled */
    uint64_t playfield[2][3][256]; /* mode, register, value: its cells */
};

struct scene {
    uint64_t white[PICTURE_LINES_MAX];      /* cell n is bit n */
    uint8_t code[PICTURE_LINES_MAX][CELLS]; /* colour code over 2; not of the slate's lines */
};

void scenes_init(struct scenes *scenes, const struct plan *plan);
/* Fills what lies below the slate. picture: 0..plan_pictures()-1, in the order in which a console left to
 * itself shows them. */
void scene_picture(const struct scenes *scenes, uint32_t picture, struct scene *scene);
/* Fills the slate's lines. */
void scene_slate(const struct scenes *scenes, uint32_t picture, uint8_t counter, struct scene *scene);

#endif
