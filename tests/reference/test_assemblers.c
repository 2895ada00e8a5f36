/* The listing of an image, assembled by two assemblers that are not ours, is the image byte for byte. */
#include "plan/check.h"
#include "rom/rom.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[] = "/tmp/slotjig-assemblers-XXXXXX";

static int start(void **state) {
    (void)state;
    return mkdtemp(folder) == NULL;
}

static int stop(void **state) {
    (void)state;
    char path[128];
    snprintf(path, sizeof path, "%s/in", folder);
    unlink(path);
    snprintf(path, sizeof path, "%s/out", folder);
    unlink(path);
    return rmdir(folder);
}

static void assemble(const char *command, const struct image *image, const char *which) {
    char line[512], path[128];
    static uint8_t bytes[1 << 16];
    snprintf(path, sizeof path, "%s/in", folder);
    FILE *in = fopen(path, "w");
    assert_non_null(in);
    fputs(image->listing, in);
    assert_int_equal(fclose(in), 0);
    snprintf(line, sizeof line, "rm -f %s/out; timeout 20 %s -o %s/out %s/in", folder, command, folder,
             folder);
    if (system(line) != 0) {
        fail_msg("%s: '%s' fails", which, line);
    }
    snprintf(path, sizeof path, "%s/out", folder);
    FILE *out = fopen(path, "r");
    assert_non_null(out);
    const size_t size = fread(bytes, 1, sizeof bytes, out);
    fclose(out);
    assert_int_equal(size, image->size);
    for (size_t i = 0; i < size; i++) {
        if (bytes[i] != image->bytes[i]) {
            fail_msg("%s, %s: byte $%03zX is $%02X, not $%02X", command, which, i, bytes[i], image->bytes[i]);
        }
    }
}

static void one_image(const char *command, const char *plan_name, enum standard standard,
                      const struct rom_options *options) {
    struct plan *plan = NULL;
    struct image *image = NULL;
    struct problem problem = {0};
    char which[96];
    snprintf(which, sizeof which, "%s, %s, %zu bytes, hold %d, dark %d", plan_name,
             standard_table[standard].name, options->size, options->hold, options->dark);
    assert_true(plan_open(plan_name, standard, &plan, &problem));
    if (!rom_build(plan, options, &image, &problem)) {
        fail_msg("%s: %s", which, problem.text);
    }
    assert_true(options->size == 0 || image->size == options->size);
    assemble(command, image, which);
    rom_free(image);
    plan_free(plan);
}

static void counted_images(const char *command, enum standard standard) {
    static const char *const names[] = {"every", "moments"};
    static const struct rom_options options[] = {
        {.hold = 1}, {.hold = 65535, .size = 4096}, {.hold = 1, .dark = 180}};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        for (size_t k = 0; k < sizeof options / sizeof options[0]; k++) {
            one_image(command, names[i], standard, &options[k]);
        }
    }
}

static void all_images(const char *tool, const char *command) {
    static const int holds[] = {3, 300, 65535};
    char line[128];
    snprintf(line, sizeof line, "command -v %s >/dev/null 2>&1", tool);
    if (system(line) != 0) {
        printf("SKIP: %s is not installed\n", tool);
        skip();
    }
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        for (size_t i = 0; i < sizeof holds / sizeof holds[0]; i++) {
            for (size_t size = 2048; size <= 4096; size += 2048) {
                one_image(command, "bits", (enum standard)standard,
                          &(struct rom_options){.hold = holds[i], .size = size});
            }
        }
        counted_images(command, (enum standard)standard);
    }
}

/* The images of plan `cartridge`: all banks, fill and seals included. */
static void cartridge_image(const char *command, int scheme, bool ram, enum standard standard) {
    const struct rom_options options = {.hold = 1, .dark = scheme == WIRE_F8 ? 180 : 0};
    struct plan *plan = NULL;
    struct image *image = NULL;
    struct problem problem = {0};
    char which[96];
    snprintf(which, sizeof which, "cartridge %s%s, %s", scheme_name(scheme), ram ? " with RAM" : "",
             standard_table[standard].name);
    assert_true(check_plan(scheme, ram, standard, &plan, &problem));
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("%s: %s", which, problem.text);
    }
    assert_int_equal(image->size, scheme_bytes(scheme));
    assemble(command, image, which);
    rom_free(image);
    plan_free(plan);
}

static void cartridge_images(const char *command) {
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (int standard = 0; standard < STANDARD_COUNT; standard++) {
            cartridge_image(command, scheme, false, (enum standard)standard);
            if (scheme != WIRE_2K) {
                cartridge_image(command, scheme, true, (enum standard)standard);
            }
        }
    }
}

static void test_64tass(void **state) {
    (void)state;
    all_images("64tass", "64tass -q --flat -b");
    cartridge_images("64tass -q --flat -b");
}

static void test_xa(void **state) {
    (void)state;
    all_images("xa", "xa");
    cartridge_images("xa");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_64tass), cmocka_unit_test(test_xa)};
    return cmocka_run_group_tests(tests, start, stop);
}
