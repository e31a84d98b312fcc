/* What a certificate is asked to be: checked before anything is looked up or recorded, and what is
 * to be said of it afterwards. */
#ifndef MB_REQUEST_H
#define MB_REQUEST_H

#include "closure.h"

/* MB_REFUSED for an audience, a reason or a field that there is none of, and for a field that
 * cannot be withheld: one that is open wherever it stands, or a certificate's own. */
MB_CHECK enum mb_rc mb_request_check(mb_arena *arena, const struct mb_issue *issue,
                                     enum mb_audience *audience, struct mb_error *err);

/* Adds a sentence for everything that was asked for and is not as it was meant. */
void mb_request_warn(mb_arena *arena, const struct mb_issue *issue,
                     const struct mb_closure *closure, mb_json *warnings);

/* One choice of a kind's field (of the column of that name where column is not NULL). MB_REFUSED
 * with all that are allowed: "'a whim' is no reason to WHAT; choose one of: ...". */
MB_CHECK enum mb_rc mb_request_reason(mb_arena *arena, const char *kind, const char *field,
                                      const char *column, const char *reason, const char *what,
                                      struct mb_error *err);

/* Adds a sentence for each specimen of a buyer's sheet that nobody examined. */
void mb_request_warn_unexamined(mb_arena *arena, const struct mb_issue *issue,
                                enum mb_audience audience, const struct mb_str *subjects,
                                const struct mb_closure *closure, mb_json *warnings);

#endif
