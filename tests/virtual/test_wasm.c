/*
 * The console model builds for wasm32 without a libc: compiled by clang -ffreestanding, linked by wasm-ld,
 * no symbol left undefined and nothing imported. Skipped with a notice where clang or wasm-ld is missing.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[256];

/* Runs a command, its output to a log in the folder; shows the log when it fails. */
static bool run(const char *command) {
    char line[4096];
    snprintf(line, sizeof line, "(%s) >%s/log 2>&1", command, folder);
    if (system(line) == 0)
        return true;
    print_error("failed: %s\n", command);
    snprintf(line, sizeof line, "cat %s/log >&2", folder);
    (void)!system(line);
    return false;
}

static bool have(const char *program) {
    char line[256];
    snprintf(line, sizeof line, "command -v %s >/dev/null 2>&1", program);
    return system(line) == 0;
}

static const char *linker(void) {
    static const char *const names[] = {"wasm-ld", "wasm-ld-14"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (have(names[i]))
            return names[i];
    return NULL;
}

static bool compile(const char *source, const char *object) {
    char line[2048];
    snprintf(
        line, sizeof line,
        "clang --target=wasm32 -std=gnu17 -ffreestanding -nostdlib -mbulk-memory -O2 -Wall -Wextra -Werror "
        "-I%s/host -I%s/include -c %s/%s -o %s/%s",
        SOURCE_DIR, SOURCE_DIR, SOURCE_DIR, source, folder, object);
    return run(line);
}

/* A module's section with this id, past its header; NULL when there is none. Layout: WebAssembly core
 * specification 1.0, 5.5 (8 bytes of preamble, then id, LEB128 size, contents). */
static const unsigned char *section(const unsigned char *bytes, size_t size, int id) {
    size_t at = 8;
    while (at < size) {
        const int found = bytes[at++];
        size_t length = 0;
        int shift = 0;
        do
            length |= (size_t)(bytes[at] & 0x7F) << shift, shift += 7;
        while (bytes[at++] & 0x80 && at < size);
        if (found == id)
            return bytes + at;
        at += length;
    }
    return NULL;
}

enum { SECTION_IMPORT = 2, SECTION_CODE = 10 };

static void check_module(const char *path) {
    static unsigned char bytes[1 << 20];
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    const size_t size = fread(bytes, 1, sizeof bytes, file);
    fclose(file);
    assert_in_range(size, 64, sizeof bytes - 1);
    assert_memory_equal(bytes, "\0asm\1\0\0\0", 8);
    assert_non_null(section(bytes, size, SECTION_CODE));
    assert_null(section(bytes, size, SECTION_IMPORT));
}

static int make_folder(void **state) {
    (void)state;
    const char *base = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/slotjig-wasm-XXXXXX", base ? base : "/tmp");
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state) {
    (void)state;
    char line[512];
    snprintf(line, sizeof line, "rm -rf '%s'", folder);
    return system(line);
}

static void test_links_without_libc(void **state) {
    (void)state;
    static const char *const sources[][2] = {{"host/virtual/cpu6507.c", "cpu6507.o"},
                                             {"host/virtual/riot6532.c", "riot6532.o"},
                                             {"host/virtual/tia.c", "tia.o"},
                                             {"host/virtual/console.c", "console.o"},
                                             {"host/base/scheme.c", "scheme.o"},
                                             {"host/virtual/cart_model.c", "cart_model.o"},
                                             {"host/virtual/cart_lines.c", "cart_lines.o"},
                                             {"host/virtual/cart_ram.c", "cart_ram.o"},
                                             {"tests/virtual/wasm_main.c", "main.o"}};
    const char *ld = linker();
    if (!have("clang") || !ld) {
        print_message("SKIP wasm: clang or wasm-ld is not installed\n");
        skip();
    }
    for (size_t i = 0; i < sizeof sources / sizeof *sources; i++)
        assert_true(compile(sources[i][0], sources[i][1]));
    char line[2048];
    snprintf(line, sizeof line, "cd %s && %s --no-entry --export-all *.o -o console.wasm", folder, ld);
    assert_true(run(line));
    snprintf(line, sizeof line, "%s/console.wasm", folder);
    check_module(line);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_links_without_libc, make_folder, remove_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
