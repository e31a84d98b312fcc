/* Amounts in their unit's base, by schema/vocab/unit.json. */
#ifndef MB_UNITS_H
#define MB_UNITS_H

#include <stdbool.h>

#include <markerbed/arena.h>

/* False where the unit is not known, is of another base than asked for, or it is no number. */
bool mb_unit_base(struct mb_str number, struct mb_str unit, const char *base, double *out);

#endif
