/* What a certificate must hold, and whether it says what its entries say. */
#include "verify_bundle.h"

#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "sha256.h"
#include "text.h"

static const struct mb_str whole = { NULL, 0 };

static bool same_open(const struct mb_entry *a, const struct mb_entry *b, const char *name)
{
    return mb_json_equal(mb_entry_open(a, name), mb_entry_open(b, name));
}

/* Is the specimen of this entry also that of one of the k entries behind it? */
static bool stands_in(const struct mb_bundle_entry *e, size_t k)
{
    for (size_t i = 1; i <= k; i++)
        if (mb_str_equal(e[i].entry.sub, e->entry.sub))
            return true;
    return false;
}

/* The last k entries: consecutive certificates of different specimens that speak of one set. */
static void find_certificates(struct mb_bundle_check *check)
{
    struct mb_bundle *bundle = check->bundle;
    size_t k = 0;

    while (k < bundle->count) {
        struct mb_bundle_entry *e = &bundle->entries[bundle->count - 1 - k];
        const struct mb_bundle_entry *last = &bundle->entries[bundle->count - 1];

        if (!e->readable || !mb_str_is(e->entry.kind, "certificate")
            || !mb_is_specimen(e->entry.sub))
            break;
        if (k > 0
            && (stands_in(e, k) || e->index + (int64_t)k != last->index
                || !same_open(&e->entry, &last->entry, "held")
                || !same_open(&e->entry, &last->entry, "shown")
                || !same_open(&e->entry, &last->entry, "audience")))
            break;
        k++;
    }
    check->certificate_count = k;
    check->certificates = MB_ARRAY(check->arena, k + 1, struct mb_bundle_entry *);
    for (size_t i = 0; i < k; i++)
        check->certificates[i] = &bundle->entries[bundle->count - k + i];
}

static bool is_own(const struct mb_bundle_check *check, const struct mb_bundle_entry *e)
{
    return e >= &check->bundle->entries[check->bundle->count - check->certificate_count];
}

static void check_held(struct mb_bundle_check *check)
{
    size_t count = check->bundle->count - check->certificate_count, n = 0;
    struct mb_hash *leaves = MB_ARRAY(check->arena, count + 1, struct mb_hash);
    struct mb_str digest;

    for (size_t i = 0; i < count; i++)
        if (check->bundle->entries[i].readable)
            leaves[n++] = check->bundle->entries[i].entry.leaf;
    digest = mb_digest_of_set(check->arena, leaves, n);
    if (!mb_str_equal(mb_json_str(mb_entry_open(&check->certificates[0]->entry, "held")), digest))
        mb_find(check->findings, MB_F_LEFT_OUT, check->certificates[0]->entry.sub,
                check->certificates[0]->index,
                "The file does not hold just the entries that the certificate was issued over.");
}

static size_t add_digests(const struct mb_bundle *bundle, struct mb_hash *out)
{
    size_t n = 0;

    for (size_t i = 0; i < bundle->count; i++)
        for (size_t j = 0; j < bundle->entries[i].entry.disclosure_count; j++) {
            if (out)
                out[n] = bundle->entries[i].entry.disclosures[j].digest;
            n++;
        }
    return n;
}

/* Those of a certificate carried inside, and of the ones inside that: JSON nests 16 deep. */
static size_t add_foreign(const mb_json *bundle, struct mb_hash *out)
{
    size_t n = 0;

    MB_JSON_EACH(item, mb_json_get(bundle, "entries"))
    {
        struct mb_str tail = mb_json_str(mb_json_get(item, "sd_jwt")), text;

        mb_str_cut(tail, '~', &text, &tail);
        while (tail.len) {
            mb_str_cut(tail, '~', &text, &tail);
            if (out)
                out[n] = mb_sha256_str(text);
            n++;
        }
    }
    MB_JSON_EACH(inner, mb_json_get(bundle, "foreign"))
    {
        n += add_foreign(inner, out ? out + n : NULL);
    }
    return n;
}

/* `shown` covers this file's own disclosures and those of the certificates inside it. */
static size_t all_digests(struct mb_bundle_check *check, struct mb_hash *out)
{
    size_t n = add_digests(check->bundle, out);

    for (size_t i = 0; i < check->bundle->foreign_count; i++)
        n += add_foreign(check->bundle->foreign[i], out ? out + n : NULL);
    return n;
}

static void check_shown(struct mb_bundle_check *check)
{
    struct mb_hash *digests = MB_ARRAY(check->arena, all_digests(check, NULL) + 1, struct mb_hash);
    size_t n = all_digests(check, digests);
    struct mb_str digest = mb_digest_of_set(check->arena, digests, n);

    if (!mb_str_equal(mb_json_str(mb_entry_open(&check->certificates[0]->entry, "shown")), digest))
        mb_find(check->findings, MB_F_CUT_DOWN, check->certificates[0]->entry.sub,
                check->certificates[0]->index,
                "The file does not show just the fields that the certificate was issued with.");
}

/* Why a digest may stand without its disclosure: listed in `withheld`, or erased. */
struct excuse {
    struct mb_hash digest;
    struct mb_str subject; /* whose entries an erasure is about; {NULL, 0}: withheld, of any */
    int64_t erasure;       /* its index */
};

struct excuses {
    struct excuse *list; /* sorted */
    size_t count;
};

static int by_excuse(const void *a, const void *b)
{
    const struct excuse *x = a, *y = b;
    int order = memcmp(x->digest.b, y->digest.b, sizeof x->digest.b);

    return order ? order : mb_str_compare(x->subject, y->subject);
}

/* The digests that an entry of the file excuses, NULL if it is none that does. */
static const mb_json *excused_by(const struct mb_bundle_check *check,
                                 const struct mb_bundle_entry *e)
{
    if (!e->readable)
        return NULL;
    if (is_own(check, e))
        return mb_entry_open(&e->entry, "withheld");
    return mb_str_is(e->entry.kind, "erasure") ? mb_entry_open(&e->entry, "digests") : NULL;
}

static void excuse(const struct mb_bundle_check *check, const struct mb_bundle_entry *e,
                   struct excuses *excuses)
{
    bool withheld = is_own(check, e);
    const mb_json *list = excused_by(check, e);

    MB_JSON_EACH(item, list)
    {
        struct excuse *one = &excuses->list[excuses->count];
        const mb_json *digest = withheld ? mb_json_get(item, "digest") : item;

        if (withheld)
            one->subject = (struct mb_str){ NULL, 0 };
        else
            one->subject = e->entry.sub;
        one->erasure = e->index;
        excuses->count += mb_b64u_read_exact(mb_json_str(digest), one->digest.b, 32);
    }
}

/* Gathered and sorted once: a hostile file can have very many of both. */
static struct excuses gather_excuses(const struct mb_bundle_check *check)
{
    struct excuses excuses = { NULL, 0 };
    size_t room = 0;

    for (size_t i = 0; i < check->bundle->count; i++) {
        const mb_json *list = excused_by(check, &check->bundle->entries[i]);

        room += list ? list->count : 0;
    }
    excuses.list = MB_ARRAY(check->arena, room + 1, struct excuse);
    for (size_t i = 0; i < check->bundle->count; i++)
        excuse(check, &check->bundle->entries[i], &excuses);
    qsort(excuses.list, excuses.count, sizeof *excuses.list, by_excuse);
    return excuses;
}

static bool is_excused(const struct mb_bundle_check *check, const struct excuses *excuses,
                       const struct mb_entry *entry, const struct mb_hash *digest)
{
    struct excuse key = { *digest, { NULL, 0 }, 0 }, *found;

    if (bsearch(&key, excuses->list, excuses->count, sizeof key, by_excuse))
        return true;
    key.subject = entry->sub;
    found = bsearch(&key, excuses->list, excuses->count, sizeof key, by_excuse);
    if (found)
        mb_find(check->findings, MB_F_ERASED, entry->sub, entry->seq,
                "A field of entry %lld was erased by entry %lld.", (long long)entry->seq,
                (long long)found->erasure);
    return found != NULL;
}

static void check_audience_in(struct mb_bundle_check *check, const struct excuses *excuses,
                              const struct mb_bundle_entry *e)
{
    bool own = is_own(check, e);
    size_t missing = 0;

    for (size_t i = 0; i < e->entry.slot_count; i++) {
        const struct mb_slot *slot = &e->entry.slots[i];

        if (slot->shown >= 0 || slot->element)
            continue;
        if (slot->in == MB_OWN ? !own : !mb_audience_sees(check->audience, slot->in))
            continue;
        if (!is_excused(check, excuses, &e->entry, &slot->digest))
            missing++;
    }
    if (missing)
        mb_find(check->findings, MB_F_WITHHELD, e->entry.sub, e->index,
                "Entry %lld (%.*s) keeps back %zu field%s that the audience '%s' may see, without"
                " saying so.",
                (long long)e->index, MB_STR_ARG(e->entry.kind), missing, missing == 1 ? "" : "s",
                mb_audience_name[check->audience]);
}

struct needs {
    struct mb_bundle_check *check;
    const struct mb_bundle_entry *e;
};

static void need(void *ctx, struct mb_str subject)
{
    const struct needs *needs = ctx;

    if (!mb_stories_of(needs->check->stories, subject))
        mb_find(needs->check->findings, MB_F_SUBJECT_MISSING, subject, needs->e->index,
                "Entry %lld names %.*s, whose entries are not in the file.",
                (long long)needs->e->index, MB_STR_ARG(subject));
}

/* The division that a piece says it came out of must stand on its parent's chain. */
static void check_parent(struct mb_bundle_check *check, const struct mb_bundle_entry *e)
{
    struct mb_str parent = mb_ref_of(mb_entry_field(&e->entry, "parent", NULL));
    struct mb_str text = mb_json_str(mb_json_get(mb_entry_open(&e->entry, "outOf"), "entry"));
    const mb_story *story = parent.at ? mb_stories_of(check->stories, parent) : NULL;
    struct mb_hash leaf;

    if (!parent.at)
        return;
    if (story && mb_b64u_read_exact(text, leaf.b, sizeof leaf.b))
        for (size_t i = 0; i < mb_story_count(story); i++)
            if (mb_hash_equal(&mb_story_at(story, i)->entry->leaf, &leaf)
                && mb_str_is(mb_story_at(story, i)->entry->kind, "division"))
                return;
    mb_find(check->findings, MB_F_SUBJECT_MISSING, parent, e->index,
            "Entry %lld says the piece came out of %.*s; that division is not in the file.",
            (long long)e->index, MB_STR_ARG(parent));
}

static void check_parts(struct mb_bundle_check *check, const struct mb_bundle_entry *e)
{
    MB_JSON_EACH(part, mb_entry_field(&e->entry, "parts", NULL))
    {
        struct mb_str ref = mb_ref_of(part);

        if (ref.at && !mb_stories_of(check->stories, ref))
            mb_find(check->findings, MB_F_SUBJECT_MISSING, ref, e->index,
                    "Entry %lld joins %.*s, whose entries are not in the file.",
                    (long long)e->index, MB_STR_ARG(ref));
    }
}

static void check_needs(struct mb_bundle_check *check, const struct mb_bundle_entry *e)
{
    struct needs needs = { check, e };

    mb_entry_needs(&e->entry, mb_is_specimen(e->entry.sub), need, &needs);
    if (mb_str_is(e->entry.kind, "division"))
        check_parent(check, e); /* of a piece that came out; the divided one names no parent */
    if (mb_str_is(e->entry.kind, "joining"))
        check_parts(check, e);
}

struct file_walk {
    struct mb_bundle_check *check;
    const struct mb_bundle_entry *e;
    bool *asked; /* for each attached file */
};

static void walk_files(struct file_walk *walk, const mb_json *value)
{
    const mb_json *file = mb_json_is(value, MB_JSON_OBJECT) ? mb_json_get(value, "file") : NULL;
    struct mb_bundle *bundle = walk->check->bundle;

    if (mb_json_is(file, MB_JSON_STRING) && file->text.len == 64) {
        for (size_t i = 0; i < bundle->file_count; i++)
            if (mb_str_equal(bundle->files[i].name, file->text)) {
                walk->asked[i] = true;
                return;
            }
        if (walk->check->has_file && walk->check->has_file(walk->check->has_file_ctx, file->text))
            return;
        mb_find(walk->check->findings, MB_F_FILE_NOT_HERE, walk->e->entry.sub, walk->e->index,
                "Entry %lld names a file (SHA-256 %.*s) that is not in here: not checked.",
                (long long)walk->e->index, MB_STR_ARG(file->text));
        return;
    }
    if (mb_json_is(value, MB_JSON_OBJECT) || mb_json_is(value, MB_JSON_ARRAY))
        MB_JSON_EACH(child, value)
        {
            walk_files(walk, child);
        }
}

static void walk_field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    (void)name;
    (void)in;
    walk_files(ctx, value);
}

static void check_files(struct mb_bundle_check *check)
{
    struct mb_bundle *bundle = check->bundle;
    struct file_walk walk = { check, NULL, MB_ARRAY(check->arena, bundle->file_count + 1, bool) };

    for (size_t i = 0; i < bundle->count; i++) {
        walk.e = &bundle->entries[i];
        if (walk.e->readable)
            mb_entry_fields(&walk.e->entry, walk_field, &walk);
    }
    for (size_t i = 0; i < bundle->file_count; i++) {
        struct mb_hash hash = mb_sha256_str(bundle->files[i].bytes);
        char hex[MB_HEX_LEN(32) + 1];

        mb_hex_write(hex, hash.b, sizeof hash.b);
        if (!mb_str_is(bundle->files[i].name, hex))
            mb_find(check->findings, MB_F_FILE_CHANGED, whole, -1,
                    "An attached file is not the one named %.*s.",
                    MB_STR_ARG(bundle->files[i].name));
        if (!walk.asked[i])
            mb_find(check->findings, MB_F_FILE_UNASKED, whole, -1,
                    "No shown entry names the attached file %.*s.",
                    MB_STR_ARG(bundle->files[i].name));
    }
    if (check->audience == MB_BUYER && bundle->file_count == 0 && !check->inner)
        mb_find(check->findings, MB_F_NO_VIEW, whole, -1, "No photograph travels with this file.");
}

static const mb_json *line_of(const mb_json *lines, struct mb_str name)
{
    MB_JSON_EACH(line, lines)
    {
        if (mb_str_equal(mb_json_str(mb_json_get(line, "name")), name))
            return line;
    }
    return NULL;
}

static size_t place_of(const mb_json *table, struct mb_str name)
{
    size_t place = 1;

    MB_JSON_EACH(rule, mb_json_get(table, "lines"))
    {
        if (mb_str_equal(mb_json_str(mb_json_get(rule, "name")), name))
            return place;
        place++;
    }
    return 0;
}

/* {"name","value","attested":true} for the names that may be, else just the line that follows. */
static bool is_right(const struct mb_bundle_check *check, const mb_json *line,
                     const mb_json *follows)
{
    struct mb_str name = mb_json_str(mb_json_get(line, "name"));

    if (mb_statement_may_attest(check->table, name))
        return line->count == 3 && mb_json_get(line, "value")
               && mb_json_true(mb_json_get(line, "attested"));
    return mb_json_equal(line_of(follows, name), line);
}

static void check_statement(struct mb_bundle_check *check, mb_arena *scratch,
                            const struct mb_bundle_entry *e)
{
    const mb_json *statement = mb_entry_field(&e->entry, "statement", NULL);
    const mb_json *said = mb_json_get(statement, "lines");
    mb_json *follows =
        mb_statement_lines(scratch, check->table, check->stories, e->entry.sub, e->index);
    size_t before = 0;

    if (statement && (!mb_json_is(said, MB_JSON_ARRAY) || statement->count != 1)) {
        mb_find(check->findings, MB_F_MALFORMED, e->entry.sub, e->index,
                "The statement is not {\"lines\":[...]}.");
        return;
    }
    MB_JSON_EACH(line, said)
    {
        struct mb_str name = mb_json_str(mb_json_get(line, "name"));
        size_t place = place_of(check->table, name);
        bool in_order = place > before;

        before = place;
        if (!in_order || !is_right(check, line, follows))
            mb_find(check->findings, MB_F_STATEMENT_DIFFERS, e->entry.sub, e->index,
                    in_order ? "The line '%.*s' of the statement does not follow from the entries."
                             : "The line '%.*s' of the statement stands twice, or out of order.",
                    MB_STR_ARG(name));
    }
    MB_JSON_EACH(line, follows)
    {
        struct mb_str name = mb_json_str(mb_json_get(line, "name"));

        if (!line_of(said, name))
            mb_find(check->findings, MB_F_STATEMENT_MISSING, e->entry.sub, e->index,
                    "The line '%.*s' follows from the entries and is not in the statement.",
                    MB_STR_ARG(name));
    }
}

/* Of a certificate inside another the statement is not worked out: the outer one may show less. */
static void check_derivation(struct mb_bundle_check *check)
{
    struct mb_str last = { NULL, 0 };
    mb_arena *scratch = mb_arena_new();

    for (size_t i = 0; i < check->certificate_count; i++) {
        const struct mb_bundle_entry *e = check->certificates[i];
        struct mb_str derivation = mb_json_str(mb_entry_open(&e->entry, "derivation"));

        if (i == 0 || !mb_str_equal(derivation, last)) /* mostly the same of all */
            check->table = mb_statement_table(check->arena, derivation);
        last = derivation;
        if (!check->table && !check->inner)
            mb_find(check->findings, MB_F_UNKNOWN_DERIVATION, e->entry.sub, e->index,
                    "The statement was made by a table unknown to this program (%.*s).",
                    MB_STR_ARG(derivation.at ? derivation : MB_STR("none named")));
        else if (check->table && check->unreadable == 0 && !check->inner)
            check_statement(check, scratch, e);
        mb_arena_reset(scratch);
    }
    mb_arena_free(scratch);
}

void mb_certificate_verify(struct mb_bundle_check *check)
{
    struct excuses excuses;

    find_certificates(check);
    if (check->certificate_count == 0) {
        mb_find(check->findings, MB_F_NO_CERTIFICATE, whole,
                check->bundle->entries[check->bundle->count - 1].index,
                "The last entry is not a certificate on a specimen.");
        return;
    }
    if (!mb_audience_of(mb_json_str(mb_entry_open(&check->certificates[0]->entry, "audience")),
                        &check->audience))
        mb_find(check->findings, MB_F_MALFORMED, check->certificates[0]->entry.sub,
                check->certificates[0]->index, "The certificate names no audience.");
    check_held(check);
    if (!check->inner)
        check_shown(check);
    excuses = gather_excuses(check);
    for (size_t i = 0; i < check->bundle->count; i++) {
        if (!check->bundle->entries[i].readable)
            continue;
        if (!check->inner)
            check_audience_in(check, &excuses, &check->bundle->entries[i]);
        check_needs(check, &check->bundle->entries[i]);
    }
    check_files(check);
    check_derivation(check);
}

static mb_json *about_statement(mb_arena *arena, const struct mb_bundle_check *check,
                                const struct mb_bundle_entry *e)
{
    const mb_json *said = mb_json_get(mb_entry_field(&e->entry, "statement", NULL), "lines");
    mb_json *lines = mb_json_array(arena);

    if (!said && check->inner && check->table) /* what its reader can work out */
        said = mb_statement_lines(arena, check->table, check->stories, e->entry.sub, e->index);
    MB_JSON_EACH(line, said)
    {
        mb_json *out = mb_json_add(lines, mb_json_copy(arena, line));

        mb_json_put(arena, out, "title",
                    mb_json_string_str(arena,
                                       mb_statement_title(check->table,
                                                          mb_json_str(mb_json_get(line, "name")))));
    }
    return lines;
}

static mb_json *about_certificates(mb_arena *arena, const struct mb_bundle_check *check)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < check->certificate_count; i++) {
        const struct mb_bundle_entry *e = check->certificates[i];
        mb_json *out = mb_json_add(list, mb_json_object(arena));
        const mb_json *to = mb_entry_field(&e->entry, "to", NULL);

        mb_json_put(arena, out, "id",
                    mb_json_string_str(arena, mb_b64u(arena, e->entry.leaf.b, 32)));
        mb_json_put(arena, out, "subject", mb_json_string_str(arena, e->entry.sub));
        mb_json_put(arena, out, "statement", about_statement(arena, check, e));
        if (to)
            mb_json_put(arena, out, "to", mb_json_copy(arena, to));
    }
    return list;
}

/* Why one of the k certificates says that this is kept back; NULL if none does. */
static const mb_json *reason_of(const struct mb_bundle_check *check, const struct mb_hash *digest)
{
    char text[MB_HASH_B64U_LEN + 1];

    mb_b64u_write(text, digest->b, sizeof digest->b);
    for (size_t i = 0; i < check->certificate_count; i++)
        MB_JSON_EACH(item, mb_entry_open(&check->certificates[i]->entry, "withheld"))
        {
            if (mb_json_text_is(mb_json_get(item, "digest"), text))
                return mb_json_get(item, "reason");
        }
    return NULL;
}

static mb_json *about_withheld(mb_arena *arena, const struct mb_bundle_check *check)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < check->bundle->count; i++) {
        const struct mb_entry *entry = &check->bundle->entries[i].entry;

        for (size_t j = 0; check->certificate_count && j < entry->slot_count; j++) {
            const struct mb_slot *slot = &entry->slots[j];
            const mb_json *reason;
            mb_json *out;

            if (slot->shown >= 0 || slot->element || slot->in == MB_OWN)
                continue;
            reason = reason_of(check, &slot->digest);
            if (!reason)
                continue;
            out = mb_json_add(list, mb_json_object(arena));
            mb_json_put(arena, out, "subject", mb_json_string_str(arena, entry->sub));
            mb_json_put(arena, out, "kind", mb_json_string_str(arena, entry->kind));
            mb_json_put_text(arena, out, "class", mb_class_name[slot->in]);
            mb_json_put(arena, out, "reason", mb_json_copy(arena, reason));
        }
    }
    return list;
}

static mb_json *about_signers(mb_arena *arena, const struct mb_bundle_check *check)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < mb_keyring_count(check->ring); i++) {
        const struct mb_ring_key *key = mb_keyring_at(check->ring, i);
        int64_t count = 0;
        mb_json *out;

        for (size_t j = 0; j < check->bundle->count; j++)
            count += check->bundle->entries[j].readable
                     && mb_str_is(check->bundle->entries[j].entry.kid, key->kid);
        if (!count)
            continue;
        out = mb_json_add(list, mb_json_object(arena));
        mb_json_put_text(arena, out, "kid", key->kid);
        mb_json_put_int(arena, out, "entries", count);
        if (key->founding)
            mb_json_put_text(arena, out, "holder", "founding key");
        else if (key->holder.at)
            mb_json_put(arena, out, "holder", mb_json_string_str(arena, key->holder));
        if (key->retired != MB_NEVER)
            mb_json_put_int(arena, out, "retired", key->retired);
    }
    return list;
}

static mb_json *about_foreign(mb_arena *arena, const struct mb_bundle_check *check)
{
    mb_json *list = mb_json_array(arena);

    for (const struct mb_bundle_check *inner = check->inside; inner; inner = inner->next)
        mb_json_add(list, mb_bundle_about(arena, inner));
    return list;
}

mb_json *mb_bundle_about(mb_arena *arena, const struct mb_bundle_check *check)
{
    const struct mb_bundle *bundle = check->bundle;
    const struct mb_bundle_entry *first = &bundle->entries[0];
    const struct mb_bundle_entry *last = &bundle->entries[bundle->count - 1];
    mb_json *out = mb_json_object(arena);

    mb_json_put(arena, out, "origin", mb_json_string_str(arena, bundle->origin));
    if (first->readable) {
        mb_json_put(arena, out, "fingerprint",
                    mb_json_string_str(arena, mb_base32(arena, first->entry.leaf.b, 32, false)));
        mb_json_put(arena, out, "fingerprintGrouped",
                    mb_json_string_str(arena, mb_base32(arena, first->entry.leaf.b, 32, true)));
        mb_json_put(arena, out, "name",
                    mb_json_string_str(arena, mb_json_str(mb_entry_open(&first->entry, "name"))));
    }
    mb_json_put_bool(arena, out, "trusted", check->trusted);
    mb_json_put_int(arena, out, "entries", (int64_t)bundle->count);
    mb_json_put_int(arena, out, "checkpointSize", last->index + 1);
    if (last->readable) {
        char *moment = mb_moment_write(arena, last->entry.iat);

        mb_json_put_text(arena, out, "recordedAt", moment);
        mb_json_put_text(arena, out, "asOf", mb_arena_copy(arena, moment, 10));
    }
    if (check->certificate_count) {
        mb_json_put_text(arena, out, "audience", mb_audience_name[check->audience]);
        mb_json_put(arena, out, "certificates", about_certificates(arena, check));
        mb_json_put(arena, out, "withheld", about_withheld(arena, check));
    }
    mb_json_put(arena, out, "signers", about_signers(arena, check));
    if (check->inside)
        mb_json_put(arena, out, "foreign", about_foreign(arena, check));
    return out;
}
