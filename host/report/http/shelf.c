#include "report/http/shelf.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum {
    LOOKING_MS = 3000, /* after this, nobody who has not asked again looks */
    NEVER = -1000000
};

static long long now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (long long)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

bool shelf_init(struct shelf *shelf, bool may_flash) {
    shelf->may_flash = may_flash;
    for (int i = 0; i < PACES; i++) {
        shelf->asked_ms[i] = NEVER;
        shelf->slots[i].taken_ms = NEVER;
    }
    return pthread_mutex_init(&shelf->lock, NULL) == 0;
}

void shelf_free(struct shelf *shelf) {
    for (int i = 0; i < PACES; i++) {
        free(shelf->slots[i].bytes);
    }
    pthread_mutex_destroy(&shelf->lock);
}

void shelf_put_state(struct shelf *shelf, const char *json, size_t length) {
    if (length > sizeof shelf->state) {
        return;
    }
    pthread_mutex_lock(&shelf->lock);
    memcpy(shelf->state, json, length);
    shelf->state_length = length;
    shelf->state_ms = now_ms();
    pthread_mutex_unlock(&shelf->lock);
}

static bool is_due(const struct shelf *shelf, enum pace pace, long long now) {
    static const int periods[PACES] = {[PACE_STILL] = PAGE_STILL_MS, [PACE_FAST] = PAGE_FAST_MS};
    return now - shelf->asked_ms[pace] < LOOKING_MS && now - shelf->slots[pace].taken_ms >= periods[pace];
}

bool shelf_wants_picture(struct shelf *shelf) {
    const long long now = now_ms();
    pthread_mutex_lock(&shelf->lock);
    const bool wanted = is_due(shelf, PACE_STILL, now) || is_due(shelf, PACE_FAST, now);
    pthread_mutex_unlock(&shelf->lock);
    return wanted;
}

/* Grows only where frames grow. */
static bool make_room(struct picture_slot *slot, size_t size) {
    if (slot->room >= size) {
        return true;
    }
    uint8_t *more = realloc(slot->bytes, size + size / 2);
    if (more == NULL) {
        return false;
    }
    slot->bytes = more;
    slot->room = size + size / 2;
    return true;
}

static void fill(struct picture_slot *slot, const uint8_t *png, size_t size, const char *alt, uint64_t number,
                 long long now) {
    if (make_room(slot, size)) {
        memcpy(slot->bytes, png, size);
        slot->size = size;
        slot->number = number;
        slot->taken_ms = now;
        snprintf(slot->alt, sizeof slot->alt, "%s", alt);
    }
}

void shelf_put_picture(struct shelf *shelf, const uint8_t *png, size_t size, const char *alt) {
    const long long now = now_ms();
    if (size > PAGE_PICTURE_MAX) {
        return;
    }
    pthread_mutex_lock(&shelf->lock);
    shelf->pictures++;
    for (int i = 0; i < PACES; i++) {
        if (is_due(shelf, (enum pace)i, now)) {
            fill(&shelf->slots[i], png, size, alt, shelf->pictures, now);
        }
    }
    pthread_mutex_unlock(&shelf->lock);
}

char *shelf_state(struct shelf *shelf, size_t *length) {
    enum { AROUND = 160 };
    char *text = malloc(PAGE_STATE_MAX + AROUND);
    if (text == NULL) {
        return NULL;
    }
    pthread_mutex_lock(&shelf->lock);
    const bool known = shelf->state_length > 0;
    int used = snprintf(text, AROUND, "{\"age_ms\":%lld,\"may_flash\":%s,\"state\":",
                        known ? now_ms() - shelf->state_ms : 0, shelf->may_flash ? "true" : "false");
    memcpy(text + used, known ? shelf->state : "null", known ? shelf->state_length : 4);
    *length = (size_t)used + (known ? shelf->state_length : 4);
    pthread_mutex_unlock(&shelf->lock);
    text[(*length)++] = '}';
    return text;
}

uint8_t *shelf_picture(struct shelf *shelf, enum pace pace, uint64_t after, struct picture_slot *about) {
    uint8_t *copy = NULL;
    pthread_mutex_lock(&shelf->lock);
    const enum pace given = shelf->may_flash ? pace : PACE_STILL;
    const struct picture_slot *slot = &shelf->slots[given];
    shelf->asked_ms[given] = now_ms();
    if (slot->number > after) {
        *about = *slot;
        copy = malloc(slot->size);
    }
    if (copy != NULL) {
        memcpy(copy, slot->bytes, slot->size);
    }
    pthread_mutex_unlock(&shelf->lock);
    return copy;
}
