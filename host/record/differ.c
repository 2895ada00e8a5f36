#include "record/differ.h"

/* Least effects: [M] what a person would act on; see DEVELOPERS.md. */
const struct quantity_facts quantity_table[QUANTITY_COUNT] = {
    [QUANTITY_MARGIN] = {"margin", "", 0.05, 1e-4, true},
    [QUANTITY_OFFSET] = {"offset", "clocks", 0.1, 1e-3, false},
    [QUANTITY_LIT_LEVEL] = {"lit level", "", 0.02, 1e-4, false},
    [QUANTITY_DARK_LEVEL] = {"dark level", "", 0.02, 1e-4, false},
    [QUANTITY_COLOUR_LEVEL] = {"level", "", 0.02, 1e-4, false},
    [QUANTITY_COLOUR_HUE] = {"hue", "degrees", 3, 1e-2, false},
    [QUANTITY_DELAY] = {"delay", "clocks", 0.5, 1e-3, false},
};

bool differ_runs(const struct record_list *before, const struct record_list *now, const struct series *more,
                 size_t more_count, struct differ **differ, struct problem *problem) {
    (void)before, (void)now, (void)more, (void)more_count;
    *differ = NULL;
    return problem_set(problem, PROBLEM_BENCH, "comparing records is not built yet");
}
void differ_free(struct differ *differ) {
    (void)differ;
}
bool differ_separate(const struct record_list *first, const struct record_list *second,
                     const struct series *more, size_t more_count, struct separations **separations,
                     struct problem *problem) {
    (void)first, (void)second, (void)more, (void)more_count;
    *separations = NULL;
    return problem_set(problem, PROBLEM_BENCH, "comparing records is not built yet");
}
void separations_free(struct separations *separations) {
    (void)separations;
}
