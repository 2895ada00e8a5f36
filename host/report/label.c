#include "report/label.h"

#include <stdio.h>
#include <string.h>

const char *label_finding(const struct finding *finding, char text[LABEL_MAX]) {
    const char *const name = finding_name(finding->kind);
    if (finding->reg >= 0 && finding->bit >= 0) {
        snprintf(text, LABEL_MAX, "%s %s D%d", name, reg_name((enum reg)finding->reg), finding->bit);
    } else if (finding->reg >= 0) {
        snprintf(text, LABEL_MAX, "%s %s", name, reg_name((enum reg)finding->reg));
    } else if (finding->bit >= 0) {
        snprintf(text, LABEL_MAX, "%s %d", name, finding->bit);
    } else {
        snprintf(text, LABEL_MAX, "%s", name);
    }
    return text;
}

const char *label_findings(const struct finding *findings, size_t count, char *text, size_t size) {
    enum { MORE = 16 }; /* "; 24 more" */
    size_t at = 0;
    text[0] = '\0';
    for (size_t i = 0; i < count; i++) {
        char label[LABEL_MAX];
        const size_t length = strlen(label_finding(&findings[i], label)) + 2;
        if (at + length + (i + 1 < count ? MORE : 1) > size) {
            snprintf(text + at, size - at, "%s%zu more", i > 0 ? "; " : "", count - i);
            break;
        }
        at += (size_t)snprintf(text + at, size - at, "%s%s", i > 0 ? "; " : "", label);
    }
    return text;
}
