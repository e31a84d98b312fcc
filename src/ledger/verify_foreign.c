/* Certificates of other ledgers inside a certificate: each is named by an arrival around it, none
 * stands twice, and none that an arrival names is missing. */
#include "verify_bundle.h"

#include <stdlib.h>
#include <string.h>

#include "text.h"

static const struct mb_str whole = { NULL, 0 };

/* Does the row name this certificate, or one of those issued together with it? */
static bool row_names(const mb_json *row, const struct mb_bundle_check *inner)
{
    if (!mb_str_equal(mb_json_str(mb_json_get(row, "origin")), inner->bundle->origin))
        return false;
    for (size_t i = 0; i < inner->certificate_count; i++) {
        char text[MB_HASH_B64U_LEN + 1];

        mb_b64u_write(text, inner->certificates[i]->entry.leaf.b, sizeof(struct mb_hash));
        if (mb_json_text_is(mb_json_get(row, "entry"), text))
            return true;
    }
    return false;
}

/* The rows of an entry that is an arrival from another ledger; NULL if it is none. */
static const mb_json *evidence_of(const struct mb_bundle_entry *e)
{
    const mb_json *rows = NULL;

    if (e->readable && mb_str_is(e->entry.kind, "arrival"))
        rows = mb_entry_open(&e->entry, "foreignEvidence");
    return mb_json_is(rows, MB_JSON_ARRAY) ? rows : NULL;
}

static bool is_named(const struct mb_bundle_check *check, const struct mb_bundle_check *inner)
{
    for (size_t i = 0; i < check->bundle->count; i++)
        MB_JSON_EACH(row, evidence_of(&check->bundle->entries[i]))
        {
            if (row_names(row, inner))
                return true;
        }
    return false;
}

const struct mb_bundle_check *mb_foreign_find(const struct mb_bundle_check *check,
                                              const mb_json *row)
{
    for (const struct mb_bundle_check *inner = check->inside; inner; inner = inner->next) {
        const struct mb_bundle_check *deeper;

        if (row_names(row, inner))
            return inner;
        deeper = mb_foreign_find(inner, row);
        if (deeper)
            return deeper;
    }
    return NULL;
}

/* What `check` and those inside it name, looked for in all of the file. */
static void find_missing(struct mb_bundle_check *check, const struct mb_bundle_check *top)
{
    for (size_t i = 0; i < check->bundle->count; i++) {
        const struct mb_bundle_entry *e = &check->bundle->entries[i];

        MB_JSON_EACH(row, evidence_of(e))
        {
            struct mb_str origin = mb_json_str(mb_json_get(row, "origin"));

            if (!mb_foreign_find(top, row))
                mb_find(check->findings, MB_F_FOREIGN_MISSING, e->entry.sub, e->index,
                        "Entry %lld carries on the story of a certificate of %.*s, which is not in"
                        " the file.",
                        (long long)e->index, MB_STR_ARG(origin.at ? origin : MB_STR("a ledger")));
        }
    }
    for (struct mb_bundle_check *inner = check->inside; inner; inner = inner->next)
        find_missing(inner, top);
}

static size_t gather(const struct mb_bundle_check *check, struct mb_hash *out)
{
    size_t n = 0;

    if (check->certificate_count) {
        if (out)
            out[n] = check->certificates[check->certificate_count - 1]->entry.leaf;
        n++;
    }
    for (const struct mb_bundle_check *inner = check->inside; inner; inner = inner->next)
        n += gather(inner, out ? out + n : NULL);
    return n;
}

static int by_hash(const void *a, const void *b)
{
    return memcmp(a, b, sizeof(struct mb_hash));
}

static void find_doubles(struct mb_bundle_check *check)
{
    size_t count = gather(check, NULL);
    struct mb_hash *leaves = MB_ARRAY(check->arena, count + 1, struct mb_hash);

    gather(check, leaves);
    qsort(leaves, count, sizeof *leaves, by_hash);
    for (size_t i = 1; i < count; i++)
        if (mb_hash_equal(&leaves[i - 1], &leaves[i])) {
            mb_find(check->findings, MB_F_MALFORMED, whole, -1,
                    "A certificate stands twice in the file.");
            return;
        }
}

/* NULL where it could not be read. */
static struct mb_bundle_check *verify_one(struct mb_bundle_check *check, const mb_json *json)
{
    struct mb_bundle_check *inner = MB_NEW(check->arena, struct mb_bundle_check);
    struct mb_bundle *bundle = MB_NEW(check->arena, struct mb_bundle);
    struct mb_error err = { 0 };

    if (check->foreign_left == 0 || mb_bundle_read(check->arena, json, bundle, &err)) {
        mb_find(check->findings, MB_F_MALFORMED, whole, -1,
                "The certificate of another ledger inside it: %s.",
                err.text[0] ? err.text : "there are more than 16");
        return NULL;
    }
    *inner = (struct mb_bundle_check){ .arena = check->arena,
                                       .bundle = bundle,
                                       .trust = check->trust,
                                       .findings = check->findings,
                                       .inner = true,
                                       .foreign_left = check->foreign_left - 1 };
    mb_bundle_verify(inner);
    check->foreign_left = inner->foreign_left;
    if (!is_named(check, inner))
        mb_find(check->findings, MB_F_FILE_UNASKED, whole, -1,
                "It carries a certificate of %.*s that no arrival names.",
                MB_STR_ARG(bundle->origin));
    return inner;
}

void mb_foreign_verify(struct mb_bundle_check *check)
{
    struct mb_bundle_check **end = &check->inside;

    for (size_t i = 0; i < check->bundle->foreign_count; i++) {
        *end = verify_one(check, check->bundle->foreign[i]);
        if (*end)
            end = &(*end)->next;
    }
    if (check->inner)
        return;
    find_missing(check, check);
    find_doubles(check);
}
