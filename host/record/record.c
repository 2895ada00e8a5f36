#include "record/record.h"

const char *record_end_name(enum record_end end) {
    static const char *const names[] = {"pass", "fail", "inconclusive", "trouble"};
    return (unsigned)end < RECORD_ENDS ? names[end] : "";
}
