#include "digest.h"

#include <stdlib.h>
#include <string.h>

#include <openssl/evp.h>

struct mb_digest {
    EVP_MD_CTX *ctx;
};

static const struct {
    const char *name;
    size_t size;
} known[] = {
    { "md5", 16 },    { "sha1", 20 },   { "sha224", 28 },
    { "sha256", 32 }, { "sha384", 48 }, { "sha512", 64 },
};

size_t mb_digest_size(const char *name)
{
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strcmp(known[i].name, name) == 0)
            return known[i].size;
    return 0;
}

mb_digest *mb_digest_new(const char *name)
{
    const EVP_MD *algorithm = mb_digest_size(name) ? EVP_get_digestbyname(name) : NULL;
    mb_digest *digest;

    if (!algorithm)
        return NULL;
    digest = calloc(1, sizeof *digest);
    if (!digest)
        abort();
    digest->ctx = EVP_MD_CTX_new();
    if (!digest->ctx || EVP_DigestInit_ex(digest->ctx, algorithm, NULL) != 1)
        abort();
    return digest;
}

void mb_digest_add(mb_digest *digest, const void *bytes, size_t len)
{
    if (EVP_DigestUpdate(digest->ctx, bytes, len) != 1)
        abort();
}

void mb_digest_end(mb_digest *digest, uint8_t out[MB_DIGEST_MAX])
{
    uint8_t unused[EVP_MAX_MD_SIZE];

    if (!digest)
        return;
    if (EVP_DigestFinal_ex(digest->ctx, out ? out : unused, NULL) != 1)
        abort();
    EVP_MD_CTX_free(digest->ctx);
    free(digest);
}
