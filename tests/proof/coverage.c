/*
 * Every fault of a cartridge, every class at every position: is it found by the console's check, and by a
 * reader, and named right by each? Are good cartridges left alone? And does March C-, as the console runs it
 * and as the reader does, find all that is published of it (tests/virtual/test_cart_ram.c has the source)?
 *
 * PROOF_SCHEMES ("F8+ 4K", + for RAM), PROOF_RUNS (good cartridges), PROOF_FAULTS (only those that begin so),
 * PROOF_MARCH (every so many RAM faults), PROOF_PARTS ("faults good march"), SLOTJIG_SEED. Writes every case
 * to $PROOF_OUT/coverage.csv. Ends with 1 when a good cartridge was called bad, or a RAM fault of a published
 * class was not found.
 */
#include "commands/cover.h"
#include "commands/cover_march.h"
#include "proof/pool.h"
#include "virtual/bench.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FAULTS_ROOM = 1000, CLASSES_ROOM = 40, RUNS = 200 };
static const double NOISE_DB = 30;

static uint64_t first_seed;
static FILE *csv;

/* ---- faults ---- */

static char faults[FAULTS_ROOM][64];
static size_t fault_count;
static int scheme;
static bool ram;

struct both {
    struct cover_seen console, reader;
};

static void list_faults(void) {
    const char *const only = getenv("PROOF_FAULTS");
    char text[64];
    fault_count = 0;
    for (size_t i = 0; virtual_cartridge_fault_text(scheme, ram, i, text, sizeof text); i++) {
        if (fault_count < FAULTS_ROOM && (only == NULL || strncmp(text, only, strlen(only)) == 0)) {
            snprintf(faults[fault_count++], sizeof faults[0], "%s", text);
        }
    }
}

static void run_fault(size_t index, void *out) {
    struct both *both = out;
    const struct cover_case of = {
        .scheme = scheme, .ram = ram, .fault = faults[index], .seed = first_seed + index};
    cover_console(&of, &both->console);
    cover_reader(&of, &both->reader);
}

struct tally {
    int found, named, alone, among, doubted, lost, passed;
};
struct row {
    char name[COVER_CLASS];
    int all;
    struct tally console, reader;
};

static void count(struct tally *tally, const struct cover_seen *seen) {
    const bool found = !seen->lost && seen->verdict == VERDICT_FAIL;
    tally->found += found;
    tally->named += found && seen->named;
    tally->alone += found && seen->alone;
    tally->among += found && seen->among;
    tally->lost += seen->lost;
    tally->doubted += !seen->lost && seen->verdict == VERDICT_INCONCLUSIVE;
    tally->passed += !seen->lost && seen->verdict == VERDICT_PASS;
}

static struct row *row_of(struct row *rows, size_t *row_count, const char *fault) {
    char name[COVER_CLASS];
    cover_class(fault, name);
    for (size_t i = 0; i < *row_count; i++) {
        if (strcmp(rows[i].name, name) == 0) {
            return &rows[i];
        }
    }
    struct row *const row = &rows[(*row_count)++];
    snprintf(row->name, sizeof row->name, "%s", name);
    return row;
}

static void print_tally(const struct tally *tally) {
    printf(" %d | %d | %d | %d | %d | %d |", tally->found, tally->alone, tally->among,
           tally->named - tally->alone - tally->among, tally->doubted + tally->lost, tally->passed);
}

static void write_case(const char *fault, const char *side, const struct cover_seen *seen) {
    if (csv == NULL) {
        return;
    }
    fprintf(csv, "%s%s,%s,%s,%s,%d,%d,\"", scheme_name(scheme), ram ? "+RAM" : "", fault, side,
            seen->lost ? "lost" : verdict_name(seen->verdict), seen->named, seen->alone);
    for (const char *at = seen->findings; *at != '\0'; at++) {
        fputs(*at == '"' ? "\"\"" : (char[]){*at, '\0'}, csv);
    }
    fprintf(csv, "\"\n");
}

static bool all_faults(void) {
    static struct row rows[CLASSES_ROOM];
    size_t row_count = 0;
    list_faults();
    memset(rows, 0, sizeof rows);
    struct both *const both = calloc(fault_count + 1, sizeof *both);
    const bool good = both != NULL && pool_run(fault_count, run_fault, both, sizeof *both);
    for (size_t i = 0; good && i < fault_count; i++) {
        struct row *const row = row_of(rows, &row_count, faults[i]);
        row->all++;
        count(&row->console, &both[i].console);
        count(&row->reader, &both[i].reader);
        write_case(faults[i], "console", &both[i].console);
        write_case(faults[i], "reader", &both[i].reader);
    }
    free(both);
    printf("\n## %s%s: %zu faults\n\n", scheme_name(scheme), ram ? " with RAM" : "", fault_count);
    printf("| fault | positions | console: found | named | with alternatives | beside others | no verdict | "
           "passed "
           "| reader: found | named | with alternatives | beside others | no verdict | passed |\n"
           "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: "
           "|\n");
    for (size_t i = 0; i < row_count; i++) {
        printf("| %s | %d |", rows[i].name, rows[i].all);
        print_tally(&rows[i].console);
        print_tally(&rows[i].reader);
        printf("\n");
    }
    fflush(stdout);
    return good;
}

/* ---- good ones ---- */

/* All nine kinds in turn: 2K without RAM, the others without and with. */
static void run_good(size_t index, void *out) {
    struct both *both = out;
    const size_t kind = index % (2 * WIRE_SCHEMES - 1) + 1;
    const struct cover_case of = {.scheme = (int)(kind / 2),
                                  .ram = kind > 1 && kind % 2 != 0,
                                  .seed = first_seed + index,
                                  .noise_db = NOISE_DB};
    cover_console(&of, &both->console);
    cover_reader(&of, &both->reader);
}

static bool good_ones(void) {
    const char *const told = getenv("PROOF_RUNS");
    const size_t runs = told != NULL ? strtoul(told, NULL, 10) : RUNS;
    struct both *const both = calloc(runs + 1, sizeof *both);
    bool good = both != NULL && pool_run(runs, run_good, both, sizeof *both);
    struct tally console = {0}, reader = {0};
    uint64_t slowest_us = 0;
    for (size_t i = 0; good && i < runs; i++) {
        count(&console, &both[i].console);
        count(&reader, &both[i].reader);
        slowest_us = both[i].reader.chip_us > slowest_us ? both[i].reader.chip_us : slowest_us;
        if (both[i].console.verdict != VERDICT_PASS || both[i].reader.verdict != VERDICT_PASS) {
            printf("- seed %llu: console %s, reader %s\n", (unsigned long long)(first_seed + i),
                   both[i].console.findings, both[i].reader.findings);
        }
    }
    printf("\n## Good cartridges, all schemes in turn, %.0f dB\n\n| | runs | called bad | no verdict | "
           "passed |\n"
           "| --- | ---: | ---: | ---: | ---: |\n",
           NOISE_DB);
    printf("| console | %zu | %d | %d | %d |\n| reader | %zu | %d | %d | %d |\n", runs, console.found,
           console.doubted + console.lost, console.passed, runs, reader.found, reader.doubted + reader.lost,
           reader.passed);
    printf("\nAll that the reader measures: at most %.2f s by its own clock.\n", (double)slowest_us / 1e6);
    free(both);
    fflush(stdout);
    return good && console.found == 0 && reader.found == 0 && (int)runs == console.passed &&
           (int)runs == reader.passed;
}

/* ---- March C- ---- */

static size_t march_step; /* PROOF_MARCH: every so many of them */

static void run_march(size_t index, void *out) {
    struct march_seen *seen = out;
    struct cart_ram_fault fault;
    cover_march_fault(index * march_step, &fault);
    cover_march_run(&fault, first_seed + index, seen);
}

static bool all_marches(void) {
    static const char *const names[CART_RAM_KINDS] = {
        "stuck-at",       "transition",       "inversion coupling",    "idempotent coupling",
        "state coupling", "decoder: no cell", "decoder: another cell", "decoder: both cells"};
    const char *const told = getenv("PROOF_MARCH");
    march_step = told != NULL && atoi(told) > 0 ? (size_t)atoi(told) : 1;
    const size_t total = cover_march_faults() / march_step;
    struct march_seen *const seen = calloc(total + 1, sizeof *seen);
    bool good = seen != NULL && pool_run(total, run_march, seen, sizeof *seen);
    unsigned all[CART_RAM_KINDS] = {0}, console[CART_RAM_KINDS] = {0}, reader[CART_RAM_KINDS] = {0};
    for (size_t i = 0; good && i < total; i++) {
        struct cart_ram_fault fault;
        cover_march_fault(i * march_step, &fault);
        all[fault.kind]++;
        console[fault.kind] += seen[i].console;
        reader[fault.kind] += seen[i].reader;
    }
    printf("\n## March C- on 128 bytes\n\n| class | injected | found by the console | found by the reader |\n"
           "| --- | ---: | ---: | ---: |\n");
    for (int kind = 0; kind < CART_RAM_KINDS; kind++) {
        printf("| %s | %u | %u | %u |\n", names[kind], all[kind], console[kind], reader[kind]);
        good = good && console[kind] == all[kind] && reader[kind] == all[kind];
    }
    free(seen);
    fflush(stdout);
    return good;
}

static bool next_scheme(const char **list) {
    char name[3] = {0};
    *list += strspn(*list, " ");
    for (int i = 0; i < 2 && **list != '\0'; i++) {
        name[i] = *(*list)++;
    }
    ram = **list == '+';
    *list += ram;
    return scheme_from_name(name, &scheme);
}

static void open_csv(void) {
    const char *const folder = getenv("PROOF_OUT");
    char path[4096];
    snprintf(path, sizeof path, "%s/coverage.csv", folder != NULL ? folder : ".");
    csv = fopen(path, "w");
    if (csv != NULL) {
        fprintf(csv, "cartridge,fault,by,verdict,named,alone,findings\n");
    }
}

int main(void) {
    const char *const told = getenv("PROOF_SCHEMES"), *const seed = getenv("SLOTJIG_SEED");
    const char *list = told != NULL ? told : "2K 4K+ F8+ F6 F4+";
    bool good = true;
    first_seed = seed != NULL ? strtoull(seed, NULL, 10) : 1;
    printf("# Faults of a cartridge, by console and by reader\n\nseeds from %llu on\n",
           (unsigned long long)first_seed);
    open_csv();
    const char *const parts = getenv("PROOF_PARTS") != NULL ? getenv("PROOF_PARTS") : "faults good march";
    while (strstr(parts, "faults") != NULL && next_scheme(&list)) {
        good = all_faults() && good;
    }
    good = (strstr(parts, "good") == NULL || good_ones()) && good;
    good = (strstr(parts, "march") == NULL || all_marches()) && good;
    if (csv != NULL) {
        fclose(csv);
    }
    return good ? 0 : 1;
}
