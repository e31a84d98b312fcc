/* The trust file: which ledgers the reader has decided to know, by their fingerprints. */
#ifndef MB_TRUST_H
#define MB_TRUST_H

#include "codec.h"

struct mb_trusted {
    struct mb_str origin;
    struct mb_hash fingerprint;
};

struct mb_trust {
    struct mb_trusted *ledgers;
    size_t count;
    struct mb_str *keys; /* thumbprints of keys whose countersignature counts */
    size_t key_count;
};

enum mb_trust_answer { MB_TRUST_UNKNOWN, MB_TRUST_KNOWN, MB_TRUST_OTHER };

/* Lines "ledger ORIGIN FINGERPRINT" (the fingerprint in base32, groups or not, or base64url) and
 * "key THUMBPRINT" (of a person without a ledger), which may be followed by a name; empty lines and
 * lines beginning with # are passed over. MB_REFUSED with file and line. */
MB_CHECK enum mb_rc mb_trust_read(mb_arena *arena, const char *path, struct mb_trust *out,
                                  struct mb_error *err);
/* MB_TRUST_OTHER: the name is known, with another fingerprint. */
enum mb_trust_answer mb_trust_of(const struct mb_trust *trust, struct mb_str origin,
                                 const struct mb_hash *fingerprint);

#endif
