/*
 * The live page of `watch`, served to this computer alone by a module of its own (report/http/), for the
 * library it needs takes long to load. One thread puts the present in, the server's thread gives it out;
 * between them stands what was put last, copied under a lock.
 */
#ifndef SLOTJIG_REPORT_PAGE_H
#define SLOTJIG_REPORT_PAGE_H

#include "base/problem.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    PAGE_ABI = 1, /* moves with every change of this file or of struct problem */
    PAGE_STATE_MAX = 16 * 1024,
    PAGE_PICTURE_MAX = 8 * 1024 * 1024,
    PAGE_STILL_MS = 1000, /* from picture to picture, unless people have agreed to flashing */
    PAGE_FAST_MS = 100    /* then */
};
#define PAGE_MODULE_FILE "slotjig-page.so"
#define PAGE_MODULE_SYMBOL "slotjig_page_module"

struct page_options {
    int port;       /* 0: any that is free */
    bool may_flash; /* agreed to where the program was started; a viewer must agree as well */
};

struct page;

struct page_module {
    int abi; /* PAGE_ABI */
    /* Binds to 127.0.0.1 and serves from then on. PROBLEM_INPUT when the port is taken or not allowed. */
    bool (*open)(const struct page_options *options, struct page **page, struct problem *problem);
    void (*close)(struct page *page);
    int (*port)(const struct page *page);
    /* The present as a JSON object, at most PAGE_STATE_MAX bytes; longer ones are dropped. */
    void (*put_state)(struct page *page, const char *json, size_t length);
    /* Whether somebody looks and the next picture is due. */
    bool (*wants_picture)(struct page *page);
    /* alt: what it shows, in words, without line breaks. Larger than PAGE_PICTURE_MAX: dropped. */
    void (*put_picture)(struct page *page, const uint8_t *png, size_t size, const char *alt);
};

extern const struct page_module slotjig_page_module;

/* Loads the module. NULL with PROBLEM_BENCH when it is not there. */
const struct page_module *page_load(struct problem *problem);

#endif
