/* How the pages look. Colours: a hue by angle for each way to end, levels by step: dark on a light ground,
 * light on a dark one. Nothing moves, fades or blinks. */
#include "report/html_inside.h"

#define DARK                                                                                                 \
    "--ground:hsl(210 14% 8%);--panel:hsl(210 12% 12%);--ink:hsl(60 5% 92%);--soft:hsl(210 8% 70%);"         \
    "--rule:hsl(210 8% 30%);--edge:hsl(210 8% 52%);--link:hsl(215 85% 77%);--pass:hsl(150 45% 68%);"         \
    "--fail:hsl(5 85% 77%);--unsteady:hsl(38 80% 68%);--unknown:hsl(265 75% 83%);--trouble:hsl(320 65% "     \
    "81%);"                                                                                                  \
    "--fail-ground:hsl(5 35% 18%);--unsteady-ground:hsl(38 40% 15%);--unknown-ground:hsl(265 25% 20%);"      \
    "--trouble-ground:hsl(320 25% 19%)"
#define LIGHT                                                                                                \
    "--ground:hsl(60 10% 96%);--panel:hsl(0 0% 100%);--ink:hsl(210 20% 12%);--soft:hsl(210 10% 32%);"        \
    "--rule:hsl(210 8% 78%);--edge:hsl(210 8% 48%);--link:hsl(215 80% 36%);--pass:hsl(150 70% 22%);"         \
    "--fail:hsl(5 75% 36%);--unsteady:hsl(38 95% 23%);--unknown:hsl(265 50% 40%);--trouble:hsl(320 60% "     \
    "33%);"                                                                                                  \
    "--fail-ground:hsl(5 75% 95%);--unsteady-ground:hsl(38 75% 91%);--unknown-ground:hsl(265 55% 96%);"      \
    "--trouble-ground:hsl(320 55% 95%)"
#define PAPER                                                                                                \
    "--ground:#fff;--panel:#fff;--ink:#000;--soft:#333;--fail-ground:#fff;--unsteady-ground:#fff;"           \
    "--unknown-ground:#fff;--trouble-ground:#fff"

const char html_style[] =
    ":root{color-scheme:light dark;" LIGHT "}\n"
    "@media screen and (prefers-color-scheme:dark){:root{" DARK "}}\n"
    "@media (forced-colors:active){:root{--ground:Canvas;--panel:Canvas;--ink:CanvasText;--soft:CanvasText;"
    "--rule:CanvasText;--edge:CanvasText;--link:LinkText;--pass:CanvasText;--fail:CanvasText;"
    "--unsteady:CanvasText;--unknown:CanvasText;--trouble:CanvasText}}\n"
    "*{box-sizing:border-box}"
    "html{background:var(--ground)}"
    "body{margin:0 auto;max-width:78rem;padding:0 1.2rem 3rem;color:var(--ink);background:var(--ground);"
    "font:1rem/1.5 system-ui,sans-serif;overflow-wrap:anywhere}\n"
    "a{color:var(--link)}a:focus-visible,summary:focus-visible,[tabindex]:focus-visible,main:focus-visible"
    "{outline:3px solid var(--link);outline-offset:2px}\n"
    ".skip{position:absolute;left:-99rem}.skip:focus{left:.5rem;top:.5rem;padding:.4rem .8rem;"
    "background:var(--panel);z-index:3}\n"
    "header{padding-top:1.4rem}header>p:first-child{margin:0;color:var(--soft);letter-spacing:.02em}"
    "h1{margin:.1rem 0 .8rem;font-size:1.7rem;line-height:1.2}"
    "h2{margin:0 0 .6rem;font-size:1.2rem;line-height:1.3}"
    "h3{margin:1.2rem 0 .4rem;font-size:1rem}p{margin:.4rem 0;max-width:70ch}\n"
    "nav{margin:.8rem 0}nav ul{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;margin:0;padding:0;"
    "list-style:none}\n"
    "section{margin-top:1.2rem;padding:1rem 1.2rem 1.1rem;background:var(--panel);"
    "border:1px solid var(--rule);min-width:0}"
    "@media screen{.big{content-visibility:auto;contain-intrinsic-size:auto 60rem}}\n" /* painted when looked
                                                                                          at */
    ".v{margin:0 0 .8rem;padding:.5rem 0 .5rem 1rem;border-left:.5rem solid var(--c,var(--edge));"
    "font-size:1.25rem;line-height:1.35;max-width:none}.v b{font-size:1.25em}\n"
    ".p{--c:var(--pass)}.f{--c:var(--fail)}.u{--c:var(--unsteady)}.i{--c:var(--unknown)}"
    ".t{--c:var(--trouble)}.o{--c:var(--soft)}\n"
    "b.p,b.f,b.u,b.i,b.t,b.o{color:var(--c);white-space:nowrap}i{font-style:normal}\n"
    "td.f{background:var(--fail-ground)}td.u{background:var(--unsteady-ground)}"
    "td.i{background:var(--unknown-ground)}td.t{background:var(--trouble-ground)}"
    ".m td{color:var(--c,var(--ink))}.m td.p{color:var(--ink)}.m td a{color:inherit}\n"
    ".q{color:var(--soft)}.key{color:var(--soft);max-width:none}\n"
    ".d{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,20rem),1fr));gap:0 2rem}"
    "dl{display:grid;align-content:start;grid-template-columns:max-content minmax(0,1fr);gap:.15rem "
    "1.2rem;margin:.4rem 0}"
    "dt{color:var(--soft)}dd{margin:0}\n"
    ".s{overflow:auto;max-width:100%;margin:.6rem 0}.h{max-height:90vh}\n"
    "table{border-collapse:collapse;font-size:.9rem;line-height:1.35;font-variant-numeric:tabular-nums}"
    "caption{text-align:left;color:var(--soft);padding:.2rem 0;font-size:1em}"
    "th,td{padding:.25rem .6rem .25rem 0;text-align:left;vertical-align:top;"
    "border-top:1px solid var(--rule)}th{font-weight:600}"
    "thead th{vertical-align:bottom;border-top:0;border-bottom:2px solid var(--edge);color:var(--soft)}"
    "td.r,th.r{text-align:right}\n"
    "table th,table td{overflow-wrap:break-word;min-width:2.5rem;max-width:26rem}\n"
    ".m{display:flex;align-items:flex-end;gap:1.2rem;width:max-content}"
    ".m td,.m thead th{padding:.15rem .35rem;white-space:nowrap;text-align:right;min-width:4rem;"
    "max-width:7.5rem}.m thead th:first-child{text-align:left;padding-left:0;left:0;z-index:1}.m thead "
    "th{white-space:normal;position:sticky;top:0;background:var(--panel)}"
    ".m tbody th{padding:.15rem .5rem .15rem "
    "0;position:sticky;left:0;background:var(--panel);max-width:16rem}\n"
    "details{margin:.6rem 0}summary{cursor:pointer;padding:.2rem 0;font-weight:600}\n"
    ".w{max-width:none!important}.l{white-space:nowrap}.k{display:block;width:484px;height:30px;fill:var(--"
    "ink)}p .k{margin:.3rem 0;max-width:100%;height:auto}.n{position:absolute}"
    "#g{fill:none;stroke:var(--edge);stroke-width:.8}"
    ".k .x{fill:none;stroke:var(--fail);stroke-width:2.6}"
    ".k .y{fill:var(--fail);stroke:var(--fail);stroke-width:1;fill-rule:evenodd}"
    ".k .z{fill:none;stroke:var(--unsteady);stroke-width:4}\n"
    "svg.chart{display:block;max-width:100%;min-width:44rem;height:auto;--paper:var(--panel);--ink:inherit;--"
    "soft:inherit}"
    "@media (forced-colors:active){svg.chart{--one:CanvasText;--two:CanvasText;--grid:GrayText}}"
    "pre{overflow:auto;margin:.4rem 0;padding:.6rem .8rem;border:1px solid var(--rule);font-size:.85rem;"
    "white-space:pre-wrap}\n"
    "img{display:block;max-width:100%;height:auto;image-rendering:auto;border:1px solid var(--rule)}"
    ".g{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,22rem),1fr));gap:.6rem 1.2rem}"
    "figure{margin:.6rem 0}figcaption{color:var(--soft);font-size:.9rem}\n"
    "ol.c{padding-left:1.4rem}ol.c>li{margin:.6rem 0}.next{padding-left:1rem;border-left:3px solid "
    "var(--rule)}\n"
    "footer{margin-top:1.4rem;color:var(--soft);font-size:.9rem}\n"
    "@media (max-width:40rem){body{padding:0 .6rem 2rem}section{padding:.7rem .6rem}"
    "dl{grid-template-columns:minmax(0,1fr)}dd{margin-bottom:.3rem}h1{font-size:1.35rem}.v{font-size:1.1rem}}"
    "\n"
    "@page{size:A4;margin:14mm 12mm}\n"
    "@media print{:root{color-scheme:light;" PAPER "}"
    "body{max-width:none;padding:0;font-size:9.5pt}nav,.skip{display:none}"
    "section{border:0;border-top:1px solid var(--edge);padding:.5rem 0;margin-top:.6rem}"
    ".s,.h{overflow:visible;max-height:none}.m{display:block;width:auto}"
    ".m table{margin-bottom:1rem}.m thead th,.m tbody th{position:static}"
    ".m td,.m thead th{min-width:0;padding:.05rem .2rem;font-size:7pt}.m tbody "
    "th{font-size:7pt;max-width:42mm}"
    "table{font-size:8pt;max-width:100%}th,td{padding:.15rem .4rem .15rem 0}"
    "table th,table td{max-width:60mm;min-width:10mm;overflow-wrap:anywhere}table thead "
    "th{overflow-wrap:normal}"
    "thead{display:table-header-group}tr,figure,ol.c>li,.v{break-inside:avoid}h2,h3,caption{break-after:"
    "avoid}"
    "details::details-content{content-visibility:visible;display:block;height:auto;block-size:auto}"
    "summary{list-style:none}.k{width:72mm;height:4.5mm}.m tbody "
    "th{min-width:34mm}svg.chart{width:100%;min-width:0}"
    ".d{grid-template-columns:1fr 1fr 1.3fr;gap:0 4mm}dl{gap:0 "
    "3mm}img{max-height:120mm;width:auto}.g{grid-template-columns:1fr 1fr}.g "
    "img{width:100%}a{color:inherit}}\n";
