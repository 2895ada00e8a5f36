#include "commands/power.h"

#include "commands/person.h"
#include "link/command.h"

#include <stdio.h>
#include <time.h>
#include <unistd.h>

enum {
    OFF_SECONDS = 2, /* until the supply's capacitors are empty [P] */
    SWITCH_SECONDS = 20,
    PERSON_MS = 600000
};

static bool switch_both(const char *program, struct problem *problem) {
    const struct timespec off = {.tv_sec = OFF_SECONDS};
    char **words = NULL;
    if (!command_split(program, &words, problem)) {
        return false;
    }
    bool good = command_power(words, "off", SWITCH_SECONDS, problem);
    if (good) {
        nanosleep(&off, NULL);
        good = command_power(words, "on", SWITCH_SECONDS, problem);
    }
    command_free(words);
    return good;
}

static bool by_program(const char *program, struct problem *problem) {
    struct problem why;
    return switch_both(program, &why) ||
           problem_set(problem, why.kind,
                       "the board has the image, but the console could not be switched off and on: %s",
                       why.text);
}

static bool by_person(struct problem *problem) {
    if (!isatty(STDIN_FILENO)) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "the board has the image, but the console still runs what it ran before: switch the "
            "console off and on and say the same again, or give the bench the key power");
    }
    fprintf(stderr,
            "The console did not start the image by itself. Switch it off by its own switch, wait %d s, "
            "switch it on,\nthen press Enter: ",
            OFF_SECONDS);
    fflush(stderr);
    return person_answered(PERSON_MS) ||
           problem_set(problem, PROBLEM_BENCH,
                       "nobody switched the console off and on (asked at the terminal, for %d minutes at "
                       "most); say it again when someone is there, or give the bench the key power",
                       PERSON_MS / 60000);
}

bool power_cycle(const char *program, struct problem *problem) {
    return *program != '\0' ? by_program(program, problem) : by_person(problem);
}
