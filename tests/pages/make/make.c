/* Pages of every kind from invented runs, each with the JSON of the same records beside it, for a browser to
 * look at: make FOLDER [RESULT.json FIELD.png]..., the latter of `slotjig run`: their measurements and fields
 * are shown too. */
#include "pages/hostile.h"
#include "pages/shelf.h"

#include "base/output.h"
#include "record/shipped.h"
#include "record/standing.h"
#include "report/html.h"
#include "report/rows.h"
#include "report/ship_json.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { PATH_SIZE = 4096 };

static const char *folder;

static void must(bool good, const char *what) {
    if (!good) {
        fprintf(stderr, "make: %s\n", what);
        exit(1);
    }
}

static void path_of(char path[PATH_SIZE], const char *name, const char *end) {
    must(snprintf(path, PATH_SIZE, "%s/%s.%s", folder, name, end) < PATH_SIZE, "a path too long");
}

static void write_facts(const char *name, json_t *facts) {
    char path[PATH_SIZE];
    path_of(path, name, "json");
    must(facts != NULL && json_dump_file(facts, path, 0) == 0, path);
    json_decref(facts);
}

static json_t *runs_json(const struct record_list *runs) {
    json_t *list = json_array();
    for (size_t i = 0; i < runs->count; i++) {
        json_array_append_new(list, record_json(runs->runs[i]));
    }
    return list;
}

/* ---- the three kinds ---- */

static void write_run(const char *name, struct record_run *run) {
    char path[PATH_SIZE];
    struct problem problem;
    struct record_list list = {1, &run};
    path_of(path, name, "html");
    must(html_write_run(path, run, NULL, &problem), problem.text);
    write_facts(name, json_pack("{s:s,s:o}", "kind", "run", "runs", runs_json(&list)));
}

/* A sweep's items are in the order of consoles, then repeats. */
static json_t *standings_json(const struct record_sweep *sweep, const struct record_list *runs) {
    json_t *list = json_array();
    const size_t repeats = (size_t)sweep->repeats;
    for (size_t i = 0; i < sweep->item_count; i += repeats) {
        struct standing standing;
        standing_of(&sweep->items[i], repeats, sweep->retries, runs, &standing);
        json_array_append_new(list,
                              json_pack("{s:s*,s:s*,s:s,s:i,s:i,s:f,s:f}", "plan", sweep->items[i].plan,
                                        "console", sweep->items[i].console.name, "kind",
                                        standing_name(standing.kind), "passed", standing.passed, "done",
                                        standing.done, "low", standing.rate_low, "high", standing.rate_high));
    }
    return list;
}

static void write_sweep(const char *name, const struct record_sweep *sweep, const struct record_list *runs) {
    char path[PATH_SIZE];
    struct problem problem;
    path_of(path, name, "html");
    must(html_write_sweep(path, sweep, runs, &problem), problem.text);
    write_facts(name, json_pack("{s:s,s:o,s:o}", "kind", "sweep", "runs", runs_json(runs), "standings",
                                standings_json(sweep, runs)));
}

static json_t *drifts_json(const struct differ *differ) {
    json_t *list = json_array();
    for (size_t i = 0; differ != NULL && i < differ->drift_count; i++) {
        const struct drift *drift = &differ->drifts[i];
        if (drift->called) {
            json_array_append_new(list, json_pack("{s:s*,s:f,s:f,s:b}", "name", drift->name, "before",
                                                  drift->before, "now", drift->now, "worse", drift->worse));
        }
    }
    return list;
}

static void write_console(const char *name, const char *console, const struct record_list *runs,
                          const struct differ *differ) {
    char path[PATH_SIZE];
    struct problem problem;
    const struct html_plan_differ plans[] = {{runs->runs[0]->plan->name, differ}};
    path_of(path, name, "html");
    must(html_write_console(path, console, runs, plans, differ != NULL, &problem), problem.text);
    write_facts(name, json_pack("{s:s,s:o,s:o}", "kind", "console", "runs", runs_json(runs), "drifts",
                                drifts_json(differ)));
}

/* ---- what is on them ---- */

static void good_and_bad(void) {
    struct invented *invented = pages_shelf(1, 7, 98, 1);
    write_run("run-fail", invented->runs.runs[6]);
    invented_free(invented);
    invented = pages_shelf(1, 1, 12, 1);
    write_run("run-pass", invented->runs.runs[0]);
    invented_free(invented);
}

static void others(void) {
    struct invented *invented = pages_shelf(2, 3, 4, 1);
    struct record_run **list = invented->runs.runs;
    struct finding finding;
    pages_unreadable(list[0], &finding);
    write_run("run-inconclusive", list[0]);
    pages_trouble(list[1], "invented: the board no longer answers; plug it in again");
    write_run("run-trouble", list[1]);
    list[2]->minutes_on = -1;
    list[2]->noise_db = 0;
    list[2]->item = 0;
    list[2]->has_seed = false;
    list[2]->console.revision = list[2]->console.markings = list[2]->console.modifications = "";
    write_run("run-bare", list[2]);
    invented_free(invented);
}

static void sweeps(void) {
    struct mixed mixed;
    mixed_make(&mixed);
    write_sweep("sweep-mixed", &mixed.invented->sweep, &mixed.runs);
    const struct record_list none = {0, NULL};
    write_sweep("sweep-open", &mixed.invented->sweep, &none);
    invented_free(mixed.invented);
    struct invented *invented = pages_shelf(2, 15, 20, 1);
    write_sweep("sweep-shelf", &invented->sweep, &invented->runs);
    invented_free(invented);
    invented = pages_shelf(2, 50, 100, 1);
    write_sweep("sweep-large", &invented->sweep, &invented->runs);
    invented_free(invented);
}

static void consoles(void) {
    struct aged aged;
    struct differ *differ = NULL;
    struct problem problem;
    aged_make(&aged);
    struct record_list *all = &aged.invented->runs;
    const struct record_list before = {AGED_BEFORE, all->runs};
    const struct record_list now = {AGED_NOW, all->runs + all->count - AGED_NOW};
    must(differ_runs(&before, &now, NULL, 0, &differ, &problem), problem.text);
    write_console("console-aged", all->runs[0]->console.name, all, differ);
    const struct record_list one = {1, all->runs};
    write_console("console-once", all->runs[0]->console.name, &one, NULL);
    differ_free(differ);
    invented_free(aged.invented);
}

/* ---- cartridges ---- */

static void write_ship(const char *name, const struct ship *ship) {
    char path[PATH_SIZE];
    struct problem problem;
    path_of(path, name, "html");
    must(html_write_ship(path, ship, &problem), problem.text);
    write_facts(name, json_pack("{s:s,s:[],s:o}", "kind", "ship", "runs", "ship", ship_json(ship)));
}

static void write_lot(const char *name, const struct ship_list *list) {
    char path[PATH_SIZE];
    struct problem problem;
    struct lot *lot = lot_make(list);
    must(lot != NULL, "memory");
    path_of(path, name, "html");
    must(html_write_lot(path, "invented", lot, &problem), problem.text);
    write_facts(name, json_pack("{s:s,s:[],s:o}", "kind", "lot", "runs", "lot", lot_json("invented", lot)));
    lot_free(lot);
}

static void cartridges(void) {
    struct shipped shipped;
    struct finding findings[2];
    shipped_new(5, 60, &shipped);
    write_lot("lot-invented", &shipped.list);
    write_ship("ship-pass", shipped.list.ships[10]);
    write_lot("lot-open", &(struct ship_list){1, shipped.list.ships});
    shipped_free(&shipped);
    struct ship ship = shipped_kept(0, findings);
    ship.attempt = 2;
    write_ship("ship-fail", &ship);
    struct finding full[4];
    for (int i = 0; i < 4; i++) {
        full[i] = findings[0];
        for (size_t k = 0; k + 1 < sizeof full[i].text; k++) {
            full[i].text[k] = k % 7 == 6 ? ' ' : 'n';
        }
        full[i].text[sizeof full[i].text - 1] = '\0';
    }
    ship.findings = full;
    ship.finding_count = 4;
    ship.problem = full[0].text;
    ship.rehearsed = true;
    write_ship("ship-full", &ship);
    ship = shipped_kept(1, findings);
    ship.attempt = 1;
    write_ship("ship-trouble", &ship);
}

/* ---- hostile ones ---- */

/* Every text as the serial of a lot; the worst of them in all else that a test has, too. */
static void hostile_ships(void) {
    struct shipped shipped;
    struct finding finding = {.kind = FINDING_CART_CONTACT, .reg = -1, .bit = -1, .rate = 1};
    shipped_new(6, 60, &shipped);
    size_t count = 0;
    for (; hostile_text(count) != NULL && count < shipped.list.count; count++) {
        struct ship *ship = shipped.list.ships[count];
        const char *text = hostile_text((count + 5) % 20);
        snprintf(finding.text, sizeof finding.text, "%s", text);
        ship->serial = hostile_text(count);
        ship->lot = ship->problem = ship->tool = ship->limits = text;
        ship->figures[0].name = ship->figures[0].unit = text;
        ship->findings = &finding;
        ship->finding_count = 1;
        ship->end = RECORD_FAIL;
        if (count == 1) {
            char path[PATH_SIZE];
            struct problem problem;
            path_of(path, "hostile-ship", "html");
            must(html_write_ship(path, ship, &problem), problem.text);
        }
    }
    shipped.list.count = count;
    struct lot *lot = lot_make(&shipped.list);
    char path[PATH_SIZE];
    struct problem problem;
    path_of(path, "hostile-lot", "html");
    must(lot != NULL && html_write_lot(path, hostile_text(1), lot, &problem), "the lot's page");
    lot_free(lot);
    shipped_free(&shipped);
}

static void hostile_runs(void) {
    json_t *texts = json_array();
    for (size_t i = 0; hostile_text(i) != NULL; i++) {
        char name[32];
        struct hostile_parts parts;
        struct invented *invented = pages_shelf(3, 7, 8, 1);
        struct record_run *run = invented->runs.runs[6];
        hostile_steps(run->plan, hostile_text(i));
        hostile_run(run, hostile_text(i), &parts);
        snprintf(name, sizeof name, "hostile-%02zu", i);
        char path[PATH_SIZE];
        struct problem problem;
        path_of(path, name, "html");
        must(html_write_run(path, run, NULL, &problem), problem.text);
        json_array_append_new(texts, hostile_allowed(i) ? json_string(hostile_text(i)) : json_null());
        invented_free(invented);
    }
    write_facts("hostile", texts);
}

/* Every text a console, and everything else about it another one. */
static void hostile_shelves(void) {
    int count = 0;
    while (hostile_text((size_t)count) != NULL) {
        count++;
    }
    struct invented *invented = pages_shelf(4, count, 4, 1);
    struct hostile_parts *parts = calloc((size_t)count, sizeof *parts);
    must(parts != NULL, "memory");
    for (int i = 0; i < count; i++) {
        struct record_run *run = invented->runs.runs[i];
        struct record_item *item = &invented->sweep.items[i];
        const struct record_plan *plan = run->plan;
        hostile_run(run, hostile_text((size_t)((i + 5) % count)), &parts[i]);
        run->plan = plan; /* one for all: it is one sweep */
        run->console.name = hostile_text((size_t)i);
        item->console = run->console;
        item->bench = run->bench;
        item->plan =
            "\" onfocus=\"window.ran='plan'\" tabindex=0 autofocus x=\"'><script>window.ran='plan'</script>";
    }
    invented->plan.name = invented->plan.text = invented->sweep.items[0].plan;
    invented->sweep.name = invented->sweep.definition = "<script>window.ran='sweep'</script>\"'";
    hostile_steps(&invented->plan, "</th><script>window.ran='step'</script>\"'");
    write_sweep("hostile-sweep", &invented->sweep, &invented->runs);
    write_console("hostile-console", hostile_text(1), &invented->runs, NULL);
    free(parts);
    invented_free(invented);
}

/* ---- measured ones ---- */

static struct record_blob blob(const char *name, const char *type, char *bytes) {
    return (struct record_blob){.name = name, .type = type, .bytes = (uint8_t *)bytes, .size = strlen(bytes)};
}

static uint8_t *read_whole(const char *path, size_t *size) {
    FILE *file = fopen(path, "rb");
    must(file != NULL, path);
    uint8_t *bytes = malloc(1 << 20);
    must(bytes != NULL, "memory");
    *size = fread(bytes, 1, 1 << 20, file);
    fclose(file);
    return bytes;
}

/* The keys of a result that a record keeps as one blob. */
static char *keys_of(const json_t *result, const char *const *keys) {
    json_t *kept = json_object();
    for (; *keys != NULL; keys++) {
        json_object_set(kept, *keys, json_object_get(result, *keys));
    }
    char *text = json_dumps(kept, JSON_COMPACT);
    json_decref(kept);
    return text;
}

static void measured(const char *result_path, const char *field_path) {
    static const char *const moments[] = {"delays", "windows", "arithmetic", "moments", NULL};
    static const char *const colours[] = {"colours", "hues", NULL};
    json_t *result = json_load_file(result_path, 0, NULL);
    must(result != NULL, result_path);
    const char *name = json_string_value(json_object_get(result, "plan"));
    const bool is_moments = name != NULL && strcmp(name, "moments") == 0;
    struct invented *invented = pages_shelf(5, 1, 4, 1);
    struct record_run *run = invented->runs.runs[0];
    size_t size = 0;
    uint8_t *png = read_whole(field_path, &size);
    char *text = keys_of(result, is_moments ? moments : colours);
    const struct record_blob blobs[] = {blob(is_moments ? "moments" : "colours", "application/json", text),
                                        {.name = "field", .type = "image/png", .bytes = png, .size = size}};
    invented->plan.kind = is_moments ? PLAN_MOMENTS : PLAN_COLOURS;
    invented->plan.name = is_moments ? "moments" : "colours";
    invented->plan.step_count = run->step_count = 0;
    run->blobs = blobs;
    run->blob_count = 2;
    char page[64];
    snprintf(page, sizeof page, "run-%s", invented->plan.name);
    write_run(page, run);
    free(png);
    free(text);
    json_decref(result);
    invented_free(invented);
}

int main(int argc, char **argv) {
    must(argc >= 2 && argc % 2 == 0, "give a folder, and results with their fields");
    folder = argv[1];
    good_and_bad();
    others();
    sweeps();
    consoles();
    cartridges();
    hostile_runs();
    hostile_shelves();
    hostile_ships();
    for (int i = 2; i + 1 < argc; i += 2) {
        measured(argv[i], argv[i + 1]);
    }
    return 0;
}
