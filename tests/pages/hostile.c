#include "pages/hostile.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FIFTY "0123456789012345678901234567890123456789abcdefghij"
#define FIVE_HUNDRED FIFTY FIFTY FIFTY FIFTY FIFTY FIFTY FIFTY FIFTY FIFTY FIFTY

static const struct {
    bool allowed;
    const char *text;
} texts[] = {
    /* Markup. */
    {true, "<script>alert(1)</script>"},
    {true, "<script>window.ran='script'</script>"},
    {true, "\"><img src=x onerror=window.ran='img'>"},
    {true, "'><svg onload=window.ran='svg'>"},
    {true, "\" onmouseover=\"window.ran='mouse'\" autofocus onfocus=\"window.ran='focus'\" x=\""},
    {true, "' style='background:url(https://example.invalid/a.png)' autofocus onfocus='window.ran=1'"},
    {true, "</style><script>window.ran='style'</script>"},
    {true, "</title><script>window.ran='title'</script>"},
    {true, "</svg></text></desc><script>window.ran='desc'</script>"},
    {true, "<!-- "},
    {true, "--><script>window.ran='comment'</script>"},
    {true, "]]><script>window.ran='cdata'</script>"},
    {true, "javascript:window.ran='url'"},
    {true, "data:text/html,<script>window.ran='data'</script>"},
    {true, "<base href=https://example.invalid/><link rel=stylesheet href=https://example.invalid/a.css>"},
    {true, "<meta http-equiv=refresh content='0;url=https://example.invalid/'>"},
    {true, "<iframe srcdoc='<script>parent.ran=1</script>'></iframe><object data=x></object>"},
    {true, "}body{display:none}@import url(https://example.invalid/b.css);"},
    {true, "</td></tr></table><form action=https://example.invalid/><button>Log in</button>"},
    {true, "&lt;b&gt; &amp;amp; &#60;script&#62; &quot"},
    {true, "\\u003cscript\\u003ewindow.ran=2\\u003c/script\\u003e \\\" \\n %s%n%x ${7*7} {{7*7}}"},
    {true, "\"\"\"'''```\"'\"'\"'"},
    /* Of other files that the same records go to. */
    {true, "=HYPERLINK(\"https://example.invalid/\",\"x\")"},
    {true, "+1+1"},
    {true, "-1"},
    {true, "@SUM(1,1)"},
    {true, "'; DROP TABLE runs; --"},
    /* Letters of many kinds. */
    {true, " "},
    {true, FIVE_HUNDRED FIVE_HUNDRED},
    {true, "\xe2\x80\xae"
           "txet desrever"
           "\xe2\x80\xac \xe2\x81\xa6"
           "isolate without an end"},
    {true, "\xd7\xa9\xd7\x9c\xd7\x95\xd7\x9d 123 \xd8\xb3\xd9\x84\xd8\xa7\xd9\x85"},
    {true, "Ko\xcc\x88ln \xe6\x97\xa5\xe6\x9c\xac \xf0\x9f\x94\xa7\xe2\x80\x8d "
           "\xef\xbb\xbf\xe2\x80\xa8\xe2\x80\xa9"},
    {true, "a\xcc\x81\xcc\x82\xcc\x83\xcc\x84\xcc\x85\xcc\x86\xcc\x87\xcc\x88\xcc\x89\xcc\x8a\xcc\x8b"},
    /* What a record must not hold. */
    {false, ""},
    {false, "\t=1+1\r\n=2"},
    {false, "\x01\x02\x08\x0b\x0c\x0e\x1b[31m\x7f\xc2\x80\xc2\x9b"},
    {false, "\xff\xfe\x80 bytes \xe2\x82"},
    {false, "\xc0\xbcscript\xc0\xbe overlong, \xed\xa0\x80 half a pair, \xf4\x90\x80\x80 beyond"},
    {false, "\xef\xbf\xbe\xef\xbf\xbf no characters"},
};
enum { TEXTS = sizeof texts / sizeof texts[0] };

const char *hostile_text(size_t index) {
    return index < TEXTS ? texts[index].text : NULL;
}

bool hostile_allowed(size_t index) {
    return index < TEXTS && texts[index].allowed;
}

void hostile_steps(const struct record_plan *plan, const char *text) {
    struct record_plan_step *steps = (struct record_plan_step *)plan->steps; /* the shelf's own */
    for (size_t i = 0; i < plan->step_count; i++) {
        steps[i].name = steps[i].mode = text;
    }
}

static void hostile_blobs(struct record_run *run, const char *text, struct hostile_parts *parts) {
    /* The JSON of another plan, made up by anybody: the right keys with wrong things in them. */
    char quoted[3000], *to = quoted;
    for (const char *from = text; *from != '\0' && to < quoted + sizeof quoted - 8; from++) {
        const unsigned char byte = (unsigned char)*from;
        to += byte < ' '                    ? sprintf(to, "\\u%04x", byte)
              : byte == '"' || byte == '\\' ? sprintf(to, "\\%c", byte)
                                            : sprintf(to, "%c", byte);
    }
    *to = '\0';
    snprintf(parts->json, sizeof parts->json,
             "{\"delays\":[{\"register\":\"%s\",\"mode\":\"%s\",\"delay\":1e308}],\"windows\":\"%s\","
             "\"arithmetic\":null,\"moments\":[1,\"%s\",{}],\"colours\":[{\"register\":\"%s\",\"value\":-1}],"
             "\"hues\":{\"%s\":[]}}",
             quoted, quoted, quoted, quoted, quoted, quoted);
    const uint8_t *json = (const uint8_t *)parts->json;
    const size_t size = strlen(parts->json);
    parts->blobs[0] = (struct record_blob){"moments", "application/json", json, size, "0"};
    parts->blobs[1] = (struct record_blob){"colours", "application/json", json, size, "1"};
    parts->blobs[2] = (struct record_blob){"field", text, (const uint8_t *)text, strlen(text), "2"};
    parts->blobs[3] = (struct record_blob){text, "image/png", (const uint8_t *)text, strlen(text), "3"};
    run->blobs = parts->blobs;
    run->blob_count = 4;
}

void hostile_run(struct record_run *run, const char *text, struct hostile_parts *parts) {
    parts->plan = *run->plan;
    parts->plan.name = parts->plan.text = text;
    snprintf(parts->plan.id, sizeof parts->plan.id, "%s", text);
    run->plan = &parts->plan;
    run->station = run->bench = run->tool = run->settings = run->command = run->problem = text;
    run->console = (struct record_console){text, text, text, text};
    run->cartridge = (struct record_cartridge){text, text, text};
    parts->finding = (struct finding){
        .kind = FINDING_UNEXPLAINED, .reg = -1, .bit = -1, .rate = 0.5, .rate_low = 0.1, .rate_high = 0.9};
    snprintf(parts->finding.text, sizeof parts->finding.text, "%s", text);
    snprintf(parts->finding.next, sizeof parts->finding.next, "%s", text);
    run->findings = run->troubles = &parts->finding;
    run->finding_count = run->trouble_count = 1;
    hostile_blobs(run, text, parts);
}
