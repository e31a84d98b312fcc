/* Small signed texts beside the log (a list of withdrawals): compact JWS with Ed25519, header
 * {"alg","kid","typ"} and a JSON payload. Entries have their own reader: entry.h. */
#ifndef MB_JWS_H
#define MB_JWS_H

#include "entry.h"

struct mb_jws {
    struct mb_str signed_part;
    struct mb_sig sig;
    struct mb_str kid;
    const mb_json *payload;
};

struct mb_str mb_jws_sign(mb_arena *arena, const char *typ, const mb_json *payload,
                          const mb_secret *secret);
/* MB_REFUSED where it is malformed or of another type; the signature is not checked. */
MB_CHECK enum mb_rc mb_jws_read(mb_arena *arena, struct mb_str text, const char *typ,
                                struct mb_jws *out, struct mb_error *err);

#endif
