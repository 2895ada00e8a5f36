#include "report/http/assets.h"

/* tests/watch/watch.mk says that this file depends on those. */
#define EMBED(name, file)                                                                                    \
    __asm__(".section .rodata\n"                                                                             \
            ".hidden asset_" name "\nasset_" name ":\n"                                                      \
            ".incbin \"host/report/http/" file "\"\n"                                                        \
            ".hidden asset_" name "_end\nasset_" name "_end:\n"                                              \
            ".byte 0\n.previous\n");                                                                         \
    _Static_assert(sizeof(file) > 1, "a name")

EMBED("html", "page.html");
EMBED("css", "page.css");
EMBED("js", "page.js");
EMBED("svg", "page.svg");

extern const char asset_html[], asset_html_end[], asset_css[], asset_css_end[], asset_js[], asset_js_end[],
    asset_svg[], asset_svg_end[];

const struct asset assets[] = {
    {"/", "text/html; charset=utf-8", asset_html, asset_html_end},
    {"/page.css", "text/css; charset=utf-8", asset_css, asset_css_end},
    {"/page.js", "text/javascript; charset=utf-8", asset_js, asset_js_end},
    {"/page.svg", "image/svg+xml", asset_svg, asset_svg_end},
};
const size_t asset_count = sizeof assets / sizeof assets[0];
