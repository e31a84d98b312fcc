/*
 * Places of finds on federal land (United States): finer than the state they leave only for the
 * agency that manages the ground or gave the permit, and for the repository that the permit names,
 * until a release by the agency is on record (a document of type "agency release" on the site, or
 * on each of the pieces asked for that were found there).
 *
 * 16 USC 470aaa-8 and 43 CFR 49.25 (part; not checked against the text), 36 CFR 291.22(a)(2)(iv)
 * (read in an unofficial copy). Which categories of land are federal is in
 * schema/vocab/landCategory.json. Land that was federal only before anything was found there does
 * not count.
 */
#ifndef MB_GUARD_H
#define MB_GUARD_H

#include "bundle.h"
#include "session.h"
#include "statement.h"

struct mb_guard {
    const struct mb_str *sites; /* whose places are guarded from this reader */
    size_t count;
};

/* `to`: the party that reads, {NULL, 0} for a bearer. Only an institution or an auditor can be the
 * agency or its repository. Asks the views: not from inside a group. */
MB_CHECK enum mb_rc mb_guard_make(mb_ledger *ledger, mb_arena *arena,
                                  const struct mb_str *specimens, size_t count, struct mb_str to,
                                  enum mb_audience audience, struct mb_guard *out,
                                  struct mb_error *err);

/* The same for a certificate of another ledger that is carried on: whoever reads it, the agency and
 * the repository are not known by our numbers, so only a release that it holds itself counts. */
MB_CHECK enum mb_rc mb_guard_carried(mb_arena *arena, const mb_stories *stories,
                                     struct mb_guard *out, struct mb_error *err);

bool mb_guard_has(const struct mb_guard *guard, struct mb_str site); /* NULL: none */

#endif
