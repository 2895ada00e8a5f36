/* Tests of cartridges, and a lot of them, as JSON. Keys are tabled in README.md. */
#ifndef SLOTJIG_REPORT_SHIP_JSON_H
#define SLOTJIG_REPORT_SHIP_JSON_H

#include "record/lot.h"

#include <jansson.h>

json_t *ship_json(const struct ship *ship);
json_t *ship_list_json(const struct ship_list *list);
json_t *lot_json(const char *name, const struct lot *lot);

#endif
