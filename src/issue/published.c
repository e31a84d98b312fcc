#include "published.h"

#include <string.h>

#include "date.h"
#include "fileio.h"
#include "jws.h"
#include "text.h"
#include "tiles.h"

static const struct mb_str whole = { NULL, 0 }, none = { "", 0 };

struct published {
    mb_arena *arena;
    struct mb_bundle_check *check; /* of the certificate that it is held against: the file's, or
                                    * that of another ledger inside it */
    const char *folder;
    struct mb_checkpoint ours, theirs;
    struct mb_str text; /* their checkpoint */
    struct mb_bundle bundle;     /* withdrawn.json's entries */
    struct mb_bundle_check list; /* and what they come to */
    uint64_t list_size;
    mb_json *result;
};

static bool unsure(struct published *p, const char *what)
{
    mb_find(p->check->findings, MB_F_PUBLISHED_UNREADABLE, whole, -1, "%s: %s.", p->folder, what);
    return false;
}

static bool read_part(struct published *p, const char *name, size_t max, struct mb_str *out)
{
    struct mb_error err = { 0 };

    return mb_file_read(p->arena, mb_path_join(p->arena, p->folder, name), max, out, &err) == MB_OK
           || unsure(p, mb_arena_text(p->arena, err.text));
}

static bool read_checkpoint(struct published *p)
{
    struct mb_note ours, theirs;

    if (!read_part(p, "checkpoint", MB_NOTE_MAX, &p->text))
        return false;
    if (mb_note_read(p->arena, p->text, &theirs, NULL)
        || mb_checkpoint_read(theirs.text, &p->theirs, NULL, NULL))
        return unsure(p, "checkpoint is none");
    if (mb_note_read(p->arena, p->check->bundle->note, &ours, NULL)
        || mb_checkpoint_read(ours.text, &p->ours, NULL, NULL))
        return false; /* a finding already */
    if (!mb_str_equal(p->theirs.origin, p->ours.origin)) {
        mb_find(p->check->findings, MB_F_WRONG_ORIGIN, whole, -1,
                "What is published there is of %.*s.", MB_STR_ARG(p->theirs.origin));
        return false;
    }
    return true;
}

/* withdrawn.json has a certificate's form but for its last member. */
static const mb_json *as_bundle(struct published *p, const mb_json *file)
{
    static const char *const same[] = { "origin", "checkpoint", "entries" };
    mb_json *out = mb_json_object(p->arena);

    mb_json_put_text(p->arena, out, "format", MB_BUNDLE_FORMAT);
    for (size_t i = 0; i < sizeof same / sizeof *same; i++) {
        const mb_json *member = mb_json_get(file, same[i]);

        if (!member)
            return NULL;
        mb_json_put(p->arena, out, same[i], mb_json_copy(p->arena, member));
    }
    return out;
}

static bool list_holds(struct published *p, const struct mb_jws *jws)
{
    const struct mb_ring_key *key = mb_keyring_find(p->list.ring, jws->kid);
    struct mb_checkpoint checkpoint;
    struct mb_note note;
    struct mb_hash root;

    if (mb_note_read(p->arena, p->bundle.note, &note, NULL)
        || mb_checkpoint_read(note.text, &checkpoint, NULL, NULL))
        return false;
    p->list_size = checkpoint.size;
    return key && key->retired == MB_NEVER
           && mb_keyring_may(p->list.ring, key, MB_STR("withdrawal"), (int64_t)checkpoint.size)
           && mb_sig_ok(&key->key, jws->signed_part, &jws->sig)
           && mb_str_equal(mb_json_str(mb_json_get(jws->payload, "iss")), p->ours.origin)
           && mb_json_int(mb_json_get(jws->payload, "size"), -1) == (int64_t)checkpoint.size
           && mb_b64u_read_exact(mb_json_str(mb_json_get(jws->payload, "root")), root.b, 32)
           && mb_hash_equal(&root, &checkpoint.root);
}

/* The keys in it, and the withdrawals, are judged as those of a certificate are. */
static bool read_list(struct published *p, struct mb_jws *jws)
{
    struct mb_error err = { 0 };
    const mb_json *file, *bundle;
    struct mb_str bytes;

    if (!read_part(p, "withdrawn.json", MB_BUNDLE_MAX, &bytes))
        return false;
    if (mb_json_read(p->arena, bytes, MB_JSON_STRICT, &file, &err)
        || !mb_json_text_is(mb_json_get(file, "format"), MB_WITHDRAWN_FORMAT)
        || (bundle = as_bundle(p, file)) == NULL
        || mb_bundle_read(p->arena, bundle, &p->bundle, &err)
        || mb_jws_read(p->arena, mb_json_str(mb_json_get(file, "list")), MB_WITHDRAWN_TYPE, jws,
                       &err))
        return unsure(p, "withdrawn.json is no list of this format");
    p->list = (struct mb_bundle_check){ .arena = p->arena,
                                        .bundle = &p->bundle,
                                        .trust = p->check->trust,
                                        .findings = mb_findings_new(p->arena, 1),
                                        .list = true };
    mb_bundle_verify(&p->list);
    if (!mb_hash_equal(&p->bundle.entries[0].entry.leaf,
                       &p->check->bundle->entries[0].entry.leaf)) {
        mb_find(p->check->findings, MB_F_OTHER_FINGERPRINT, whole, -1,
                "What is published there is of a ledger with another fingerprint.");
        return false;
    }
    if (p->list.newer)
        return unsure(p, "withdrawn.json is newer than this program");
    if (mb_findings_count(p->list.findings, MB_FAULT) || !list_holds(p, jws)) {
        mb_find(p->check->findings, MB_F_PUBLISHED_FORGED, whole, -1,
                "The list of withdrawn certificates in %s does not hold.", p->folder);
        return false;
    }
    return true;
}

static bool check_signed(struct published *p)
{
    struct mb_note note;
    const char *why;

    if (mb_note_read(p->arena, p->text, &note, NULL) == MB_OK
        && mb_keyring_checkpoint_ok(p->list.ring, &note, p->theirs.size,
                                    p->theirs.size - 1, &why))
        return true;
    mb_find(p->check->findings, MB_F_CHECKPOINT_KEY, whole, -1,
            "The published checkpoint is not signed by the ledger's key.");
    return false;
}

static void add_anchor(struct published *p, const struct mb_path *path)
{
    struct mb_bundle *bundle = p->check->bundle;
    struct mb_bundle_anchor *more =
        MB_ARRAY(p->arena, bundle->anchor_count + 1, struct mb_bundle_anchor);

    if (bundle->anchor_count)
        memcpy(more, bundle->anchors, bundle->anchor_count * sizeof *more);
    more[bundle->anchor_count++] = (struct mb_bundle_anchor){ p->text, *path, true,
                                                              p->theirs.size };
    bundle->anchors = more;
}

static bool check_goes_on(struct published *p)
{
    struct mb_tiles tiles = { .arena = p->arena, .folder = p->folder, .size = p->theirs.size };
    struct mb_error err = { 0 };
    struct mb_path path = { 0 };

    if (p->theirs.size < p->ours.size) {
        mb_find(p->check->findings, MB_F_ROLLED_BACK, whole, -1,
                "What is published covers %llu entries, and the certificate's checkpoint %llu.",
                (unsigned long long)p->theirs.size, (unsigned long long)p->ours.size);
        return false;
    }
    if (p->theirs.size == p->ours.size && !mb_hash_equal(&p->theirs.root, &p->ours.root)) {
        mb_find(p->check->findings, MB_F_FORKED, whole, -1,
                "The published checkpoint over %llu entries has another root than the"
                " certificate's.",
                (unsigned long long)p->ours.size);
        return false;
    }
    if (p->theirs.size > p->ours.size
        && mb_merkle_prove_growth(p->ours.size, p->theirs.size, mb_tiles_read, &tiles, &path,
                                  &err))
        return unsure(p, mb_arena_text(p->arena, err.text));
    if (!mb_merkle_consistent(p->ours.size, p->theirs.size, &p->ours.root, &p->theirs.root,
                              &path)) {
        mb_find(p->check->findings, MB_F_PUBLISHED_DIFFERS, whole, -1,
                "The published tree over %llu entries does not go on from the certificate's over"
                " %llu.",
                (unsigned long long)p->theirs.size, (unsigned long long)p->ours.size);
        return false;
    }
    add_anchor(p, &path);
    return true;
}

/* Does this entry withdraw one of the file's certificates? */
static bool withdraws(const struct published *p, const struct mb_entry *entry)
{
    struct mb_str which = mb_json_str(mb_json_get(mb_entry_open(entry, "which"), "entry"));
    struct mb_hash leaf;

    if (!mb_b64u_read_exact(which, leaf.b, sizeof leaf.b))
        return false;
    for (size_t i = 0; i < p->check->certificate_count; i++)
        if (mb_hash_equal(&p->check->certificates[i]->entry.leaf, &leaf))
            return true;
    return false;
}

/* The list says which are withdrawn, and each of them stands in it as an entry: no more, no less.
 */
static bool check_withdrawn(struct published *p, const mb_json *listed)
{
    size_t withdrawals = 0;
    bool found = false;

    for (size_t i = 0; i < p->bundle.count; i++) {
        const struct mb_entry *entry = &p->bundle.entries[i].entry;
        struct mb_str why;

        if (!mb_str_is(entry->kind, "withdrawal"))
            continue;
        withdrawals++;
        if (!withdraws(p, entry))
            continue;
        why = mb_json_str(mb_entry_open(entry, "why"));
        found = true;
        mb_json_put(p->arena, p->result, "why", mb_json_string_str(p->arena, why));
        mb_find(p->check->findings, MB_F_WITHDRAWN, entry->sub, entry->seq,
                "The ledger%s%.*s has published that it withdrew %s: %.*s.",
                p->check->inner ? " " : "",
                MB_STR_ARG(p->check->inner ? p->ours.origin : none),
                p->check->inner ? "the certificate that the piece came with"
                                : "this certificate",
                MB_STR_ARG(why));
    }
    if (!mb_json_is(listed, MB_JSON_ARRAY) || listed->count != withdrawals)
        mb_find(p->check->findings, MB_F_PUBLISHED_FORGED, whole, -1,
                "The list of withdrawn certificates in %s and its entries do not agree.",
                p->folder);
    return found;
}

static const mb_json *check_one(struct mb_bundle_check *check, const char *folder)
{
    struct published p = { .arena = check->arena, .check = check, .folder = folder,
                           .result = mb_json_object(check->arena) };
    struct mb_jws jws;
    bool goes_on;

    if (!read_checkpoint(&p) || !read_list(&p, &jws))
        return p.result;
    mb_json_put_int(p.arena, p.result, "size", (int64_t)p.theirs.size);
    mb_json_put_text(p.arena, p.result, "listedAt",
                     mb_moment_write(p.arena, mb_json_int(mb_json_get(jws.payload, "iat"), 0)));
    if (p.check->inner)
        mb_json_put(p.arena, p.result, "of", mb_json_string_str(p.arena, p.ours.origin));
    goes_on = check_signed(&p) && check_goes_on(&p);
    mb_json_put_bool(p.arena, p.result, "goesOn", goes_on);
    if (p.list_size < p.theirs.size || p.list_size < p.ours.size)
        unsure(&p, "withdrawn.json is older than the checkpoint, or than the certificate");
    mb_json_put_bool(p.arena, p.result, "withdrawn",
                     check_withdrawn(&p, mb_json_get(jws.payload, "withdrawn")));
    return p.result;
}

/* Whose it is; {NULL, 0} where that cannot be read, which check_one says. */
static struct mb_str origin_of(mb_arena *arena, const char *folder)
{
    struct mb_str text;
    struct mb_note note;
    struct mb_checkpoint checkpoint;

    if (mb_file_read(arena, mb_path_join(arena, folder, "checkpoint"), MB_NOTE_MAX, &text, NULL)
        || mb_note_read(arena, text, &note, NULL)
        || mb_checkpoint_read(note.text, &checkpoint, NULL, NULL))
        return whole;
    return checkpoint.origin;
}

/* Each that is of this ledger: the file's own, and those inside it. A withdrawn one tells most. */
static const mb_json *check_each(struct mb_bundle_check *check, struct mb_str origin,
                                 const char *folder, const mb_json *before)
{
    const mb_json *told = before;

    if (mb_str_equal(check->bundle->origin, origin)) {
        const mb_json *one = check_one(check, folder);

        if (!told || mb_json_true(mb_json_get(one, "withdrawn")))
            told = one;
    }
    for (struct mb_bundle_check *inner = check->inside; inner; inner = inner->next)
        told = inner->newer ? told : check_each(inner, origin, folder, told);
    return told;
}

const mb_json *mb_published_check(struct mb_bundle_check *check, const char *folder)
{
    const mb_json *told = check_each(check, origin_of(check->arena, folder), folder, NULL);

    return told ? told : check_one(check, folder); /* of another ledger, which is said */
}

const char *mb_published_words(mb_arena *arena, const mb_json *published)
{
    const char *why = mb_json_cstr(arena, mb_json_get(published, "why"));
    const char *of = mb_json_cstr(arena, mb_json_get(published, "of"));
    const char *what = of ? mb_arena_printf(arena, "the certificate of %s inside it", of) : "it";

    if (why && of)
        return mb_arena_printf(arena, "%s withdrew the certificate that the piece came with: %s.",
                               of, why);
    if (why)
        return mb_arena_printf(arena, "The ledger withdrew this certificate: %s.", why);
    if (!mb_json_true(mb_json_get(published, "goesOn")))
        return NULL;
    return mb_arena_printf(arena,
                           "What the ledger has published goes on from %s to %lld entries, and its"
                           " list of %s does not withdraw it.",
                           what, (long long)mb_json_int(mb_json_get(published, "size"), 0),
                           mb_json_cstr(arena, mb_json_get(published, "listedAt")));
}
