/* Writes the corpus of fuzz_board into a folder: one file for each thing a host may do, and some it may not.
 */
#include "fuzz/board_script.h"

#include "core/bytes.h"
#include "core/frame.h"

#include <stdio.h>

enum { LONGEST = 8192 };

static struct script {
    uint8_t bytes[LONGEST];
    size_t count;
} script;

static void add(const uint8_t *bytes, size_t count) {
    for (size_t i = 0; i < count && script.count < LONGEST; i++) {
        script.bytes[script.count++] = bytes[i];
    }
}
#define ADD(...) add((const uint8_t[]){__VA_ARGS__}, sizeof((const uint8_t[]){__VA_ARGS__}))

static void start(uint8_t seed, uint8_t fault_one_in, unsigned cut) {
    script.count = 0;
    ADD(seed, fault_one_in, (uint8_t)cut, (uint8_t)(cut >> 8));
}

static void frame(uint8_t type, const uint8_t *payload, size_t count) {
    ADD(ACT_FRAME, type, 7, (uint8_t)count, (uint8_t)(count >> 8));
    add(payload, count);
}

/* The same frame as it is on the wire, so that the search has COBS and CRC to bend. */
static void raw(uint8_t type, const uint8_t *payload, size_t count) {
    uint8_t wire[WIRE_FRAME_MAX];
    size_t length = frame_encode(type, 9, payload, count, wire);
    ADD(ACT_RAW, (uint8_t)length, (uint8_t)(length >> 8));
    add(wire, length);
}

static void push(uint8_t scheme, uint8_t flags, uint8_t seed, uint8_t blocks) {
    ADD(ACT_BEGIN, scheme, flags, seed, 0, 0, 0, 0, ACT_BLOCKS, 0, blocks, ACT_WAIT, 0, 4, ACT_COMMIT,
        ACT_WAIT, 100, 0, ACT_TAKE);
}

static int save(const char *folder, const char *name) {
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *out = fopen(path, "wb");
    if (!out || fwrite(script.bytes, 1, script.count, out) != script.count || fclose(out) != 0) {
        perror(path);
        return 1;
    }
    return 0;
}

static int questions(const char *folder) {
    static const uint8_t zeroes[11];
    static const struct {
        const char *name;
        uint8_t type, count;
    } asked[] = {{"hello", WIRE_HELLO, 2},        {"status", WIRE_STATUS, 0}, {"watch", WIRE_WATCH, 0},
                 {"sums", WIRE_SUMS, 0},          {"read", WIRE_READ, 6},     {"select", WIRE_SELECT, 2},
                 {"log", WIRE_LOG_LEVEL, 1},      {"abort", WIRE_ABORT, 0},   {"loader", WIRE_LOADER, 4},
                 {"values-none", WIRE_VALUES, 6}, {"unknown", 0x7F, 3}};
    int failed = 0;
    for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++) {
        start(1, 0, NEVER_CUT);
        raw(asked[i].type, zeroes, asked[i].count);
        frame(asked[i].type, zeroes, asked[i].count);
        ADD(ACT_TAKE);
        failed += save(folder, asked[i].name);
    }
    return failed;
}

static int pushes(const char *folder) {
    int failed = 0;
    for (uint8_t scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        char name[16];
        snprintf(name, sizeof name, "push-%d", scheme);
        start(2, 0, NEVER_CUT);
        push(scheme, 3, 77, (uint8_t)(2U << scheme));
        push(scheme, 2, 78, (uint8_t)(2U << scheme));
        failed += save(folder, name);
    }
    start(3, 20, NEVER_CUT);
    push(WIRE_4K, 2, 5, 4);
    push(WIRE_F8, 2, 6, 8);
    failed += save(folder, "push-bad-flash");
    start(4, 0, 30);
    push(WIRE_4K, 2, 5, 4);
    push(WIRE_F8, 2, 6, 8);
    ADD(ACT_RESTART);
    push(WIRE_F8, 2, 6, 8);
    failed += save(folder, "push-power-cut");
    start(5, 0, NEVER_CUT);
    push(WIRE_F8, 0, 9, 8);
    ADD(ACT_BEGIN, WIRE_F8, 0, 9, 0xFE, 0, 0, 0, ACT_BLOCKS, 0, 1, ACT_UNPLUG, ACT_BEGIN, WIRE_F8, 0, 9, 0xFE,
        0, 0, 0, ACT_COMMIT, ACT_TAKE);
    return failed + save(folder, "push-keep-unplug");
}

static int hand_over(const char *folder) {
    start(6, 0, NEVER_CUT);
    ADD(ACT_SUPPLY, 1, ACT_CYCLES, 0xFC, 0x1F, 1, 2, ACT_CYCLES, 0, 0x10, 1, 200);
    push(WIRE_4K, 2, 11, 4);
    ADD(ACT_CYCLES, 0xE8, 0x1F, 0, 1, ACT_WAIT, 2, 0, ACT_CYCLES, 0xFC, 0x1F, 1, 2, ACT_WAIT, 2, 0);
    frame(WIRE_STATUS, NULL, 0);
    frame(WIRE_SELECT, (const uint8_t[]){1, 4}, 2);
    frame(WIRE_WATCH, NULL, 0);
    ADD(ACT_TAKE);
    return save(folder, "hand-over");
}

/* A console that reads what it is given, of two streams. */
static int values(const char *folder) {
    start(7, 0, NEVER_CUT);
    ADD(ACT_SUPPLY, 1);
    for (uint8_t stream = 1; stream <= 2; stream++) {
        frame(WIRE_VALUES, (const uint8_t[]){stream, 0, 0, 0, 0, 2, 1, 2, 3, 4, 5, 6}, 12);
        for (int field = 0; field < 3; field++) {
            ADD(ACT_WAIT, 5, 0, ACT_CYCLES, 0xE3, 0x1F, 1, 5);
        }
        frame(WIRE_VALUES, (const uint8_t[]){stream, 1, 0, 0, 0, 2, 4, 5, 6, 7, 8, 9}, 12);
    }
    frame(WIRE_SELECT, (const uint8_t[]){0, 0}, 2);
    frame(WIRE_VALUES, (const uint8_t[]){2, 3, 0, 0, 0, 0}, 6);
    ADD(ACT_TAKE);
    return save(folder, "values");
}

int main(int argc, char **argv) {
    if (argc != 2) {
        fprintf(stderr, "usage: make_board FOLDER\n");
        return 2;
    }
    return questions(argv[1]) + pushes(argv[1]) + hand_over(argv[1]) + values(argv[1]) > 0;
}
