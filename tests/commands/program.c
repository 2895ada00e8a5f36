#include "commands/program.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static char said[65536];

static void read_back(const char *name) {
    FILE *file = fopen(name, "r");
    assert_non_null(file);
    said[fread(said, 1, sizeof said - 1, file)] = '\0';
    fclose(file);
    unlink(name);
}

int program_line(int seconds, const char *line) {
    char whole[4096], name[600];
    const char *folder = getenv("TMPDIR");
    snprintf(name, sizeof name, "%s/program-said-%d", folder != NULL ? folder : "/tmp", (int)getpid());
    snprintf(whole, sizeof whole, "timeout %d %s >'%s' 2>&1", seconds, line, name);
    fflush(NULL);
    const int status = system(whole); /* NOLINT(cert-env33-c): the test's own words */
    read_back(name);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

void program_slotjig(int wanted, const char *arguments) {
    char line[4000];
    snprintf(line, sizeof line, "'%s/slotjig' %s", BUILD_DIR, arguments);
    const int status = program_line(60, line);
    if (status != wanted) {
        fail_msg("%s: exit %d, wanted %d: %s", arguments, status, wanted, said);
    }
}

const char *program_said(void) {
    return said;
}

void program_says(const char *what) {
    if (strstr(said, what) == NULL) {
        fail_msg("'%s' is not in: %s", what, said);
    }
}

void program_says_not(const char *what) {
    if (strstr(said, what) != NULL) {
        fail_msg("'%s' is in: %s", what, said);
    }
}
