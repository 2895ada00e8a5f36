/* The listing of an image, assembled by two assemblers that are not ours, is the image byte for byte. */
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
    static uint8_t bytes[8192];
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

static void one_image(const char *command, enum standard standard, size_t size, int hold) {
    struct plan *plan = NULL;
    struct image *image = NULL;
    struct problem problem = {0};
    char which[64];
    const struct rom_options options = {.hold = hold, .size = size};
    snprintf(which, sizeof which, "bits, %s, %zu bytes, hold %d", standard_table[standard].name, size, hold);
    assert_true(plan_open("bits", standard, &plan, &problem));
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("%s: %s", which, problem.text);
    }
    assert_int_equal(image->size, size);
    assemble(command, image, which);
    rom_free(image);
    plan_free(plan);
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
            one_image(command, (enum standard)standard, 2048, holds[i]);
            one_image(command, (enum standard)standard, 4096, holds[i]);
        }
    }
}

static void test_64tass(void **state) {
    (void)state;
    all_images("64tass", "64tass -q --flat -b");
}

static void test_xa(void **state) {
    (void)state;
    all_images("xa", "xa");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_64tass), cmocka_unit_test(test_xa)};
    return cmocka_run_group_tests(tests, start, stop);
}
