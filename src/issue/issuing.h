/*
 * A certificate in the making (docs/format.md section 6.1): what comes along with it, and its file.
 * Whether it is issued for the first time (certificate.c) or made again from the ledger's own
 * records (again.c), the same closure gives the same bytes.
 */
#ifndef MB_ISSUING_H
#define MB_ISSUING_H

#include "anchors.h"
#include "closure.h"
#include "foreign.h"

#define MB_ISSUED_MAX 500 /* specimens in one certificate */

struct mb_issuing {
    mb_ledger *ledger;
    mb_arena *arena;
    const struct mb_issue *issue;
    enum mb_audience audience;
    struct mb_str *subjects;
    const mb_json *to;
    const mb_json *table;   /* of the statement */
    struct mb_stood *stood; /* what the land record shows, one a specimen */
    struct mb_guard guard;
    struct mb_closure closure;
    const mb_json **statements;    /* {"lines":[...]}, one a specimen */
    struct mb_entry *certificates; /* one a specimen, with all their disclosures */
    mb_json *files;                /* that travel along; NULL: none */
    struct mb_foreign foreign;
    struct mb_cosigned_lines cosigned; /* the witnesses' lines that become anchors */
    mb_json *warnings;
    const char *refusal; /* why a buyer's sheet is not issued; NULL: nothing is against it */
};

/* Gathers, behind the closure and the statements, the certificates of other ledgers and the files
 * that come along. `before`: the seq of the first certificate entry. */
MB_CHECK enum mb_rc mb_issuing_enclose(struct mb_issuing *is, int64_t before,
                                       struct mb_error *err);

/* What a certificate's entry keeps so that its file can be made again (kind certificate, class
 * private): which fields it showed beyond its audience, what it was asked to withhold, whether its
 * files went beside it, whose cosignatures were at hand. Adds to fields[*count], at most
 * MB_KEEPING_MAX; an ordinary sheet adds none. */
enum { MB_KEEPING_MAX = 4 };
void mb_issuing_keep(const struct mb_issuing *is, struct mb_field *fields, size_t *count);

/* `held` and `shown` of what stands in *is; the digests of the certificates' own fields come on
 * top. */
struct mb_str mb_issuing_held(const struct mb_issuing *is);
struct mb_str mb_issuing_shown(const struct mb_issuing *is, const struct mb_hash *own,
                               size_t own_count);

/* The file, once the certificate entries stand in the ledger under a checkpoint. */
MB_CHECK enum mb_rc mb_issuing_file(struct mb_issuing *is, struct mb_str *out,
                                    struct mb_error *err);

/* The entry of a certificate that this ledger issued, by its leaf hash; with its disclosures. */
MB_CHECK enum mb_rc mb_issuing_find(mb_ledger *ledger, mb_arena *arena, const char *id,
                                    struct mb_entry *out, struct mb_error *err);

#endif
