/* Values that have parts: how a typed one falls into them, and rows. For value.c. */
#ifndef MB_VALUE_ROWS_H
#define MB_VALUE_ROWS_H

#include "value.h"

/* Takes the next part off a typed list: up to " | ", or for values that hold no bar up to any.
 * False at the last one. */
bool mb_parts_cut(struct mb_str *rest, bool any_bar, struct mb_str *part);

/* Rows from JSON (an array of rows, or one), or with json NULL from what was typed. */
MB_CHECK enum mb_rc mb_rows_read(const struct mb_value_in *in, const struct mb_kind_field *field,
                                 const mb_json *json, struct mb_str typed, mb_json **out,
                                 struct mb_error *err);

#endif
