/*
 * A certificate of another ledger, taken into ours: checked first, then carried on as an `arrival`
 * of a specimen of our own that names the other ledger's origin, its checkpoint and the certificate
 * by its leaf hash, with the certificate itself kept whole beside the log. Later certificates of
 * that specimen carry it, cut down to what their reader may see.
 */
#ifndef MARKERBED_RECEIVE_H
#define MARKERBED_RECEIVE_H

#include <markerbed/record.h>

struct mb_receive {
    const char *path;       /* a certificate, a sheet (PDF, web page) with one inside, or a bag: its
                             * folder, .zip or .tar.gz */
    const char *trust_path; /* as for mb_verify; NULL: none is trusted */
    const char *published;  /* as for mb_verify: what was withdrawn since is not taken; or NULL */
    bool accept_unknown;    /* also a ledger that the trust file does not name */
    /* Our numbers for its specimens: "THEIRS=OURS" each, or OURS alone where it is of one specimen;
     * without the word specimen/. A # stands for the next free one. NULL, 0: look only. */
    const char *const *as;
    size_t as_count;
    const struct mb_typed *typed; /* fields of the arrivals: receivedFrom, reason, owner, ... */
    size_t count;
};

/*
 * {"verdict","words","file","findings": all as mb_verify has them of the certificate,
 *  "specimens":[{"theirs","title","certificate","proposed","already"?:{"subject","seq"}}],
 *  "arrivals"?:[as mb_record answers, one a specimen],"batch"?}
 *
 * MB_OK: looked at (nothing recorded), or recorded, or all of it was received before (no
 * "arrivals"). MB_NO: the certificate does not hold. MB_UNABLE: it could not be checked to the end,
 * and was not taken: an unknown ledger without accept_unknown, a newer format. In all but the
 * second case of MB_OK nothing has changed. MB_REFUSED: the file is no certificate, or what is to
 * be recorded is nonsense.
 */
MB_CHECK enum mb_rc mb_receive(mb_ledger *ledger, mb_arena *arena,
                               const struct mb_receive *receive, const mb_json **out,
                               struct mb_error *err);

/*
 * A specimen's years before it came into this ledger, out of the certificates that it was received
 * with, the nearest first; and on whose word its handovers stand. Not checked again here: that is
 * mb_verify's business.
 * {"before":[{"origin","name","subject":there,"certificate","fingerprint","recordedAt",
 *             "entries":[{"seq","kind","recordedAt","line","voided"?:true}]}],
 *  "sides":[{"seq","kind","line","sides":"one-sided"|"two-sided, on paper"|"signed with a key"|
 *            "the other side wrote","by"?:ledger or key,"kid"?,"signedIn"?:seq}]}
 */
MB_CHECK enum mb_rc mb_before(mb_ledger *ledger, mb_arena *arena, const char *specimen,
                              const mb_json **out, struct mb_error *err);

#endif
