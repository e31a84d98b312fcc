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

/* HEADER.PAYLOAD.SIGNATURE in base64url, signed by `secret`. */
struct mb_str mb_jws_compact(mb_arena *arena, const mb_json *header, const mb_json *payload,
                             const mb_secret *secret);
/* The header or payload; NULL where it is no strict JSON object in base64url. */
const mb_json *mb_jws_part(mb_arena *arena, struct mb_str b64);
/* With a header {"alg","kid","typ"}. */
struct mb_str mb_jws_sign(mb_arena *arena, const char *typ, const mb_json *payload,
                          const mb_secret *secret);
/* MB_REFUSED where it is malformed or of another type; the signature is not checked. */
MB_CHECK enum mb_rc mb_jws_read(mb_arena *arena, struct mb_str text, const char *typ,
                                struct mb_jws *out, struct mb_error *err);

#endif
