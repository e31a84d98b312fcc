/* Entries and disclosures as somebody else could make them: whatever stands in header and payload,
 * signed properly. For showing what the reader refuses, and what another writer may write. */
#ifndef MB_FORGE_H
#define MB_FORGE_H

#include "entry.h"

/* {"alg":"EdDSA","kid":...,"typ":"markerbed-entry+sd-jwt"} for this key. */
const char *forge_header(mb_arena *arena, const mb_secret *secret);
/* base64url(header).base64url(payload).signature */
struct mb_str forge_jws(mb_arena *arena, const mb_secret *secret, const char *header,
                        struct mb_str payload);
/* The payload of an entry with this body, on party/P001, seq 7 of ledger.example. */
const char *forge_payload(mb_arena *arena, const char *body);
/* base64url(json), and the base64url digest of such a text. */
const char *forge_disclosure(mb_arena *arena, const char *json);
const char *forge_digest(mb_arena *arena, const char *disclosure);
/* {"_sd":[the digests of these disclosures, sorted]}; the list ends with NULL. */
const char *forge_class(mb_arena *arena, ...);

#endif
