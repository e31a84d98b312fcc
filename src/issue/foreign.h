/*
 * The certificates of other ledgers that travel inside one of ours (docs/format.md section 6.2):
 * those that an arrival in the file was received with, cut down to what our reader may see.
 */
#ifndef MB_FOREIGN_H
#define MB_FOREIGN_H

#include "closure.h"

#define MB_FOREIGN_NEST 6 /* one inside another: JSON nests 16 deep, and each takes two */

struct mb_foreign {
    mb_json *list;           /* for the file's member `foreign`; NULL if there is none */
    struct mb_hash *digests; /* of all that they still show: `shown` covers them */
    size_t count;
};

/*
 * Of each arrival in the closure, the certificate that it was received with, out of the ledger's
 * attached files. Fields that the audience does not see, that the issue withholds, or that place
 * or name more finely than the other ledger's own wishes allow, are cut away; what was shown beyond
 * its class to us alone goes no further; its own `to` and `statement` go to institutions only.
 * Pictures go as our own would. None stands twice; what there is no room for (16 in all, 6 deep)
 * stays outside, and `warnings` says so.
 */
MB_CHECK enum mb_rc mb_foreign_gather(mb_ledger *ledger, mb_arena *arena,
                                      const struct mb_closure *closure, enum mb_audience audience,
                                      const struct mb_issue *issue, mb_json *warnings,
                                      struct mb_foreign *out, struct mb_error *err);

/* The attached file that an arrival was received with, read and of the form of a certificate: MB_NO
 * where the arrival has none. *json is its text as JSON. */
MB_CHECK enum mb_rc mb_foreign_open(mb_ledger *ledger, mb_arena *arena,
                                    const struct mb_entry *arrival, const mb_json **json,
                                    struct mb_error *err);

#endif
