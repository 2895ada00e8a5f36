#include "boards/board_files.h"

#include "boards/netlist.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

char *board_file(const char *path) {
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    char *text = calloc(1, 65536);
    assert_non_null(text);
    size_t length = fread(text, 1, 65535, file);
    fclose(file);
    assert_true(length > 0 && length < 65535);
    return text;
}

char *board_changed(const char *text, const struct board_change *change) {
    const char *place = strstr(text, change->was);
    if (place == NULL) {
        print_error("no such text: %s\n", change->was);
    }
    assert_non_null(place);
    size_t size = strlen(text) + strlen(change->is) + 1;
    char *copy = malloc(size);
    assert_non_null(copy);
    snprintf(copy, size, "%.*s%s%s", (int)(place - text), text, change->is, place + strlen(change->was));
    return copy;
}

void board_every_check_can_fail(const char *netlist, const char *bom, const struct board_change *changes,
                                size_t count,
                                void (*check)(const char *netlist, const char *bom,
                                              struct netlist_findings *found)) {
    for (size_t i = 0; i < count; i++) {
        struct netlist_findings found = {0};
        char *copy = board_changed(changes[i].bill ? bom : netlist, &changes[i]);
        check(changes[i].bill ? netlist : copy, changes[i].bill ? copy : bom, &found);
        free(copy);
        if (strstr(found.text, changes[i].says) == NULL) {
            print_error("after changing \"%s\" to \"%s\" nothing says \"%s\", only:\n%s", changes[i].was,
                        changes[i].is, changes[i].says, found.text);
        }
        assert_non_null(strstr(found.text, changes[i].says));
    }
}
