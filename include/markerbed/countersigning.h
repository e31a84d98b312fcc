/*
 * The other side signs: a handover or a change of owner is two-sided only when the receiver (or
 * owner, institution, ...) has signed the entry with a key of their own.
 *
 *   giver      mb_countersign_request: the entry as a small file, or any certificate that holds it
 *   receiver   mb_countersign_sign: on their machine with their ledger, or on the giver's with a
 *              key in a folder of their own
 *   giver      mb_countersign_record: takes the signature into the ledger
 */
#ifndef MARKERBED_COUNTERSIGNING_H
#define MARKERBED_COUNTERSIGNING_H

#include <markerbed/record.h>

/* The newest entry of kind custody or title of the specimen, or `entry` ("#12" or a leaf hash), as
 * a file for the other side to sign: {"file":its text,"subject","seq","kind","line"}. It shows what
 * an institution would see of that one entry. */
MB_CHECK enum mb_rc mb_countersign_request(mb_ledger *ledger, mb_arena *arena,
                                           const char *specimen, const char *entry,
                                           const mb_json **out, struct mb_error *err);

struct mb_countersign_wish {
    const char *path;       /* a certificate, a sheet, or what mb_countersign_request made */
    const char *entry;      /* "#12" or a leaf hash; NULL: the newest custody or title in it */
    const char *role;       /* a choice of kind countersign; NULL: receiver */
    const char *trust_path; /* as for mb_verify, of a certificate */
    /* A key that belongs to no ledger: the folder that holds it. */
    const char *own_folder;
    struct mb_str own_passphrase;
    bool look; /* sign nothing: what would be signed */
};

/* Signs with the key that is open in `ledger`, or with that in own_folder (ledger may then be
 * NULL), which is made where the folder holds none.
 * {"jws" (not where one only looks),"origin","subject","seq","kind","line","role","kid","by",
 *  "fields":{name:value as shown},"trusted":bool? (of a certificate),"made"?:true (a new key)}.
 * MB_NO: the certificate does not hold, and nothing is signed. MB_REFUSED: no such entry, or the
 * key belongs to the very ledger whose entry it is. */
MB_CHECK enum mb_rc mb_countersign_sign(mb_ledger *ledger, mb_arena *arena,
                                        const struct mb_countersign_wish *wish,
                                        const mb_json **out, struct mb_error *err);
/* Does the folder hold a key already? */
bool mb_countersign_has_key(mb_arena *arena, const char *folder);

/* The file of a countersignature, as mb_countersign_sign gives it. */
bool mb_is_countersignature(struct mb_str bytes);

/* Records what the other side signed. typed: fields of the entry beside whichEntry, how, jws, role
 * (`by` is asked for). {as mb_record,"over":seq,"role","kid"} or, where it is recorded already,
 * {"already":seq}, and nothing is added. MB_REFUSED where the signature does not fit, is over no
 * entry of this ledger, or is by a key of this ledger's own. */
MB_CHECK enum mb_rc mb_countersign_record(mb_ledger *ledger, mb_arena *arena, const char *path,
                                          const struct mb_typed *typed, size_t count,
                                          const mb_json **out, struct mb_error *err);

#endif
