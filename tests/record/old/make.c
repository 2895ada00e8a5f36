/*
 * Writes the runs of varied.h, and from version 4 on the ships of shipped.h, into a file, by the store of the
 * tree it is built in. Each records-N.sqlite here was made by this program in the tree that had
 * RECORDS_VERSION N:
 *
 *     make build/slotjig build/tests/libsupport.a && gcc -std=gnu17 -Ihost -Iinclude -Itests -o make_old \
 *         tests/record/old/make.c build/tests/libsupport.a build/libslotjig.a $(pkg-config --libs jansson
 * libpng \ zlib inih libusb-1.0 libserialport libturbojpeg sqlite3 libmd libxml-2.0) -lm -ldl
 *     ./make_old records-N.sqlite
 */
#include "record/records.h"
#include "record/shipped.h"
#include "record/varied.h"

#include <stdio.h>

int main(int argc, char **argv) {
    struct problem problem = {0};
    struct records *records = NULL;
    struct invented *varied = varied_new();
    bool good = argc == 2 && records_open(argv[1], RECORDS_WRITE, &records, &problem);
    good = good && records_sweep_put(records, &varied->sweep, &problem);
    for (size_t i = 0; good && i < varied->runs.count; i++) {
        varied->runs.runs[i]->item = i % 2 == 0 ? varied->sweep.items[i].id : 0;
        good = records_put(records, varied->runs.runs[i], &problem);
    }
    const int64_t runs[] = {varied->runs.runs[0]->id, varied->runs.runs[2]->id};
    good = good && records_baseline_set(records, "shelf 01", NULL, runs, 2, &problem) &&
           records_baseline_set(records, NULL, "B", runs + 1, 1, &problem);
    for (int i = 0; good && i < 2; i++) {
        struct finding findings[2];
        struct ship ship = shipped_kept(i, findings);
        good = records_put_ship(records, &ship, &problem);
    }
    records_close(records);
    invented_free(varied);
    printf("%s\n", good ? "written" : problem.text);
    return good ? 0 : 1;
}
