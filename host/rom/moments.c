#include "rom/counting.h"
const struct counting moments_counting = {0};
