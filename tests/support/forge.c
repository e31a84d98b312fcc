#include "forge.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "sha256.h"
#include "text.h"

const char *forge_header(mb_arena *arena, const mb_secret *secret)
{
    char kid[MB_THUMBPRINT_LEN + 1];

    mb_thumbprint(mb_secret_key(secret), kid);
    return mb_arena_printf(arena,
                           "{\"alg\":\"EdDSA\",\"kid\":\"%s\",\"typ\":\"" MB_ENTRY_TYPE "\"}", kid);
}

struct mb_str forge_jws(mb_arena *arena, const mb_secret *secret, const char *header,
                        struct mb_str payload)
{
    struct mb_str head = mb_b64u(arena, header, strlen(header));
    struct mb_str body = mb_b64u(arena, payload.at, payload.len), tail;
    const char *text = mb_arena_printf(arena, "%.*s.%.*s", MB_STR_ARG(head), MB_STR_ARG(body));
    struct mb_sig sig;

    mb_sign(secret, mb_str_of(text), &sig);
    tail = mb_b64u(arena, sig.b, sizeof sig.b);
    return mb_str_of(mb_arena_printf(arena, "%s.%.*s", text, MB_STR_ARG(tail)));
}

const char *forge_payload(mb_arena *arena, const char *body)
{
    return mb_arena_printf(arena,
                           "{\"_sd_alg\":\"sha-256\",\"body\":%s,\"iat\":1767225600,"
                           "\"iss\":\"ledger.example\",\"kind\":\"party\",\"nth\":0,"
                           "\"prev\":\"FzvaGhyH5-QLHYXyf9-VCi4PtLrU3qROnMsSzrmYaCQ\",\"seq\":7,"
                           "\"sub\":\"party/P001\",\"v\":1}",
                           body);
}

const char *forge_disclosure(mb_arena *arena, const char *json)
{
    struct mb_str text = mb_b64u(arena, json, strlen(json));

    return mb_arena_copy(arena, text.at, text.len);
}

const char *forge_digest(mb_arena *arena, const char *disclosure)
{
    struct mb_hash digest = mb_sha256_str(mb_str_of(disclosure));
    struct mb_str text = mb_b64u(arena, digest.b, sizeof digest.b);

    return mb_arena_copy(arena, text.at, text.len);
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

const char *forge_class(mb_arena *arena, ...)
{
    const char *digests[16], *list = "";
    size_t count = 0;
    va_list args;

    va_start(args, arena);
    for (const char *d; (d = va_arg(args, const char *)) && count < 16;)
        digests[count++] = forge_digest(arena, d);
    va_end(args);
    qsort(digests, count, sizeof *digests, by_text);
    for (size_t i = 0; i < count; i++)
        list = mb_arena_printf(arena, "%s%s\"%s\"", list, i ? "," : "", digests[i]);
    return mb_arena_printf(arena, "{\"_sd\":[%s]}", list);
}
