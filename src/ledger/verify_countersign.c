#include "verify_countersign.h"

#include <string.h>

#include "date.h"
#include "text.h"

struct mb_countersigned {
    const struct mb_bundle_entry *entry;
    int64_t over; /* number of the entry that it is over */
    struct mb_countersign what;
    struct mb_countersigned *next;
};

struct known_key {
    char kid[MB_THUMBPRINT_LEN + 1];
    struct mb_str origin;
    struct mb_hash fingerprint;
    int64_t until; /* when it was retired, MB_NEVER if it was not */
    struct known_key *next;
};

struct mb_known_keys {
    mb_arena *arena;
    const struct mb_trust *trust;
    struct known_key *first;
};

/* ---- soundness ---- */

static void judge_reading(mb_findings *findings, const struct mb_entry *entry, enum mb_rc rc,
                          const struct mb_error *err)
{
    mb_find(findings, rc == MB_UNABLE ? MB_F_UNKNOWN_VERSION : MB_F_COUNTERSIGN_BROKEN, entry->sub,
            entry->seq, "The countersignature of entry %lld: %s.", (long long)entry->seq,
            err->text);
}

static void tell_stray(mb_findings *findings, const struct mb_entry *entry)
{
    mb_find(findings, MB_F_COUNTERSIGN_BROKEN, entry->sub, entry->seq,
            "Entry %lld is over no entry before it on the same specimen.", (long long)entry->seq);
}

static const struct mb_bundle_entry *entry_before(const struct mb_bundle_check *check,
                                                  const struct mb_bundle_entry *e,
                                                  const struct mb_hash *leaf)
{
    for (const struct mb_bundle_entry *o = check->bundle->entries; o < e; o++)
        if (o->readable && mb_hash_equal(&o->entry.leaf, leaf)
            && mb_str_equal(o->entry.sub, e->entry.sub))
            return o;
    return NULL;
}

void mb_countersigned_check(struct mb_bundle_check *check)
{
    struct mb_countersigned **end = &check->countersigned;

    for (size_t i = 0; i < check->bundle->count; i++) {
        const struct mb_bundle_entry *e = &check->bundle->entries[i], *over;
        struct mb_countersign what;
        struct mb_error err = { 0 };
        enum mb_rc rc;

        if (!e->readable)
            continue;
        rc = mb_countersign_of(check->arena, &e->entry, &what, &err);
        if (rc == MB_NO)
            continue;
        over = rc ? NULL : entry_before(check, e, &what.over);
        if (rc) {
            judge_reading(check->findings, &e->entry, rc, &err);
        } else if (!over) {
            tell_stray(check->findings, &e->entry);
        } else {
            *end = MB_NEW(check->arena, struct mb_countersigned);
            **end = (struct mb_countersigned){ e, over->index, what, NULL };
            end = &(*end)->next;
        }
    }
}

void mb_countersigned_in_log(struct mb_log_check *check, const struct mb_entry *entry)
{
    mb_arena *scratch;
    struct mb_countersign what;
    struct mb_error err = { 0 };
    int64_t seq = -1;
    enum mb_rc rc;

    if (!mb_str_is(entry->kind, "countersign"))
        return;
    scratch = mb_arena_new();
    rc = mb_countersign_of(scratch, entry, &what, &err);
    if (rc && rc != MB_NO)
        judge_reading(check->findings, entry, rc, &err);
    else if (!rc
             && (mb_log_find_leaf(check->log, scratch, entry->sub, &what.over, &seq, NULL)
                 || seq >= entry->seq))
        tell_stray(check->findings, entry);
    mb_arena_free(scratch);
}

/* ---- whose keys ---- */

mb_known_keys *mb_known_keys_new(mb_arena *arena, const struct mb_trust *trust)
{
    mb_known_keys *known = MB_NEW(arena, mb_known_keys);

    *known = (mb_known_keys){ .arena = arena, .trust = trust };
    return known;
}

/* Of a key in doubt nothing counts, of a retired one what was signed before. */
static struct known_key *add_key(mb_known_keys *known, const mb_keyring *ring, size_t index)
{
    const struct mb_ring_key *key = mb_keyring_at(ring, index);
    struct known_key *one;

    if (mb_keyring_suspects(ring, mb_str_of(key->kid), MB_NEVER - 1))
        return NULL;
    one = MB_NEW(known->arena, struct known_key);
    one->until = MB_NEVER;
    memcpy(one->kid, key->kid, sizeof one->kid);
    one->next = known->first;
    known->first = one;
    return one;
}

static void add_ring(mb_known_keys *known, const struct mb_bundle_check *check)
{
    for (size_t i = 0; i < mb_keyring_count(check->ring); i++) {
        struct known_key *one = add_key(known, check->ring, i);

        if (!one)
            continue;
        one->origin = check->bundle->origin;
        one->fingerprint = check->bundle->entries[0].entry.leaf;
        for (size_t j = 0; j < check->bundle->count; j++)
            if (check->bundle->entries[j].index == mb_keyring_at(check->ring, i)->retired)
                one->until = check->bundle->entries[j].entry.iat;
    }
}

void mb_known_keys_add(mb_known_keys *known, const struct mb_bundle_check *check)
{
    if (check->trusted)
        add_ring(known, check);
    for (const struct mb_bundle_check *inner = check->inside; inner; inner = inner->next)
        mb_known_keys_add(known, inner);
}

enum mb_rc mb_known_keys_add_log(mb_known_keys *known, const struct mb_log_check *check,
                                 struct mb_error *err)
{
    for (size_t i = 0; check->trusted && i < mb_keyring_count(check->ring); i++) {
        int64_t retired = mb_keyring_at(check->ring, i)->retired;
        struct known_key *one = add_key(known, check->ring, i);
        struct mb_entry entry;

        if (!one)
            continue;
        one->origin = mb_arena_str(known->arena, mb_log_origin(check->log));
        one->fingerprint = *mb_log_fingerprint(check->log);
        if (retired == MB_NEVER)
            continue;
        if (mb_log_entry(check->log, known->arena, retired, &entry, err))
            return err ? err->code : MB_UNABLE;
        one->until = entry.iat;
    }
    return MB_OK;
}

static bool trust_names(const struct mb_trust *trust, const char *kid)
{
    for (size_t i = 0; trust && i < trust->key_count; i++)
        if (mb_str_is(trust->keys[i], kid))
            return true;
    return false;
}

/* A ledger's own keys are not the other side, whatever the trust file says of them. */
static bool is_known(const mb_known_keys *known, const struct mb_bundle_check *check,
                     const struct mb_countersign *what)
{
    const struct mb_hash *own = &check->bundle->entries[0].entry.leaf;

    if (mb_keyring_find(check->ring, mb_str_of(what->kid)))
        return false;
    if (trust_names(known->trust, what->kid))
        return true;
    for (const struct known_key *key = known->first; key; key = key->next)
        if (strcmp(key->kid, what->kid) == 0 && !mb_hash_equal(&key->fingerprint, own)
            && what->iat <= key->until
            && (mb_str_starts(what->iss, "key/") || mb_str_equal(what->iss, key->origin)))
            return true;
    return false;
}

static void judge_in(const mb_known_keys *known, const struct mb_bundle_check *check, mb_json *list)
{
    mb_arena *arena = known->arena;

    for (const struct mb_countersigned *one = check->countersigned; one; one = one->next) {
        const struct mb_entry *entry = &one->entry->entry;
        mb_json *out = mb_json_add(list, mb_json_object(arena));
        bool known_here = is_known(known, check, &one->what);

        mb_json_put_int(arena, out, "seq", one->entry->index);
        mb_json_put(arena, out, "origin", mb_json_string_str(arena, check->bundle->origin));
        mb_json_put(arena, out, "subject", mb_json_string_str(arena, entry->sub));
        mb_json_put_int(arena, out, "over", one->over);
        mb_json_put(arena, out, "role", mb_json_string_str(arena, one->what.role));
        mb_json_put_text(arena, out, "kid", one->what.kid);
        mb_json_put(arena, out, "by", mb_json_string_str(arena, one->what.iss));
        mb_json_put_text(arena, out, "signedAt", mb_moment_write(arena, one->what.iat));
        mb_json_put_bool(arena, out, "known", known_here);
        if (!known_here)
            mb_find(check->findings, MB_F_COUNTERSIGN_UNKNOWN, entry->sub, entry->seq,
                    "Entry %lld is countersigned by an unknown key (%s).", (long long)one->over,
                    one->what.kid);
    }
    for (const struct mb_bundle_check *inner = check->inside; inner; inner = inner->next)
        judge_in(known, inner, list);
}

mb_json *mb_countersigned_judge(const mb_known_keys *known, const struct mb_bundle_check *check)
{
    mb_json *list = mb_json_array(known->arena);

    judge_in(known, check, list);
    return list->count ? list : NULL;
}
