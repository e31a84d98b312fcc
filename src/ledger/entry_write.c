/* Writing an entry: the only place where payloads, salts and disclosures are made. */
#include "entry.h"

#include <stdlib.h>
#include <string.h>

#include "sha256.h"
#include "text.h"

struct tail {
    mb_arena *arena;
    struct mb_str *texts;
    size_t count;
};

struct mb_str mb_disclosure_make(mb_arena *arena, const char *name, const mb_json *value,
                                 struct mb_hash *digest)
{
    mb_json *array = mb_json_array(arena);
    uint8_t salt[16];
    struct mb_str json, text;

    mb_random(salt, sizeof salt);
    mb_json_add(array, mb_json_string_str(arena, mb_b64u(arena, salt, sizeof salt)));
    if (name)
        mb_json_add_text(arena, array, name);
    mb_json_add(array, mb_json_copy(arena, value));
    json = mb_json_write(arena, array);
    text = mb_b64u(arena, json.at, json.len);
    *digest = mb_sha256_str(text);
    return text;
}

/* Keeps a disclosure and returns its digest as text. */
static struct mb_str keep(struct tail *tail, struct mb_str text, const struct mb_hash *digest)
{
    tail->texts[tail->count++] = text;
    return mb_b64u(tail->arena, digest->b, sizeof digest->b);
}

/* Salts a value and keeps its disclosure; name NULL for a list element. Returns the digest. */
static struct mb_str disclose(struct tail *tail, const char *name, const mb_json *value)
{
    struct mb_hash digest;
    struct mb_str text = mb_disclosure_make(tail->arena, name, value, &digest);

    return keep(tail, text, &digest);
}

static mb_json *salt_elements(struct tail *tail, const mb_json *list)
{
    mb_json *salted = mb_json_array(tail->arena);

    MB_JSON_EACH(child, list)
    {
        mb_json *element = mb_json_object(tail->arena);

        mb_json_put(tail->arena, element, "...",
                    mb_json_string_str(tail->arena, disclose(tail, NULL, child)));
        mb_json_add(salted, element);
    }
    return salted;
}

static int by_text(const void *a, const void *b)
{
    return mb_str_compare(*(const struct mb_str *)a, *(const struct mb_str *)b);
}

static mb_json *class_object(mb_arena *arena, struct mb_str *digests, size_t count)
{
    mb_json *object = mb_json_object(arena), *list = mb_json_array(arena);

    qsort(digests, count, sizeof *digests, by_text);
    for (size_t i = 0; i < count; i++)
        mb_json_add(list, mb_json_string_str(arena, digests[i]));
    mb_json_put(arena, object, "_sd", list);
    return object;
}

static struct mb_str keep_made(struct tail *tail, struct mb_str text)
{
    struct mb_hash digest = mb_sha256_str(text);

    return keep(tail, text, &digest);
}

static mb_json *make_body(struct tail *tail, const struct mb_draft *draft)
{
    mb_arena *arena = tail->arena;
    mb_json *body = mb_json_object(arena);
    struct mb_str *digests = MB_ARRAY(arena, draft->count + 1, struct mb_str);

    for (int in = MB_OPEN; in < MB_CLASS_COUNT; in++) {
        size_t count = 0;

        for (size_t i = 0; i < draft->count; i++) {
            const struct mb_field *field = &draft->fields[i];
            const mb_json *value = field->value;

            if ((int)field->in != in)
                continue;
            if (field->salted && mb_json_is(value, MB_JSON_ARRAY))
                value = salt_elements(tail, value);
            if (in == MB_OPEN)
                mb_json_put(arena, body, field->name, mb_json_copy(arena, value));
            else if (field->made.at)
                digests[count++] = keep_made(tail, field->made);
            else
                digests[count++] = disclose(tail, field->name, value);
        }
        if (count)
            mb_json_put(arena, body, mb_class_name[in], class_object(arena, digests, count));
    }
    return body;
}

static size_t disclosures_in(const struct mb_draft *draft)
{
    size_t count = 0;

    for (size_t i = 0; i < draft->count; i++)
        count += 1 + (draft->fields[i].salted ? draft->fields[i].value->count : 0);
    return count;
}

static void put_hash(mb_arena *arena, mb_json *object, const char *name,
                     const struct mb_hash *hash)
{
    if (hash)
        mb_json_put(arena, object, name,
                    mb_json_string_str(arena, mb_b64u(arena, hash->b, sizeof hash->b)));
}

static struct mb_str header_of(mb_arena *arena, const mb_secret *secret)
{
    mb_json *header = mb_json_object(arena);
    char kid[MB_THUMBPRINT_LEN + 1];

    mb_thumbprint(mb_secret_key(secret), kid);
    mb_json_put_text(arena, header, "alg", "EdDSA");
    mb_json_put_text(arena, header, "kid", kid);
    mb_json_put_text(arena, header, "typ", MB_ENTRY_TYPE);
    return mb_json_write(arena, header);
}

static struct mb_str payload_of(mb_arena *arena, const struct mb_draft *draft, mb_json *body)
{
    mb_json *payload = mb_json_object(arena);

    mb_json_put_text(arena, payload, "_sd_alg", "sha-256");
    mb_json_put(arena, payload, "body", body);
    mb_json_put_int(arena, payload, "iat", draft->iat);
    mb_json_put(arena, payload, "iss", mb_json_string_str(arena, draft->iss));
    mb_json_put_text(arena, payload, "kind", draft->kind);
    mb_json_put_int(arena, payload, "nth", draft->nth);
    put_hash(arena, payload, "prev", draft->prev);
    put_hash(arena, payload, "prior", draft->prior);
    mb_json_put_int(arena, payload, "seq", draft->seq);
    mb_json_put_text(arena, payload, "sub", draft->sub);
    mb_json_put_int(arena, payload, "v", 1);
    return mb_json_write(arena, payload);
}

static struct mb_str join_tail(const struct tail *tail)
{
    size_t len = 0;
    char *text, *at;

    for (size_t i = 0; i < tail->count; i++)
        len += tail->texts[i].len + 1;
    at = text = mb_arena_get(tail->arena, len + 1);
    for (size_t i = 0; i < tail->count; i++) {
        memcpy(at, tail->texts[i].at, tail->texts[i].len);
        at += tail->texts[i].len;
        *at++ = '~';
    }
    return (struct mb_str){ text, len };
}

enum mb_rc mb_entry_write(mb_arena *arena, const struct mb_draft *draft, const mb_secret *secret,
                          struct mb_str *jws, struct mb_str *tail_out, struct mb_error *err)
{
    struct tail tail = { .arena = arena };
    struct mb_str header = header_of(arena, secret), payload, text;
    struct mb_sig sig;
    char *at;

    tail.texts = MB_ARRAY(arena, disclosures_in(draft) + 1, struct mb_str);
    payload = payload_of(arena, draft, make_body(&tail, draft));
    for (size_t i = 0; i < tail.count; i++)
        if (tail.texts[i].len > MB_DISCLOSURE_MAX)
            return mb_fail(err, MB_REFUSED, "one field is longer than 1 MiB; attach it as a file");
    text.len = MB_B64U_LEN(header.len) + 1 + MB_B64U_LEN(payload.len);
    at = mb_arena_get(arena, text.len + 1 + MB_B64U_LEN(sizeof sig.b) + 1);
    text.at = at;
    mb_b64u_write(at, header.at, header.len);
    at[MB_B64U_LEN(header.len)] = '.';
    mb_b64u_write(at + MB_B64U_LEN(header.len) + 1, payload.at, payload.len);
    mb_sign(secret, text, &sig);
    at[text.len] = '.';
    mb_b64u_write(at + text.len + 1, sig.b, sizeof sig.b);
    *jws = (struct mb_str){ at, text.len + 1 + MB_B64U_LEN(sizeof sig.b) };
    if (jws->len > MB_ENTRY_MAX)
        return mb_fail(err, MB_REFUSED,
                       "the entry grows to %zu bytes, more than 65,535: divide it into several",
                       jws->len);
    *tail_out = join_tail(&tail);
    return MB_OK;
}
