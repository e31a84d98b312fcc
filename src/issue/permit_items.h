/* What 36 CFR 291.17 lists, letter by letter, with what the record has of each. */
#ifndef MB_PERMIT_ITEMS_H
#define MB_PERMIT_ITEMS_H

#include <markerbed/json.h>

#include "date.h"
#include "db.h"

/* What stands for an item that the record does not give. */
#define MB_PERMIT_NOT_GIVEN "not on the record: to be added by hand"

/* Adds rows [letter, item, what is on the record] for a permit. found: the SQL that names what was
 * found ("found", "pieces"), before each query; ?1 the permission, ?2 and ?3 the days. */
MB_CHECK enum mb_rc mb_permit_items(mb_arena *arena, mb_db *db, const char *found,
                                    struct mb_str permission, struct mb_days days, mb_json *rows,
                                    struct mb_error *err);

#endif
