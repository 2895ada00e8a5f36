/*
 * Bytes a run of plan `bits` takes in the store beside the information in it (record/information.h), of runs
 * that the program made on the virtual bench, by kind of grabber: in records.c's invented runs every figure
 * is noise, which no packing makes smaller, and what a run takes besides its steps tells least there. Each
 * run is put many times with other times and seeds, so that the file's fixed part tells little; the entropies
 * are those of the different runs. Pictures are left out.
 */
#include "record/folder.h"
#include "record/information.h"
#include "record/records.h"

#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/wait.h>

extern char **environ;
enum { RUNS = 20, TIMES = 500 };

static void must(bool good, const struct problem *problem) {
    if (!good) {
        fprintf(stderr, "%s\n", problem->text);
        exit(1);
    }
}

static void run(const char *kind, const char *store, int seed) {
    char program[] = BUILD_DIR "/slotjig", number[16];
    char *arguments[] = {program,   "run",       "--bench", "virtual", "--plan", "bits",   "--grabber", NULL,
                         "--quiet", "--console", "oak",     "--store", NULL,     "--seed", number,      NULL};
    pid_t child;
    int status = 1;
    snprintf(number, sizeof number, "%d", seed);
    arguments[7] = (char *)kind;
    arguments[12] = (char *)store;
    if (posix_spawn(&child, program, NULL, NULL, arguments, environ) != 0 ||
        waitpid(child, &status, 0) != child || status != 0) {
        fprintf(stderr, "%s: a run on grabber %s did not pass\n", program, kind);
        exit(1);
    }
}

static void put_many(struct records *records, const struct record_list *list,
                     struct information *information) {
    struct problem problem;
    for (int time = 0; time < TIMES; time++) {
        must(records_begin(records, &problem), &problem);
        for (size_t i = 0; i < list->count; i++) {
            struct record_run *one = list->runs[i];
            one->id = 0;
            one->started_ms += 777777;
            one->seed += 1000;
            must(records_put(records, one, &problem), &problem);
            information_add(information, one);
        }
        must(records_end(records, &problem), &problem);
    }
}

static void measure(const struct folder *folder, const char *kind) {
    char made[FOLDER_PATH_MAX], many[FOLDER_PATH_MAX];
    const struct records_choice all = {.with_trouble = true};
    struct information *information = information_new();
    struct records *records;
    struct record_list list;
    struct problem problem;
    struct stat facts = {0};
    folder_path(folder, "made.sqlite", made);
    folder_path(folder, "many.sqlite", many);
    for (int seed = 1; seed <= RUNS; seed++) {
        run(kind, made, seed);
    }
    must(records_open(made, RECORDS_READ, &records, &problem), &problem);
    must(records_select(records, &all, RECORDS_STEPS | RECORDS_FINDINGS | RECORDS_PLAN, &list, &problem),
         &problem);
    records_close(records);
    must(records_open(many, RECORDS_WRITE, &records, &problem), &problem);
    put_many(records, &list, information);
    records_close(records);
    stat(many, &facts);
    const double runs = RUNS * TIMES, bytes = (double)facts.st_size / runs;
    const double known = information_bytes(information) / runs;
    printf("bytes_%s_a_run %.1f bytes\n", kind, bytes);
    printf("bytes_%s_information_a_run %.1f bytes\n", kind, known);
    printf("bytes_%s_over_information %.2f times\n", kind, bytes / known);
    record_list_free(&list);
    information_free(information);
    folder_remove_store(made);
    folder_remove_store(many);
}

int main(void) {
    static const char *const kinds[] = {"clean", "stick", "tuner", "drops"};
    struct folder folder;
    folder_make(&folder, "slotjig-bytes");
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        measure(&folder, kinds[i]);
    }
    folder_remove(&folder);
    return 0;
}
