/*
 * SHA-256 (FIPS 180-4) by libcrypto, whose code uses the processor's own instructions: four times
 * the speed of libsodium's here, and hashing is what a verifier does most after signatures.
 * Every function may be called from any thread.
 */
#ifndef MB_SHA256_H
#define MB_SHA256_H

#include <stdint.h>

#include <markerbed/arena.h>

#include "codec.h"

struct mb_hash mb_sha256(const void *bytes, size_t len);
struct mb_hash mb_sha256_str(struct mb_str s);
/* prefix byte, then the parts in order: the leaf and node hashes of RFC 6962. */
struct mb_hash mb_sha256_tagged(uint8_t tag, const void *a, size_t a_len, const void *b,
                                size_t b_len);

/* In pieces, for files that do not fit in memory. */
typedef struct mb_hasher mb_hasher;
mb_hasher *mb_hasher_new(void);
void mb_hasher_add(mb_hasher *hasher, const void *bytes, size_t len);
struct mb_hash mb_hasher_end(mb_hasher *hasher); /* frees it */

#endif
