/* What may not be erased. */
#ifndef MB_FORGET_MAY_H
#define MB_FORGET_MAY_H

#include "forget_find.h"
#include "views.h"

/* MB_REFUSED, with the claim's entry, while any open claim asks that nothing be erased. */
MB_CHECK enum mb_rc mb_forget_claims(mb_db *views, struct mb_error *err);
/* MB_NO, and *why, where a permit's report rests on this field. */
MB_CHECK enum mb_rc mb_forget_rests(mb_db *views, mb_arena *arena, const struct mb_trace *trace,
                                    const char **why, struct mb_error *err);

#endif
