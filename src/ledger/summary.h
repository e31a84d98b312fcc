/*
 * The signed summary in the code on a sheet (docs/format.md section 9): a compact JWS of the type
 * markerbed-summary+jwt, Ed25519, small enough for a code that is read off paper. It is signed by
 * the key that signed the certificate's own entry and names no key, for there is no room. What it
 * says is a claim until the file is checked.
 */
#ifndef MB_SUMMARY_H
#define MB_SUMMARY_H

#include "entry.h"

#define MB_SUMMARY_TYPE "markerbed-summary+jwt"
enum { MB_SUMMARY_MAX = 2048, MB_SUMMARY_LINES = 8 }; /* bytes of the JWS; texts in `says` */

struct mb_summary {
    struct mb_str iss;      /* origin of the ledger */
    struct mb_hash crt;     /* the certificate's identity */
    struct mb_str sub;      /* specimen/ID */
    struct mb_str audience;
    int64_t iat;            /* that of the certificate's entry */
    const mb_json *says;    /* ["..."], in the words of the sheet; may be empty */
    struct mb_str signed_part;
    struct mb_sig sig;
};

/* Signs what stands in `what`, but for its last two members. The same words and key give the same
 * bytes. */
struct mb_str mb_summary_write(mb_arena *arena, const struct mb_summary *what,
                               const mb_secret *secret);
/* Reads it strictly; the signature is not checked. MB_REFUSED with one clause where it is
 * malformed, MB_UNABLE for an algorithm or critical header that is unknown. */
MB_CHECK enum mb_rc mb_summary_read(mb_arena *arena, struct mb_str jws, struct mb_summary *out,
                                    struct mb_error *err);
bool mb_summary_signed_by(const struct mb_summary *summary, const struct mb_key *key);

#endif
