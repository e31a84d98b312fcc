/* Values that have no parts, one function a type. For value.c. */
#ifndef MB_VALUE_SCALAR_H
#define MB_VALUE_SCALAR_H

#include "value.h"

/* Any type but list, rows, ref, entry, file, geometry, jwk and statement. */
MB_CHECK enum mb_rc mb_scalar_read(const struct mb_value_in *in, const struct mb_kind_field *field,
                                   enum mb_value_type type, struct mb_str typed, mb_json **out,
                                   struct mb_error *err);
/* Index of a choice by id or title, capitals no matter; -1 if it is none. */
int mb_scalar_choice(const struct mb_choices *choices, struct mb_str typed);
/* The choice that was probably meant: nearly so written, or the only one that holds it; or NULL. */
const char *mb_scalar_near(const struct mb_words *ids, struct mb_str typed);

/* A text, number, yes or no of JSON, as it would be typed. */
struct mb_str mb_scalar_typed(mb_arena *arena, const mb_json *json);

#endif
