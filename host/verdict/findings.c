#include "verdict/findings.h"

#include "verdict/advice.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

struct finding *finding_add(struct result *result, enum finding_kind kind) {
    if (result->finding_count == FINDINGS_MAX) {
        return NULL;
    }
    struct finding *finding = &result->findings[result->finding_count++];
    *finding = (struct finding){.kind = kind, .reg = -1, .bit = -1, .rate = 1, .rate_low = 1, .rate_high = 1};
    snprintf(finding->next, sizeof finding->next, "%s", advice_next(kind));
    return finding;
}

void finding_say(struct finding *finding, const char *format, ...) {
    if (finding != NULL) {
        const size_t used = strlen(finding->text);
        va_list arguments;
        va_start(arguments, format);
        vsnprintf(finding->text + used, sizeof finding->text - used, format, arguments);
        va_end(arguments);
    }
}
