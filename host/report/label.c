#include "report/label.h"

#include <stdio.h>
#include <string.h>

const char *label_finding(const struct finding *finding, char text[LABEL_MAX]) {
    char place[FINDING_PLACE_MAX];
    const bool placed = finding_place(finding, place)[0] != '\0';
    snprintf(text, LABEL_MAX, "%s%s%s", finding_name(finding->kind), placed ? " " : "", place);
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

const char *label_joint(const struct finding *findings, size_t i) {
    const struct finding *finding = &findings[i];
    if (!finding->alternative) {
        return "";
    }
    const bool of_colours = finding->kind == FINDING_COLOUR_WRONG;
    const bool first =
        i == 0 || !finding[-1].alternative || (finding[-1].kind == FINDING_COLOUR_WRONG) != of_colours;
    return first ? "either " : finding[-1].explanation == finding->explanation ? "and " : "or ";
}
