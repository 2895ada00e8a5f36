#include "report/page.h"

#include "base/module.h"

const struct page_module *page_load(struct problem *problem) {
    static const struct module module = {.file = PAGE_MODULE_FILE,
                                         .symbol = PAGE_MODULE_SYMBOL,
                                         .what = "page module",
                                         .needs = "libmicrohttpd",
                                         .variable = "SLOTJIG_PAGE_MODULE",
                                         .abi = PAGE_ABI};
    return (const struct page_module *)module_load(&module, problem);
}
