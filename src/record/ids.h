/*
 * IDs: the next free number of a row, the existing ones that a mistyped one may have meant, and
 * whether one gives away the name that it stands for.
 */
#ifndef MB_IDS_H
#define MB_IDS_H

#include "session.h"

/*
 * The next free ID. `pattern` is an ID of the row ("26-0115") or its beginning with a # for each
 * digit ("26-####"); NULL stands for the ID of this prefix that was recorded last, and where there
 * is none, for the house's first ("S001", "P001", and for specimens the year: "26-0001"). The
 * digits at the end count up and keep their width; numbers given away are never offered again.
 * MB_REFUSED for a pattern that ends in no digit.
 */
MB_CHECK enum mb_rc mb_ids_next(mb_ledger *ledger, mb_arena *arena, const char *prefix,
                                const char *pattern, const char **id, struct mb_error *err);

/* An existing ID of this prefix that looks like `id`, or NULL. Looks at some thousands of those
 * that begin alike, not at all of a large ledger. */
MB_CHECK enum mb_rc mb_ids_near(mb_ledger *ledger, mb_arena *arena, const char *prefix,
                                struct mb_str id, const char **near, struct mb_error *err);

#define MB_ID_WORD_MIN 4 /* letters of a word that could give something away */

/* The first word of `name` (four letters or more, capitals or not) that stands in `id`; {NULL, 0}
 * if there is none. */
struct mb_str mb_id_shares(struct mb_str id, struct mb_str name);

#endif
