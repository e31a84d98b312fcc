/*
 * Judging one certificate file by itself: signatures, keys, chains, tree, and what a certificate
 * must hold (docs/format.md sections 3-8). Needs no ledger, no database and no network.
 */
#ifndef MB_VERIFY_BUNDLE_H
#define MB_VERIFY_BUNDLE_H

#include "bundle.h"
#include "finding.h"
#include "keyring.h"
#include "statement.h"
#include "trust.h"

struct mb_bundle_check {
    mb_arena *arena;
    struct mb_bundle *bundle; /* its entries are read into it */
    const struct mb_trust *trust;
    mb_findings *findings;
    bool list;  /* withdrawn.json: no certificate, and of specimens the withdrawals alone */
    bool inner; /* a certificate of another ledger carried inside one */
    /* Files that travel beside it, as in a bag; NULL: there are none. */
    bool (*has_file)(const void *ctx, struct mb_str sha256);
    const void *has_file_ctx;
    size_t foreign_left; /* how many more may be nested; MB_FOREIGN_MAX at the top */

    /* results */
    mb_keyring *ring;
    mb_stories *stories;
    bool trusted;
    size_t unreadable;
    bool newer;           /* an entry is of a version that we do not know */
    bool checkpoint_good; /* signed by the right key, for this origin and size */
    struct mb_bundle_entry **certificates; /* the last k entries, one a specimen */
    size_t certificate_count;
    enum mb_audience audience;
    const mb_json *table; /* the statement's, NULL if unknown */
    const mb_json *about; /* mb_bundle_about, kept by whoever asks more than once; else NULL */
    struct mb_bundle_check *inside; /* the certificates of other ledgers that it carries, as far as
                                     * they could be read; the next one behind */
    struct mb_bundle_check *next;
    struct mb_countersigned *countersigned; /* verify_countersign.h */
};

/* Adds its findings. */
void mb_bundle_verify(struct mb_bundle_check *check);

/* The certificate's own rules, for mb_bundle_verify: verify_certificate.c. */
void mb_certificate_verify(struct mb_bundle_check *check);
/* The same for the certificates of other ledgers that it carries: verify_foreign.c. */
void mb_foreign_verify(struct mb_bundle_check *check);

/* The certificate of another ledger that a row of an arrival's foreignEvidence names, among those
 * that `check` carries and those inside them; NULL if none of them is it. */
const struct mb_bundle_check *mb_foreign_find(const struct mb_bundle_check *check,
                                              const mb_json *row);

/* {"origin","fingerprint","fingerprintGrouped","trusted","entries","asOf","recordedAt",
 *
 * "checkpointSize","audience","certificates":[{"id","subject","statement":[{"name","title","value",
 *  "unit"?,"from"?,"attested"?}],"to"}],"withheld":[{"subject","class","reason"}],
 *  "signers":[{"kid","holder","entries"}],"foreign":[the same of each that it carries]?} */
mb_json *mb_bundle_about(mb_arena *arena, const struct mb_bundle_check *check);

#endif
