#include "sha256.h"

#include <pthread.h>
#include <stdlib.h>

#include <openssl/evp.h>

/* One context a thread, made once: fetching the algorithm each time costs more than the hash. */
static pthread_once_t once = PTHREAD_ONCE_INIT;
static pthread_key_t context_key;
static EVP_MD *algorithm;

static void free_context(void *context)
{
    EVP_MD_CTX_free(context);
}

static void free_all(void)
{
    EVP_MD_CTX_free(pthread_getspecific(context_key));
    pthread_setspecific(context_key, NULL);
    EVP_MD_free(algorithm);
}

static void set_up(void)
{
    algorithm = EVP_MD_fetch(NULL, "SHA256", NULL);
    if (!algorithm || pthread_key_create(&context_key, free_context) != 0)
        abort();
    atexit(free_all);
}

static EVP_MD_CTX *context(void)
{
    EVP_MD_CTX *ctx;

    pthread_once(&once, set_up);
    ctx = pthread_getspecific(context_key);
    if (!ctx) {
        ctx = EVP_MD_CTX_new();
        if (!ctx || pthread_setspecific(context_key, ctx) != 0)
            abort();
    }
    return ctx;
}

static void begin(EVP_MD_CTX *ctx)
{
    if (EVP_DigestInit_ex2(ctx, algorithm, NULL) != 1)
        abort();
}

static struct mb_hash end(EVP_MD_CTX *ctx)
{
    struct mb_hash hash;

    if (EVP_DigestFinal_ex(ctx, hash.b, NULL) != 1)
        abort();
    return hash;
}

struct mb_hash mb_sha256(const void *bytes, size_t len)
{
    EVP_MD_CTX *ctx = context();

    begin(ctx);
    EVP_DigestUpdate(ctx, bytes, len);
    return end(ctx);
}

struct mb_hash mb_sha256_str(struct mb_str s)
{
    return mb_sha256(s.at, s.len);
}

struct mb_hash mb_sha256_tagged(uint8_t tag, const void *a, size_t a_len, const void *b,
                                size_t b_len)
{
    EVP_MD_CTX *ctx = context();

    begin(ctx);
    EVP_DigestUpdate(ctx, &tag, 1);
    EVP_DigestUpdate(ctx, a, a_len);
    EVP_DigestUpdate(ctx, b, b_len);
    return end(ctx);
}

struct mb_hasher {
    EVP_MD_CTX *ctx;
};

mb_hasher *mb_hasher_new(void)
{
    mb_hasher *hasher = malloc(sizeof *hasher);

    context();
    if (!hasher || !(hasher->ctx = EVP_MD_CTX_new()))
        abort();
    begin(hasher->ctx);
    return hasher;
}

void mb_hasher_add(mb_hasher *hasher, const void *bytes, size_t len)
{
    EVP_DigestUpdate(hasher->ctx, bytes, len);
}

struct mb_hash mb_hasher_end(mb_hasher *hasher)
{
    struct mb_hash hash = end(hasher->ctx);

    EVP_MD_CTX_free(hasher->ctx);
    free(hasher);
    return hash;
}
