/*
 * Reading an entry. The rules, each of which closes a way to make two readers disagree:
 *   1. The header has alg, kid and typ and nothing else; `crit` is never understood.
 *   2. The payload has the members of docs/format.md section 2 and nothing else.
 *   3. A class object is {"_sd":[digests]} with the digests sorted and each met once.
 *   4. {"...":digest} stands only as an element of a list that is itself a field's whole value.
 *   5. A field's name is met once over the whole body, shown or open.
 */
#include "entry.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "merkle.h"
#include "note.h"
#include "sha256.h"
#include "text.h"

const char *const mb_class_name[MB_CLASS_COUNT] = { "open", "sale",    "science",
                                                    "land", "private", "own" };

bool mb_class_of(struct mb_str name, enum mb_class *out)
{
    for (int i = 0; i < MB_CLASS_COUNT; i++)
        if (mb_str_is(name, mb_class_name[i])) {
            *out = (enum mb_class)i;
            return true;
        }
    return false;
}

static enum mb_rc bad(struct mb_error *err, const char *what)
{
    return mb_fail(err, MB_REFUSED, "the entry is malformed: %s", what);
}

static enum mb_rc read_header(mb_arena *arena, struct mb_str b64, struct mb_entry *out,
                              struct mb_error *err)
{
    char *bytes = mb_arena_get(arena, b64.len + 4);
    const mb_json *header;
    const mb_json *alg;
    uint8_t thumbprint[64];
    size_t len;
    enum mb_rc rc;

    if (!mb_b64u_read(b64, bytes, &len))
        return bad(err, "its header is not base64url");
    rc = mb_json_read(arena, (struct mb_str){ bytes, len }, MB_JSON_STRICT, &header, err);
    if (rc) {
        mb_fail_where(err, "the entry's header");
        return rc;
    }
    if (mb_json_get(header, "crit"))
        return mb_fail(err, MB_UNABLE, "the entry's header asks for an extension ('crit')");
    alg = mb_json_get(header, "alg");
    if (!mb_json_is(alg, MB_JSON_STRING))
        return bad(err, "its header names no algorithm");
    if (!mb_json_text_is(alg, "EdDSA") && !mb_json_text_is(alg, "Ed25519"))
        return mb_fail(err, MB_UNABLE, "the entry is signed with '%.*s', not with Ed25519",
                       MB_STR_ARG(alg->text));
    if (!mb_json_text_is(mb_json_get(header, "typ"), MB_ENTRY_TYPE))
        return bad(err, "its header's typ is not " MB_ENTRY_TYPE);
    out->kid = mb_json_str(mb_json_get(header, "kid"));
    if (out->kid.len != MB_THUMBPRINT_LEN || !mb_b64u_read_exact(out->kid, thumbprint, 32)
        || header->count != 3)
        return bad(err, "its header is not alg, kid and typ");
    return MB_OK;
}

static bool digest_of(const mb_json *value, struct mb_hash *out)
{
    return mb_json_is(value, MB_JSON_STRING)
           && mb_b64u_read_exact(value->text, out->b, sizeof out->b);
}

static bool is_hidden_element(const mb_json *value)
{
    return mb_json_is(value, MB_JSON_OBJECT) && value->count == 1
           && mb_str_is(value->first->name, "...");
}

/* Rule 4: no "_sd" and no "..." anywhere inside. */
static bool is_plain(const mb_json *value)
{
    if (value->type != MB_JSON_OBJECT && value->type != MB_JSON_ARRAY)
        return true;
    MB_JSON_EACH(child, value)
    {
        if (value->type == MB_JSON_OBJECT
            && (mb_str_is(child->name, "_sd") || mb_str_is(child->name, "...")))
            return false;
        if (!is_plain(child))
            return false;
    }
    return true;
}

/* A field's value: plain, or a list in which elements may be hidden. *hidden counts them. */
static bool is_field_value(const mb_json *value, size_t *hidden)
{
    *hidden = 0;
    if (value->type != MB_JSON_ARRAY)
        return is_plain(value);
    MB_JSON_EACH(child, value)
    {
        struct mb_hash digest;

        if (!is_hidden_element(child)) {
            if (!is_plain(child))
                return false;
        } else if (!digest_of(child->first, &digest)) {
            return false;
        } else {
            ++*hidden;
        }
    }
    return true;
}

static void add_elements(struct mb_entry *out, const mb_json *list, enum mb_class in)
{
    MB_JSON_EACH(child, list)
    {
        if (is_hidden_element(child)) {
            struct mb_slot *slot = &out->slots[out->slot_count++];

            *slot = (struct mb_slot){ .in = in, .shown = -1, .element = true };
            digest_of(child->first, &slot->digest);
        }
    }
}

static enum mb_rc read_class(struct mb_entry *out, const mb_json *object, enum mb_class in,
                             struct mb_error *err)
{
    const mb_json *list = mb_json_get(object, "_sd");
    struct mb_str before = { NULL, 0 };

    if (object->type != MB_JSON_OBJECT || object->count != 1 || !mb_json_is(list, MB_JSON_ARRAY)
        || list->count == 0)
        return bad(err, "a class of its body is not a list of digests");
    MB_JSON_EACH(item, list)
    {
        struct mb_slot *slot = &out->slots[out->slot_count++];

        *slot = (struct mb_slot){ .in = in, .shown = -1 };
        if (!digest_of(item, &slot->digest))
            return bad(err, "a digest of its body is not 32 bytes of base64url");
        if (before.at && mb_str_compare(before, item->text) >= 0)
            return bad(err, "the digests of its body are not sorted, or one stands twice");
        before = item->text;
    }
    return MB_OK;
}

static size_t count_slots(const mb_json *body)
{
    size_t count = 0;

    MB_JSON_EACH(member, body)
    {
        const mb_json *list = mb_json_get(member, "_sd");

        count += list ? list->count : member->count;
    }
    return count;
}

/* The first eight bytes tell almost all digests apart, without a call. */
static uint64_t front(const struct mb_hash *hash)
{
    uint64_t out;

    memcpy(&out, hash->b, sizeof out);
    return out;
}

static int by_digest(const void *a, const void *b)
{
    return memcmp(*(const struct mb_hash *const *)a, *(const struct mb_hash *const *)b,
                  sizeof(struct mb_hash));
}

/* Entries of people have some dozen slots, and looking at every pair is quickest; a division or a
 * hostile entry has thousands, and is sorted. */
#define FEW_SLOTS 48

static bool few_differ(const struct mb_entry *entry)
{
    for (size_t i = 1; i < entry->slot_count; i++) {
        uint64_t mine = front(&entry->slots[i].digest);

        for (size_t j = 0; j < i; j++)
            if (front(&entry->slots[j].digest) == mine
                && mb_hash_equal(&entry->slots[j].digest, &entry->slots[i].digest))
                return false;
    }
    return true;
}

/* Rule 3 over the whole entry: RFC 9901 section 7.1 step 4 refuses a digest that stands twice. */
static bool digests_differ(mb_arena *arena, const struct mb_entry *entry)
{
    const struct mb_hash **sorted;

    if (entry->slot_count <= FEW_SLOTS)
        return few_differ(entry);
    sorted = MB_ARRAY(arena, entry->slot_count, const struct mb_hash *);
    for (size_t i = 0; i < entry->slot_count; i++)
        sorted[i] = &entry->slots[i].digest;
    qsort(sorted, entry->slot_count, sizeof *sorted, by_digest);
    for (size_t i = 1; i < entry->slot_count; i++)
        if (mb_hash_equal(sorted[i - 1], sorted[i]))
            return false;
    return true;
}

static enum mb_rc read_body(mb_arena *arena, struct mb_entry *out, struct mb_error *err)
{
    if (!mb_json_is(out->body, MB_JSON_OBJECT))
        return bad(err, "it has no body");
    out->slots = MB_ARRAY(arena, count_slots(out->body) + 1, struct mb_slot);
    MB_JSON_EACH(member, out->body)
    {
        enum mb_class in;
        size_t hidden;
        enum mb_rc rc;

        if (mb_class_of(member->name, &in)) {
            if (in == MB_OPEN)
                return bad(err, "its body has a class 'open'");
            rc = read_class(out, member, in, err);
            if (rc)
                return rc;
        } else if (mb_str_is(member->name, "_sd") || mb_str_is(member->name, "...")
                   || !is_field_value(member, &hidden)) {
            return bad(err, "its body uses '_sd' or '...' where it may not stand");
        } else if (hidden) {
            add_elements(out, member, MB_OPEN);
        }
    }
    if (!digests_differ(arena, out))
        return bad(err, "a digest of its body stands twice");
    return MB_OK;
}

static bool kind_ok(struct mb_str kind)
{
    if (kind.len < 2 || kind.len > 40)
        return false;
    for (size_t i = 0; i < kind.len; i++)
        if ((kind.at[i] < 'a' || kind.at[i] > 'z') && kind.at[i] != '-')
            return false;
    return true;
}

bool mb_subject_ok(struct mb_str subject)
{
    struct mb_str prefix, id;
    uint8_t bytes[64];

    if (mb_str_is(subject, "ledger"))
        return true;
    if (!mb_str_cut(subject, '/', &prefix, &id) || !kind_ok(prefix))
        return false;
    if (mb_str_is(prefix, "key"))
        return id.len == MB_THUMBPRINT_LEN && mb_b64u_read_exact(id, bytes, 32);
    return mb_id_ok(id);
}

static bool link_of(const mb_json *payload, const char *name, bool *has, struct mb_hash *out)
{
    const mb_json *link = mb_json_get(payload, name);

    *has = link != NULL;
    return !link || digest_of(link, out);
}

static enum mb_rc read_payload(mb_arena *arena, struct mb_str b64, struct mb_entry *out,
                               struct mb_error *err)
{
    char *bytes = mb_arena_get(arena, b64.len + 4);
    const mb_json *payload;
    size_t len;
    enum mb_rc rc;

    if (!mb_b64u_read(b64, bytes, &len))
        return bad(err, "its payload is not base64url");
    rc = mb_json_read(arena, (struct mb_str){ bytes, len }, MB_JSON_STRICT, &payload, err);
    if (rc) {
        mb_fail_where(err, "the entry's payload");
        return rc;
    }
    if (!mb_json_is(mb_json_get(payload, "v"), MB_JSON_INTEGER))
        return bad(err, "it has no version");
    if (mb_json_int(mb_json_get(payload, "v"), 0) != 1)
        return mb_fail(err, MB_UNABLE, "the entry is of version %lld; this program knows version 1",
                       (long long)mb_json_int(mb_json_get(payload, "v"), 0));
    if (mb_json_is(mb_json_get(payload, "_sd_alg"), MB_JSON_STRING)
        && !mb_json_text_is(mb_json_get(payload, "_sd_alg"), "sha-256"))
        return mb_fail(err, MB_UNABLE, "the entry's digests are not SHA-256");
    out->iss = mb_json_str(mb_json_get(payload, "iss"));
    out->sub = mb_json_str(mb_json_get(payload, "sub"));
    out->kind = mb_json_str(mb_json_get(payload, "kind"));
    out->iat = mb_json_int(mb_json_get(payload, "iat"), -1);
    out->seq = mb_json_int(mb_json_get(payload, "seq"), -1);
    out->nth = mb_json_int(mb_json_get(payload, "nth"), -1);
    out->body = mb_json_get(payload, "body");
    if (!link_of(payload, "prev", &out->has_prev, &out->prev)
        || !link_of(payload, "prior", &out->has_prior, &out->prior))
        return bad(err, "a link to an earlier entry is not 32 bytes of base64url");
    if (!mb_json_is(mb_json_get(payload, "_sd_alg"), MB_JSON_STRING) || !mb_origin_ok(out->iss)
        || !mb_subject_ok(out->sub) || !kind_ok(out->kind) || out->iat < 0 || out->seq < 0
        || out->nth < 0
        || payload->count != 9u + out->has_prev + out->has_prior)
        return bad(err, "its payload does not have the members that the format asks for");
    return read_body(arena, out, err);
}

struct slot_index {
    const struct mb_hash *digest;
    int slot;
};

/* NULL where there are few: find_slot looks through them. */
static struct slot_index *index_slots(mb_arena *arena, const struct mb_entry *entry)
{
    struct slot_index *index;

    if (entry->slot_count <= FEW_SLOTS)
        return NULL;
    index = MB_ARRAY(arena, entry->slot_count, struct slot_index);
    for (size_t i = 0; i < entry->slot_count; i++)
        index[i] = (struct slot_index){ &entry->slots[i].digest, (int)i };
    qsort(index, entry->slot_count, sizeof *index, by_digest);
    return index;
}

static int find_slot(const struct mb_entry *entry, const struct slot_index *index,
                     const struct mb_hash *digest)
{
    struct slot_index key = { digest, 0 }, *found;

    if (!index) {
        uint64_t mine = front(digest);

        for (size_t i = 0; i < entry->slot_count; i++)
            if (front(&entry->slots[i].digest) == mine
                && mb_hash_equal(&entry->slots[i].digest, digest))
                return (int)i;
        return -1;
    }
    found = bsearch(&key, index, entry->slot_count, sizeof *index, by_digest);
    return found ? found->slot : -1;
}

static const struct mb_disclosure *shown_in(const struct mb_entry *entry, int slot)
{
    return &entry->disclosures[entry->slots[slot].shown];
}

/* A list as a reader sees it: shown elements in their places, hidden ones gone. */
static mb_json *fill_list(mb_arena *arena, const struct mb_entry *entry,
                          const struct slot_index *index, const mb_json *list)
{
    mb_json *full = mb_json_array(arena);

    full->name = list->name;
    MB_JSON_EACH(child, list)
    {
        struct mb_hash digest;
        int slot;

        if (!is_hidden_element(child)) {
            mb_json_add(full, mb_json_copy(arena, child));
            continue;
        }
        digest_of(child->first, &digest);
        slot = find_slot(entry, index, &digest);
        if (slot >= 0 && entry->slots[slot].shown >= 0)
            mb_json_add(full, mb_json_copy(arena, shown_in(entry, slot)->value));
    }
    return full;
}

static bool has_hidden(const mb_json *value)
{
    size_t hidden;

    return is_field_value(value, &hidden) && hidden;
}

static void fill_lists(mb_arena *arena, struct mb_entry *entry)
{
    const struct slot_index *index = NULL; /* made when the first list asks for it */

    entry->lists = NULL;
    MB_JSON_EACH(member, entry->body)
    {
        if (!has_hidden(member))
            continue;
        if (!index)
            index = index_slots(arena, entry);
        if (!entry->lists)
            entry->lists = mb_json_object(arena);
        mb_json_add(entry->lists, fill_list(arena, entry, index, member));
    }
    for (size_t i = 0; i < entry->disclosure_count; i++) {
        struct mb_disclosure *d = &entry->disclosures[i];

        if (!d->name.at || d->slot < 0 || !has_hidden(d->value))
            continue;
        if (!index)
            index = index_slots(arena, entry);
        d->value = fill_list(arena, entry, index, d->value);
    }
}

enum mb_rc mb_entry_read(mb_arena *arena, struct mb_str jws, struct mb_entry *out,
                         struct mb_error *err)
{
    struct mb_entry entry = { .jws = jws };
    struct mb_str header, rest, payload, sig;
    enum mb_rc rc;

    if (jws.len > MB_ENTRY_MAX)
        return bad(err, "it is longer than 65,535 bytes");
    if (!mb_str_cut(jws, '.', &header, &rest) || !mb_str_cut(rest, '.', &payload, &sig))
        return bad(err, "it is not header.payload.signature");
    if (!mb_b64u_read_exact(sig, entry.sig.b, sizeof entry.sig.b))
        return bad(err, "its signature is not 64 bytes of base64url");
    entry.signed_part = (struct mb_str){ jws.at, header.len + 1 + payload.len };
    rc = read_header(arena, header, &entry, err);
    if (!rc)
        rc = read_payload(arena, payload, &entry, err);
    if (rc)
        return rc;
    fill_lists(arena, &entry);
    entry.leaf = mb_leaf_hash(jws);
    *out = entry;
    return MB_OK;
}

/* As a member's name in clear: printable ASCII, and no word that the body has for itself. */
static bool field_name_ok(struct mb_str name)
{
    enum mb_class in;

    for (size_t i = 0; i < name.len; i++)
        if (name.at[i] < 0x20 || name.at[i] > 0x7e)
            return false;
    return name.len > 0 && !mb_str_is(name, "_sd") && !mb_str_is(name, "...")
           && !mb_class_of(name, &in);
}

static enum mb_rc read_disclosure(mb_arena *arena, struct mb_str text, struct mb_disclosure *out,
                                  struct mb_error *err)
{
    char *bytes = mb_arena_get(arena, text.len + 4);
    const mb_json *array, *last;
    size_t len, hidden;
    enum mb_rc rc;

    if (text.len > MB_DISCLOSURE_MAX)
        return bad(err, "a disclosure is longer than 1 MiB");
    if (!mb_b64u_read(text, bytes, &len))
        return bad(err, "a disclosure is not base64url");
    rc = mb_json_read(arena, (struct mb_str){ bytes, len }, MB_JSON_STRICT, &array, err);
    if (rc) {
        mb_fail_where(err, "a disclosure of the entry");
        return rc;
    }
    if (!mb_json_is(array, MB_JSON_ARRAY) || array->count < 2 || array->count > 3)
        return bad(err, "a disclosure is not [salt, name, value] or [salt, value]");
    *out = (struct mb_disclosure){ .text = text, .digest = mb_sha256_str(text), .slot = -1 };
    out->salt = mb_json_str(array->first);
    last = array->first->next;
    if (array->count == 3) {
        out->name = mb_json_str(last);
        last = last->next;
        if (!field_name_ok(out->name))
            return bad(err, "a disclosure has no proper name");
    }
    out->value = last;
    if (out->salt.len == 0 || !(out->name.at ? is_field_value(last, &hidden) : is_plain(last)))
        return bad(err, "a disclosure has no salt, or uses '_sd' or '...' where it may not stand");
    return MB_OK;
}

/* Ties the disclosures to their slots; false if one that fits is of the wrong shape for its slot
 * or was given before. */
static bool match(mb_arena *arena, struct mb_entry *entry, bool elements)
{
    struct slot_index *index = index_slots(arena, entry);

    for (size_t i = 0; i < entry->disclosure_count; i++) {
        struct mb_disclosure *d = &entry->disclosures[i];
        int slot;

        if (d->slot >= 0 || !d->name.at != elements)
            continue;
        slot = find_slot(entry, index, &d->digest);
        if (slot < 0)
            continue;
        if (entry->slots[slot].shown >= 0 || entry->slots[slot].element != elements)
            return false;
        entry->slots[slot].shown = (int)i;
        d->slot = slot;
    }
    return true;
}

/* Lists salted one by one inside shown fields bring slots of their own. */
static bool open_lists(mb_arena *arena, struct mb_entry *entry)
{
    size_t more = 0, hidden;
    struct mb_slot *slots;

    for (size_t i = 0; i < entry->disclosure_count; i++)
        if (entry->disclosures[i].slot >= 0 && entry->disclosures[i].name.at
            && is_field_value(entry->disclosures[i].value, &hidden))
            more += hidden;
    if (!more)
        return true;
    slots = MB_ARRAY(arena, entry->slot_count + more, struct mb_slot);
    memcpy(slots, entry->slots, entry->slot_count * sizeof *slots);
    entry->slots = slots;
    for (size_t i = 0; i < entry->disclosure_count; i++)
        if (entry->disclosures[i].slot >= 0 && entry->disclosures[i].name.at)
            add_elements(entry, entry->disclosures[i].value,
                         entry->slots[entry->disclosures[i].slot].in);
    return digests_differ(arena, entry);
}

static bool names_differ(const struct mb_entry *entry)
{
    for (size_t i = 0; i < entry->disclosure_count; i++) {
        struct mb_str name = entry->disclosures[i].name;

        if (!name.at || entry->disclosures[i].slot < 0)
            continue;
        if (mb_json_get_str(entry->body, name))
            return false;
        for (size_t j = 0; j < i; j++)
            if (entry->disclosures[j].name.len == name.len
                && entry->disclosures[j].name.at[0] == name.at[0]
                && entry->disclosures[j].slot >= 0
                && mb_str_equal(entry->disclosures[j].name, name))
                return false;
    }
    return true;
}

enum mb_rc mb_entry_disclose(mb_arena *arena, struct mb_entry *entry, struct mb_str tail,
                             struct mb_error *err)
{
    size_t count = 0, n = 0;

    if (tail.len && tail.at[tail.len - 1] != '~')
        return bad(err, "its disclosures do not end with '~'");
    for (size_t i = 0; i < tail.len; i++)
        count += tail.at[i] == '~';
    entry->disclosures = MB_ARRAY(arena, count + 1, struct mb_disclosure);
    for (struct mb_str text; tail.len;) {
        enum mb_rc rc;

        mb_str_cut(tail, '~', &text, &tail);
        rc = read_disclosure(arena, text, &entry->disclosures[n++], err);
        if (rc)
            return rc;
    }
    entry->disclosure_count = n;
    if (!match(arena, entry, false) || !open_lists(arena, entry) || !match(arena, entry, true))
        return bad(err, "a disclosure stands twice or in a place of another shape");
    if (!names_differ(entry))
        return bad(err, "two of its fields have the same name");
    fill_lists(arena, entry);
    return MB_OK;
}

enum mb_rc mb_entry_read_sd(mb_arena *arena, struct mb_str sd_jwt, struct mb_entry *out,
                            struct mb_error *err)
{
    struct mb_entry entry;
    struct mb_str jws, tail;
    enum mb_rc rc;

    if (!mb_str_cut(sd_jwt, '~', &jws, &tail))
        return bad(err, "there is no '~' behind its signature");
    rc = mb_entry_read(arena, jws, &entry, err);
    if (!rc)
        rc = mb_entry_disclose(arena, &entry, tail, err);
    if (!rc)
        *out = entry;
    return rc;
}

const mb_json *mb_entry_open(const struct mb_entry *entry, const char *name)
{
    const mb_json *list = mb_json_get(entry->lists, name);
    enum mb_class in;

    if (list)
        return list;
    return mb_class_of(mb_str_of(name), &in) ? NULL : mb_json_get(entry->body, name);
}

const mb_json *mb_entry_field(const struct mb_entry *entry, const char *name, enum mb_class *in)
{
    const mb_json *open = mb_entry_open(entry, name);

    if (open) {
        if (in)
            *in = MB_OPEN;
        return open;
    }
    for (size_t i = 0; i < entry->disclosure_count; i++) {
        const struct mb_disclosure *d = &entry->disclosures[i];

        if (d->slot >= 0 && d->name.at && mb_str_is(d->name, name)) {
            if (in)
                *in = entry->slots[d->slot].in;
            return d->value;
        }
    }
    return NULL;
}

void mb_entry_fields(const struct mb_entry *entry, mb_field_fn *each, void *ctx)
{
    MB_JSON_EACH(member, entry->body)
    {
        const mb_json *list = mb_json_get_str(entry->lists, member->name);
        enum mb_class in;

        if (!mb_class_of(member->name, &in))
            each(ctx, member->name, list ? list : member, MB_OPEN);
    }
    for (size_t i = 0; i < entry->disclosure_count; i++) {
        const struct mb_disclosure *d = &entry->disclosures[i];

        if (d->slot >= 0 && d->name.at)
            each(ctx, d->name, d->value, entry->slots[d->slot].in);
    }
}

bool mb_entry_signed_by(const struct mb_entry *entry, const struct mb_key *key)
{
    return mb_sig_ok(key, entry->signed_part, &entry->sig);
}

struct mb_str mb_ref_of(const mb_json *value)
{
    if (!mb_json_is(value, MB_JSON_OBJECT) || value->count != 1)
        return (struct mb_str){ NULL, 0 };
    return mb_json_str(mb_json_get(value, "ref"));
}

void mb_thumbprint(const struct mb_key *key, char out[MB_THUMBPRINT_LEN + 1])
{
    char x[MB_HASH_B64U_LEN + 1], text[100];
    struct mb_hash hash;
    int len;

    mb_b64u_write(x, key->b, sizeof key->b);
    len = snprintf(text, sizeof text, "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":\"%s\"}", x);
    hash = mb_sha256(text, (size_t)len);
    mb_b64u_write(out, hash.b, sizeof hash.b);
}

mb_json *mb_jwk_make(mb_arena *arena, const struct mb_key *key)
{
    mb_json *jwk = mb_json_object(arena);

    mb_json_put_text(arena, jwk, "crv", "Ed25519");
    mb_json_put_text(arena, jwk, "kty", "OKP");
    mb_json_put(arena, jwk, "x",
                mb_json_string_str(arena, mb_b64u(arena, key->b, sizeof key->b)));
    return jwk;
}

bool mb_jwk_read(const mb_json *jwk, struct mb_key *out)
{
    return mb_json_is(jwk, MB_JSON_OBJECT) && jwk->count == 3
           && mb_json_text_is(mb_json_get(jwk, "kty"), "OKP")
           && mb_json_text_is(mb_json_get(jwk, "crv"), "Ed25519")
           && mb_b64u_read_exact(mb_json_str(mb_json_get(jwk, "x")), out->b, sizeof out->b);
}
