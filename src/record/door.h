/*
 * The door: what may become an entry. It turns what was typed into what is signed, fills in what is
 * known already (fill.h), and refuses nonsense: unknown kinds, fields, units, choices, references
 * and days that are none or lie in the future, counts below zero, an entry on a subject that does
 * not exist. What people really do passes: a transfer by somebody who did not hold, a day outside a
 * permission, more taken from a lot than it held. Those become findings.
 *
 * All of it depends on what is recorded already, so it happens inside the group that appends.
 */
#ifndef MB_DOOR_H
#define MB_DOOR_H

#include <markerbed/record.h>

#include "attach.h"
#include "kinds.h"
#include "session.h"

/* The word that takes a field away in a correction, and elsewhere keeps it from being filled in. */
#define MB_LEAVE_OUT "(remove)"

/* An entry that may be appended. */
struct mb_checked {
    const struct mb_kind *kind;
    const char *subject; /* spelled as first recorded */
    struct mb_field *fields;
    size_t count;
    const mb_json **values;  /* by the kind's own order of fields; NULL where there is none */
    const mb_json *filled;   /* {name: value} of what was not typed */
    mb_json *warnings;       /* ["..."] */
    const mb_json *cautions; /* cautions.h; NULL: none, or it is one of many */
    struct mb_attached *files; /* to be stored before the entry is; NULL if there are none */
};

/* How an entry is checked. */
struct mb_door_way {
    const char *batch; /* its name, or NULL */
    bool trying;       /* nothing will be appended: a number already used is a warning */
};

/* MB_REFUSED with one sentence, `what->where` and the field's name in front. */
MB_CHECK enum mb_rc mb_door_check(mb_ledger *ledger, mb_arena *arena,
                                  const struct mb_recording *what, struct mb_door_way way,
                                  struct mb_checked *out, struct mb_error *err);

/* The subject "prefix/ID" as recorded, by ID or prefix/ID; MB_REFUSED with near misses if there is
 * none. */
MB_CHECK enum mb_rc mb_door_subject(mb_ledger *ledger, mb_arena *arena, const char *prefix,
                                    struct mb_str typed, struct mb_str *subject,
                                    struct mb_error *err);

/* What the ledger keeps for its door. open: at the beginning of a group, forgets what an earlier
 * group saw; forget: the same, of a group that was given up. Both and free accept NULL. */
MB_CHECK enum mb_rc mb_door_open(mb_ledger *ledger, struct mb_error *err);
void mb_door_forget(struct mb_door *door);
struct mb_door *mb_door_free(struct mb_door *door);

#endif
