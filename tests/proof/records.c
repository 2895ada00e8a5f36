/*
 * The store of records: killed at 1,000 moments and more (some find it done before), on disks that get full,
 * with damaged files.
 *
 * Prints tables; ends with 1 when anything asked did not come out. SLOTJIG_SEED: the first seed. PROOF_RUNS:
 * another number of moments, for a first look.
 */
#include "proof/pool.h"
#include "record/crash.h"
#include "record/damage.h"
#include "record/full.h"

#include <stdint.h>

enum { MOMENTS = 1296, KILLED_ASKED = 1000, DAMAGES = 1000, ROOMS = 60 };

static uint64_t seed = 1;
static struct crash *crash;
static struct filling *filling;
static struct folder folder;
static struct damage *damage;

static void crash_piece(size_t index, void *out) {
    const struct crash_moment moment = crash_moment_of(seed, index);
    crash_at(crash, &moment, out);
}

struct row {
    size_t tried, killed, acknowledged, more, bad;
};

static void add(struct row *row, const struct crash_answer *answer) {
    row->tried++;
    row->killed += answer->killed;
    row->acknowledged += answer->acknowledged;
    row->more += answer->more;
    row->bad += !answer->good;
}

static void print_row(const char *scene, const char *manner, const struct row *row) {
    printf("| %-10s | %-5s | %7zu | %6zu | %12zu | %18zu | %11zu |\n", scene, manner, row->tried, row->killed,
           row->acknowledged, row->more, row->bad);
}

static size_t print_crashes(const struct crash_answer *answers, size_t count) {
    struct row all = {0};
    printf("| at         | by    | moments | killed | acknowledged | more, whole, found | lost or bad |\n"
           "| ---        | ---   |    ---: |   ---: |         ---: |               ---: |        ---: |\n");
    for (int scene = 0; scene < CRASH_SCENES; scene++) {
        for (int manner = 0; manner < CRASH_MANNERS; manner++) {
            struct row row = {0};
            for (size_t i = 0; i < count; i++) {
                const struct crash_moment moment = crash_moment_of(seed, i);
                if ((int)moment.scene == scene && (int)moment.manner == manner) {
                    add(&row, &answers[i]);
                    add(&all, &answers[i]);
                }
            }
            if (row.tried > 0) {
                print_row(crash_scene_names[scene], crash_manner_names[manner], &row);
            }
        }
    }
    print_row("all", "", &all);
    return all.killed;
}

static bool crashes(size_t count) {
    struct crash_answer *answers = calloc(count, sizeof *answers);
    crash = crash_new(1, SOURCE_DIR "/tests/record/old");
    if (answers == NULL || crash == NULL) {
        return false;
    }
    bool good = pool_run(count, crash_piece, answers, sizeof *answers);
    good = print_crashes(answers, count) >= (count < MOMENTS ? count / 2 : KILLED_ASKED) && good;
    for (size_t i = 0; i < count; i++) {
        if (!answers[i].good) {
            good = false;
            printf("moment %zu: %s\n", i, answers[i].why);
        }
    }
    crash_free(crash);
    free(answers);
    return good;
}

/* Rooms from nothing to more than is needed, each for single runs and for batches, as a limit and as a disk.
 */
static void full_piece(size_t index, void *out) {
    static const long most[] = {320 * 1024, 640 * 1024};
    const enum full_kind kind = index % 2 == 0 ? FULL_LIMIT : FULL_DISK;
    uint64_t random = seed + index;
    const long room = 1 + (long)(invented_uniform(&random) * (double)most[kind]);
    full_at(filling, &folder, kind, room, index / 2 % 2 == 0 ? 1 : 5, out);
}

static bool fulls(size_t count) {
    struct full_answer *answers = calloc(count, sizeof *answers);
    size_t tried[2] = {0}, opened[2] = {0}, refused[2] = {0}, acknowledged[2] = {0}, bad[2] = {0};
    static const char *const names[] = {"largest file", "disk"};
    bool good = answers != NULL && pool_run(count, full_piece, answers, sizeof *answers);
    for (size_t i = 0; good && i < count; i++) {
        const struct full_answer *answer = &answers[i];
        tried[i % 2] += answer->tried;
        opened[i % 2] += answer->opened;
        refused[i % 2] += answer->refused;
        acknowledged[i % 2] += answer->acknowledged;
        bad[i % 2] += answer->tried && !answer->good;
        if (answer->tried && !answer->good) {
            printf("full %zu: %s\n", i, answer->why);
        }
    }
    printf("\n| full         | tried | opened | a put refused | acknowledged | lost or bad |\n"
           "| ---          |  ---: |   ---: |          ---: |         ---: |        ---: |\n");
    for (int kind = 0; kind < 2; kind++) {
        printf("| %-12s | %5zu | %6zu | %13zu | %12zu | %11zu |\n", names[kind], tried[kind], opened[kind],
               refused[kind], acknowledged[kind], bad[kind]);
        good = good && bad[kind] == 0 && (tried[kind] == 0 || refused[kind] > 0);
    }
    free(answers);
    return good;
}

static void damage_piece(size_t index, void *out) {
    damage_at(damage, (enum damage_kind)(index % DAMAGE_KINDS), seed + index / DAMAGE_KINDS, out);
}

static bool damages(size_t count) {
    struct damage_answer *answers = calloc(count, sizeof *answers);
    damage = damage_new(filling, &folder);
    if (answers == NULL || damage == NULL) {
        return false;
    }
    bool good = pool_run(count, damage_piece, answers, sizeof *answers);
    printf("\n| damaged  | files | said so | problems | runs read right | wrong or died |\n"
           "| ---      |  ---: |    ---: |     ---: |            ---: |          ---: |\n");
    for (size_t kind = 0; kind < DAMAGE_KINDS; kind++) {
        size_t files = 0, said = 0, problems = 0, right = 0, bad = 0;
        for (size_t i = kind; i < count; i += DAMAGE_KINDS) {
            files++;
            said += answers[i].problems > 0;
            problems += answers[i].problems;
            right += answers[i].right;
            bad += !answers[i].good;
        }
        printf("| %-8s | %5zu | %7zu | %8zu | %15zu | %13zu |\n", damage_kind_names[kind], files, said,
               problems, right, bad);
        good = good && bad == 0;
    }
    for (size_t i = 0; i < count; i++) {
        if (!answers[i].good) {
            printf("damage %zu: %s\n", i, answers[i].why);
        }
    }
    damage_free(damage);
    free(answers);
    return good;
}

int main(void) {
    const char *told = getenv("SLOTJIG_SEED"), *fewer = getenv("PROOF_RUNS");
    const size_t moments = fewer != NULL ? (size_t)atol(fewer) : MOMENTS;
    seed = told != NULL ? strtoull(told, NULL, 10) : 1;
    printf("Store of records: %zu moments, seeds from %llu (SLOTJIG_SEED)\n\n", moments,
           (unsigned long long)seed);
    filling = filling_new(1);
    folder_make(&folder, "slotjig-records");
    bool good = crashes(moments);
    good &= fulls(fewer != NULL ? moments / 8 : 4 * ROOMS);
    good &= damages(fewer != NULL ? moments : DAMAGES);
    folder_remove(&folder);
    filling_free(filling);
    printf("\nrecords: %s\n", good ? "as asked" : "NOT as asked");
    return good ? 0 : 1;
}
