/* What stands between the two threads: the state and the pictures that were put last. */
#ifndef SLOTJIG_REPORT_HTTP_SHELF_H
#define SLOTJIG_REPORT_HTTP_SHELF_H

#include "report/page.h"

#include <pthread.h>

enum { ALT_MAX = 256 };

/* Who has not agreed to flashing gets stills, whatever another viewer has agreed to. */
enum pace { PACE_STILL, PACE_FAST, PACES };

struct picture_slot {
    uint8_t *bytes;
    size_t size, room;
    uint64_t number; /* 0: none yet */
    long long taken_ms;
    char alt[ALT_MAX];
};

struct shelf {
    pthread_mutex_t lock;
    bool may_flash;
    char state[PAGE_STATE_MAX];
    size_t state_length;
    long long state_ms;
    uint64_t pictures;
    struct picture_slot slots[PACES];
    long long asked_ms[PACES]; /* when somebody last wanted a picture at that pace */
};

bool shelf_init(struct shelf *shelf, bool may_flash);
void shelf_free(struct shelf *shelf);

void shelf_put_state(struct shelf *shelf, const char *json, size_t length);
bool shelf_wants_picture(struct shelf *shelf);
void shelf_put_picture(struct shelf *shelf, const uint8_t *png, size_t size, const char *alt);

/* A copy of the state with its age and the latest pictures' numbers around it; to be freed. NULL when memory
 * is short. */
char *shelf_state(struct shelf *shelf, size_t *length);
/* A copy of the picture newer than number `after`, to be freed; NULL when there is none. Notes that somebody
 * looks. */
uint8_t *shelf_picture(struct shelf *shelf, enum pace pace, uint64_t after, struct picture_slot *about);

#endif
