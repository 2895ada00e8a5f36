/*
 * The CRC that the console works out, by the check value of CRC-16/XMODEM in the catalogue of parametrised
 * CRC algorithms (polynomial $1021, begins with 0, nothing reflected): "123456789" gives $31C3. A page that
 * begins with its own start value has the register at 0 after two bytes [A], zeros leave it there, and the
 * nine digits end the page. On the console model, and under sim65 of the cc65 package, a 6502 that is not
 * ours, which must also count the same cycles.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "rom/check.h"
#include "rom/check_kernel.h"
#include "rom/check_rounds.h"
#include "rom/check_work.h"
#include "rom/scratch.h"

enum { CHECK_VALUE = 0x31C3, FIELDS_MAX = 8, LOAD = 0x0200, EXIT = 0xFFF9, FIRST_FETCH = 0xF000 };

static struct encoder e;
static struct plan *plan;
static struct image *image;
static uint16_t work_at, done_at;
static uint8_t sum;

static uint16_t label_of(const char *name) {
    for (int i = 0; i < e.label_count; i++) {
        if (strcmp(e.labels[i].name, name) == 0) {
            return (uint16_t)(e.origin + e.labels[i].offset);
        }
    }
    fail_msg("no label %s", name);
    return 0;
}

/* Page 0 of the image, which holds no program, becomes the check value's. */
static void begin(int scheme, enum standard standard) {
    struct problem problem = {0};
    plan = check_plan_of(scheme, false, standard);
    image = check_image_of(plan, 1, 0);
    const struct kernel_options options = {.plan = plan, .hash = image->hash, .hold = 1};
    encoder_start(&e, scheme_bank_bytes(scheme));
    check_kernel_emit(&e, &options);
    assert_true(encoder_finish(&e, &problem));
    work_at = label_of("work");
    done_at = label_of("work_done");
    uint8_t *const page = image->bytes;
    memset(page, 0, SCHEME_PAGE);
    page[0] = (uint8_t)(check_crc_start(0) >> 8);
    page[1] = (uint8_t)check_crc_start(0);
    memcpy(page + SCHEME_PAGE - 9, "123456789", 9);
    sum = 0;
    for (int i = 0; i < SCHEME_PAGE; i++) {
        sum = (uint8_t)(sum + page[i]);
    }
}

static void end(void) {
    rom_free(image);
    plan_free(plan);
}

/* ---- the console model ---- */

static uint64_t begun;
static long taken[FIELDS_MAX];
static int fields;
static bool is_read;

/* Of the fields that read page 0 for the first time. */
static uint8_t timed_read(void *state, uint16_t address, uint8_t bus) {
    const uint8_t *ram = check_console.riot.ram - CHECK_JOB_AT;
    if (address == (work_at & 0x1FFF)) {
        begun = ram[WORK_STAGE] == STAGE_PAGE && ram[WORK_PLACE] == 0 ? check_console.cycles : 0;
    } else if (address == (done_at & 0x1FFF) && begun != 0 && !is_read && fields < FIELDS_MAX) {
        taken[fields++] = (long)(check_console.cycles - begun);
        begun = 0;
        is_read = ram[WORK_OFFSET] == 0;
    }
    return check_slot_read(state, address, bus);
}

static void on_the_console(void) {
    static struct round_seen seen;
    const struct cartridge slot = {
        .state = &check_cart, .read = timed_read, .write = check_slot_write, .pass = check_slot_pass};
    struct cart_faults faults;
    cart_faults_none(plan->check.scheme, &faults);
    fields = 0;
    begun = 0;
    is_read = false;
    round_power_on(plan, image, &faults, &slot, 5);
    assert_true(round_begin(plan));
    assert_true(round_watch(plan, &seen, 1000));
    assert_int_equal(round_item(&seen, CHECK_CRC_HIGH, 0)->what, CHECK_VALUE >> 8);
    assert_int_equal(round_item(&seen, CHECK_CRC_LOW, 0)->what, CHECK_VALUE & 0xFF);
    assert_int_equal(round_item(&seen, CHECK_SUM, 0)->what, sum);
}

static void test_console(void **state) {
    (void)state;
    for (int scheme = WIRE_4K; scheme <= WIRE_F6; scheme++) {
        for (int standard = 0; standard <= STANDARD_PAL; standard++) {
            begin(scheme, (enum standard)standard);
            on_the_console();
            end();
        }
    }
}

/* ---- sim65 ---- */

static uint8_t memory[0x10000];

static size_t put(size_t at, const uint8_t *bytes, size_t count) {
    memcpy(memory + at, bytes, count);
    return at + count;
}

/* Clears the RAM, then works (or leaves at once), and works again while the page is not read to its end. A is
 * 0 in the end where the CRC is the check value. */
static void write_program(bool works) {
    const uint8_t low = (uint8_t)work_at, high = (uint8_t)(work_at >> 8);
    const uint8_t start[] = {0xA9, 0x00, 0xA2, 0x7F, 0x95, 0x80, 0xCA, 0x10, 0xFB}; /* LDA LDX STA DEX BPL */
    const uint8_t go[] = {0x4C, low, high};
    const uint8_t leave[] = {0x4C, EXIT & 0xFF, EXIT >> 8};
    const uint8_t done[] = {0xA5, WORK_OFFSET, /* LDA */
                            0xD0, 15,          /* BNE to the end */
                            0xA5, WORK_Q,      0x49,      CHECK_VALUE >> 8,
                            0x85, WORK_T, /* LDA EOR STA */
                            0xA5, WORK_Q + 1,  0x49,      CHECK_VALUE & 0xFF,
                            0x05, WORK_T, /* LDA EOR ORA */
                            0x4C, EXIT & 0xFF, EXIT >> 8, 0x4C,
                            low,  high};
    memset(memory, 0, sizeof memory);
    memcpy(memory + FIRST_FETCH, image->bytes, 4096 - 16);
    put(put(LOAD, start, sizeof start), works ? go : leave, sizeof go);
    put(done_at, done, sizeof done);
}

static long run_sim65(const char *folder) {
    const uint8_t header[] = {'s', 'i', 'm',         '6',       '5',         2,
                              0,   0,   LOAD & 0xFF, LOAD >> 8, LOAD & 0xFF, LOAD >> 8};
    static uint8_t file[sizeof header + sizeof memory];
    char path[SCRATCH_MAX + 64], command[2 * SCRATCH_MAX];
    long cycles = -1;
    const size_t bytes = 0xFFF0 - LOAD;
    memcpy(file, header, sizeof header);
    memcpy(file + sizeof header, memory + LOAD, bytes);
    scratch_write(folder, "program", file, sizeof header + bytes);
    scratch_path(folder, "program", path);
    snprintf(command, sizeof command, "sim65 -c -x 1000000 %s 2>&1", path);
    FILE *in = popen(command, "r");
    assert_non_null(in);
    const int found = fscanf(in, "%ld cycles", &cycles);
    while (fgetc(in) != EOF) {
        continue;
    }
    const int status = pclose(in);
    if (found != 1 || status != 0) {
        fail_msg("%s: sim65 ends with status %d", scheme_name(plan->check.scheme), status);
    }
    return cycles;
}

static void under_sim65(const char *folder) {
    /* Of `done`, as the Programming Manual counts: once more from `work`; to the exit, which the other
     * program has as well. */
    enum { AGAIN = 3 + 3 + 3, LAST = 3 + 2 + 3 + 2 + 3 + 3 + 2 + 3 + 3 };
    long model = 0;
    on_the_console();
    for (int i = 0; i < fields; i++) {
        model += taken[i];
    }
    write_program(true);
    const long with = run_sim65(folder);
    write_program(false);
    const long without = run_sim65(folder);
    const long simulated = with - without - (fields - 1) * AGAIN - LAST;
    printf("%s %s: page 0 in %d fields, %ld cycles on the console model, %ld under sim65\n",
           scheme_name(plan->check.scheme), standard_table[plan->standard].name, fields, model, simulated);
    assert_int_equal(simulated, model);
}

static void test_sim65(void **state) {
    (void)state;
    char folder[SCRATCH_MAX];
    static const char *const names[] = {"program"};
    if (!have_program("sim65")) {
        printf("SKIP: sim65 is not installed\n");
        skip();
    }
    scratch_make(folder);
    static const int schemes[] = {WIRE_4K, WIRE_F8};
    for (int i = 0; i < 2; i++) {
        for (int standard = 0; standard <= STANDARD_PAL; standard++) {
            begin(schemes[i], (enum standard)standard);
            under_sim65(folder);
            end();
        }
    }
    scratch_remove(folder, names, 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_console), cmocka_unit_test(test_sim65)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
