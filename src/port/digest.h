/*
 * Hashes by name, in pieces, by libcrypto: what bags and archives of other people are checked by
 * (RFC 8493). Only sha256 and sha512 keep a stranger from changing a file unseen; md5 and sha1 are
 * read because old bags have nothing else.
 */
#ifndef MB_DIGEST_H
#define MB_DIGEST_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

#define MB_DIGEST_MAX 64 /* bytes of the longest */

typedef struct mb_digest mb_digest;

/* md5, sha1, sha224, sha256, sha384, sha512; 0 bytes for another name. */
size_t mb_digest_size(const char *name);
/* NULL for another name. */
mb_digest *mb_digest_new(const char *name);
void mb_digest_add(mb_digest *digest, const void *bytes, size_t len);
/* Frees it. out may be NULL. */
void mb_digest_end(mb_digest *digest, uint8_t out[MB_DIGEST_MAX]);

#endif
