#include "commands/commands.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const struct {
    const char *name, *about;
    int (*run)(int argc, char **argv);
} commands[] = {
    {"run", "show a plan on a bench, watch the video, and say what is right and what is wrong", command_run},
    {"plan", "what plans there are, and what their steps hold", command_plan},
    {"rom", "a plan as a cartridge image, with its listing", command_rom},
    {"expect", "which cells a plan, registers or a row of cells must light", command_expect},
    {"push", "put a plan's image, or a file, on the board in the slot", command_push_image},
    {"grab", "record a bench's video to a file", command_grab},
    {"judge", "judge a recording against a plan", command_judge},
    {"reader", "read a cartridge on a reader, compare it with an image, and measure it", command_reader},
    {"sweep", "plans by consoles by repeats: a shelf of consoles, on one bench or several", command_sweep},
    {"history", "what is on record: runs, consoles, sweeps", command_history},
    {"baseline", "runs that later ones of the console, or of its revision, are held against",
     command_baseline},
    {"compare", "what is new, gone or drifting against the baseline; two groups, or two results",
     command_compare},
    {"report", "records as a page for people, JUnit XML, JSON Lines or CSV", command_report},
    {"ship", "test a cartridge before it is shipped, and what is on record of a lot", command_ship},
    {"watch", "a live page on this computer: the picture, its margin, and what is wrong now", command_watch},
    {"doctor", "look at board, slot and console, and say which of them is at fault", command_doctor},
    {"boards", "which boards are attached, and what to do about those that are not ready", command_boards},
    {"benches", "what is understood of the benches file", command_benches},
};
enum { COMMANDS = sizeof commands / sizeof commands[0] };

static int help(FILE *stream, int status) {
    fprintf(stream,
            "slotjig %s: proves what a TIA console really draws\n\nusage: slotjig COMMAND [options]\n\n",
            SLOTJIG_VERSION);
    for (int i = 0; i < COMMANDS; i++) {
        fprintf(stream, "  %-8s %s\n", commands[i].name, commands[i].about);
    }
    fprintf(stream, "\n`slotjig COMMAND --help` tells a command's options; `slotjig --version` the version.\n"
                    "exit: 0 pass, 1 fail, 2 wrong usage or input, 3 bench trouble, 4 inconclusive\n");
    return status;
}

/* What was printed must have arrived, or the exit status would promise too much. */
static int flushed(int status) {
    struct problem problem;
    if (fflush(stdout) == 0 && !ferror(stdout)) {
        return status;
    }
    problem_set(&problem, PROBLEM_BENCH, "standard output: it could not all be written; check where it goes");
    return status == EXIT_PASS || status == EXIT_FAIL || status == EXIT_INCONCLUSIVE
               ? command_refuse(&problem)
               : status;
}

/* Where one of the three is closed, the next file or device opened would take its number, and be sent what is
 * meant for the terminal. /dev/null the wrong way round stays as closed as it was. */
static void keep_standard_files(void) {
    for (int file = STDIN_FILENO; file <= STDERR_FILENO; file++) {
        if (fcntl(file, F_GETFD) < 0 && errno == EBADF) {
            open("/dev/null", file == STDIN_FILENO ? O_WRONLY : O_RDONLY); /* the lowest number: this one */
        }
    }
}

int main(int argc, char **argv) {
    keep_standard_files();
    signal(SIGXFSZ, SIG_IGN); /* a full quota is an error of write(), not the end of the program */
    signal(SIGPIPE, SIG_IGN);
    if (argc < 2) {
        return help(stderr, EXIT_INPUT);
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        return flushed(help(stdout, EXIT_PASS));
    }
    if (strcmp(argv[1], "--version") == 0) {
        printf("slotjig %s\n", SLOTJIG_VERSION);
        return flushed(EXIT_PASS);
    }
    for (int i = 0; i < COMMANDS; i++) {
        if (strcmp(argv[1], commands[i].name) == 0) {
            return flushed(commands[i].run(argc - 1, argv + 1));
        }
    }
    struct problem problem;
    problem_set(&problem, PROBLEM_INPUT, "%s: no such command; see `slotjig --help`", argv[1]);
    return command_refuse(&problem);
}
