#include "bytes_of.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fileio.h"
#include "text.h"

static void must(bool holds, const char *text)
{
    if (!holds) {
        fprintf(stderr, "a table of this test holds what it may not: %s\n", text);
        abort();
    }
}

struct mb_str bytes_of_hex(mb_arena *arena, const char *hex)
{
    char *bytes = mb_arena_get(arena, strlen(hex) / 2 + 1);
    size_t len;

    must(mb_hex_read(mb_str_of(hex), bytes, &len), hex);
    return (struct mb_str){ bytes, len };
}

static void read_hex(const char *hex, void *out, size_t len)
{
    size_t got;

    must(strlen(hex) == 2 * len && mb_hex_read(mb_str_of(hex), out, &got) && got == len, hex);
}

struct mb_hash hash_of_hex(const char *hex)
{
    struct mb_hash hash;

    read_hex(hex, hash.b, sizeof hash.b);
    return hash;
}

struct mb_hash hash_of_base64(const char *text)
{
    struct mb_hash hash;

    must(mb_b64_read_exact(mb_str_of(text), hash.b, sizeof hash.b), text);
    return hash;
}

struct mb_key key_of_hex(const char *hex)
{
    struct mb_key key;

    read_hex(hex, key.b, sizeof key.b);
    return key;
}

struct mb_sig sig_of_hex(const char *hex)
{
    struct mb_sig sig;

    read_hex(hex, sig.b, sizeof sig.b);
    return sig;
}

mb_secret *secret_of_seed(unsigned first)
{
    uint8_t seed[32];

    must(mb_crypto_start(NULL) == MB_OK, "the system's randomness");
    for (unsigned i = 0; i < sizeof seed; i++)
        seed[i] = (uint8_t)(first + i);
    return mb_secret_from_seed(seed);
}

struct mb_str file_of_tree(mb_arena *arena, const char *path)
{
    struct mb_str bytes = { NULL, 0 };

    if (!mb_file_exists(path))
        return bytes;
    must(mb_file_read(arena, path, 64u << 20, &bytes, NULL) == MB_OK, path);
    return bytes;
}
