/*
 * Hex, base64, base64url and base32, read strictly: exactly one text stands for the given bytes
 * (no white space, no stray bits in the last character, padding where and only where the form asks
 * for it), so that a changed character is always noticed.
 */
#ifndef MB_CODEC_H
#define MB_CODEC_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

struct mb_hash {
    uint8_t b[32]; /* SHA-256 */
};

#define MB_HEX_LEN(n) (2 * (n))
#define MB_B64U_LEN(n) (((n)*4 + 2) / 3)       /* base64url without padding, RFC 4648 section 5 */
#define MB_B64_LEN(n) (((n) + 2) / 3 * 4)      /* base64 with padding, RFC 4648 section 4 */
#define MB_HASH_B64U_LEN MB_B64U_LEN(32)       /* 43 */
#define MB_HASH_B64_LEN MB_B64_LEN(32)         /* 44 */

/* Writers put the terminating zero too; out must hold the length above + 1. */
void mb_hex_write(char *out, const void *bytes, size_t len);
void mb_b64u_write(char *out, const void *bytes, size_t len);
void mb_b64_write(char *out, const void *bytes, size_t len);
struct mb_str mb_b64u(mb_arena *arena, const void *bytes, size_t len);
struct mb_str mb_b64(mb_arena *arena, const void *bytes, size_t len);

/* Readers: false if the text is not the one strict form; out holds at least text.len * 3 / 4 + 3
 * bytes (hex: text.len / 2); *len gets the number of bytes. */
bool mb_hex_read(struct mb_str text, void *out, size_t *len);
bool mb_b64u_read(struct mb_str text, void *out, size_t *len);
bool mb_b64_read(struct mb_str text, void *out, size_t *len);
bool mb_b64u_read_exact(struct mb_str text, void *out, size_t len); /* exactly len bytes */
bool mb_b64_read_exact(struct mb_str text, void *out, size_t len);

/* Base32, RFC 4648 section 6, in small letters without padding; for eyes and envelopes it is
 * printed in groups of four divided by spaces. Reading takes small and capital letters, spaces and
 * hyphens anywhere, and 0, 1 and 8 for o, l and b, which hands tend to write. */
struct mb_str mb_base32(mb_arena *arena, const void *bytes, size_t len, bool groups);
bool mb_base32_read_exact(struct mb_str text, void *out, size_t len);

bool mb_hash_equal(const struct mb_hash *a, const struct mb_hash *b);

#endif
