#include "commands/promise.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

__attribute__((noreturn)) static void none(const char *fault) {
    fprintf(stderr, "no promise written for fault %s\n", fault);
    abort();
}

static struct promise one(int exit, enum finding_kind kind, int reg, int bit) {
    return (struct promise){exit, kind, kind, reg, bit};
}

static struct promise on_bit(enum finding_kind kind, const char *position) {
    int reg = 0, bit = 0;
    if (sscanf(position, "PF%d.%d", &reg, &bit) != 2) {
        none(position);
    }
    return one(1, kind, REG_PF0 + reg, bit);
}

/* D1 is the bit of VSYNC and VBLANK: with it stuck there is no vertical sync to lock to, whatever the
 * playfield does [H]. */
static struct promise on_data_input(const char *line) {
    int bit = atoi(line);
    if (bit == 1) {
        return (struct promise){4, FINDING_NO_VIDEO, FINDING_NO_SLATE, REG_COUNT, -1};
    }
    return one(1, FINDING_DATA_LINE_STUCK, REG_COUNT, bit);
}

/* Where it shows: the plan `bits` draws with COLUPF $0E on COLUBK $00, the slate with COLUBK $0E and $00.
 * What the blank beside the picture says of black and grey tells the one register from the other. Elsewhere
 * the bit is what it should be. */
static struct promise on_colour(bool low, const char *position) {
    bool background = strncmp(position, "COLUBK", 6) == 0;
    int bit = atoi(position + 7);
    bool shows = low ? bit <= 3 : background || bit >= 4;
    return shows ? one(1, FINDING_COLOUR_WRONG, background ? REG_COLUBK : REG_COLUPF, bit)
                 : one(0, FINDING_UNEXPLAINED, -1, -1);
}

struct promise promise_of(const char *fault) {
    const char *value = strchr(fault, '=');
    value = value == NULL ? "" : value + 1;
    if (strncmp(fault, "bit-low", 7) == 0) {
        return on_bit(FINDING_BIT_STUCK_LOW, value);
    }
    if (strncmp(fault, "bit-high", 8) == 0) {
        return on_bit(FINDING_BIT_STUCK_HIGH, value);
    }
    if (strncmp(fault, "flaky", 5) == 0) {
        return on_bit(FINDING_INTERMITTENT, value);
    }
    if (strncmp(fault, "couple", 6) == 0) {
        return on_bit(FINDING_BIT_COUPLED, value);
    }
    if (strncmp(fault, "and", 3) == 0) {
        return on_bit(FINDING_BITS_ANDED, value);
    }
    if (strncmp(fault, "or=", 3) == 0) {
        return on_bit(FINDING_BITS_ORED, value);
    }
    if (strncmp(fault, "order", 5) == 0) {
        return one(1, FINDING_REGISTER_ORDER_REVERSED, REG_PF0 + value[2] - '0', -1);
    }
    if (strncmp(fault, "unconnected", 11) == 0) {
        return one(1, FINDING_UNCONNECTED_BITS_DRAWN, REG_PF0, value[0] == 'a' ? -1 : atoi(value));
    }
    if (strncmp(fault, "colour-", 7) == 0) {
        return on_colour(fault[7] == 'l', value);
    }
    if (strncmp(fault, "tia-data", 8) == 0) {
        return on_data_input(value);
    }
    if (strncmp(fault, "cart-address=11", 15) == 0) {
        return one(0, FINDING_UNEXPLAINED, -1, -1); /* an image of 2 KiB does not use A11 */
    }
    if (strncmp(fault, "cart-", 5) == 0 || strcmp(fault, "no-console") == 0) {
        return (struct promise){4, FINDING_NO_VIDEO, FINDING_NO_SLATE, REG_COUNT, -1};
    }
    static const struct {
        const char *start;
        int exit;
        enum finding_kind kind;
    } plain[] = {{"swap", 1, FINDING_REGISTERS_SWAPPED},    {"mirror-ignored", 1, FINDING_MIRROR_IGNORED},
                 {"copy-ignored", 1, FINDING_COPY_IGNORED}, {"late", 1, FINDING_SHIFTED},
                 {"no-video", 4, FINDING_NO_VIDEO},         {"no-supply", 4, FINDING_NO_VIDEO},
                 {"frozen", 4, FINDING_FROZEN_VIDEO}};
    for (size_t i = 0; i < sizeof plain / sizeof plain[0]; i++) {
        if (strncmp(fault, plain[i].start, strlen(plain[i].start)) == 0) {
            return one(plain[i].exit, plain[i].kind, REG_COUNT, -1);
        }
    }
    none(fault);
}

struct promise promise_on(const char *fault, const char *set) {
    /* A hum bar on a channel without a station is no flat picture. */
    if (strcmp(set, "tuner") == 0 && (strcmp(fault, "no-video") == 0 || strcmp(fault, "no-supply") == 0)) {
        return (struct promise){4, FINDING_NO_VIDEO, FINDING_NO_SLATE, REG_COUNT, -1};
    }
    return promise_of(fault);
}

bool promise_kept(const struct promise *promise, const struct loop *loop) {
    const struct result *result = loop->session.result;
    if (verdict_exit(result->verdict) != promise->exit) {
        return false;
    }
    if (promise->exit == 0) {
        return result->finding_count == 0;
    }
    return result->finding_count > 0 && result->findings[0].kind != FINDING_UNEXPLAINED &&
           (loop_found(loop, promise->kind, promise->reg, promise->bit) ||
            loop_found(loop, promise->or_kind, promise->reg, promise->bit));
}
