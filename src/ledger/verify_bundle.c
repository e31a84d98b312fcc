#include "verify_bundle.h"

#include <stdlib.h>
#include <string.h>

#include "text.h"
#include "verify_countersign.h"

#define SALT_MIN 22 /* characters of base64url: 128 bits */
static const struct mb_str whole = { NULL, 0 };

static void read_entry(struct mb_bundle_check *check, struct mb_bundle_entry *e)
{
    struct mb_error err = { 0 };
    enum mb_rc rc = mb_entry_read_sd(check->arena, e->sd_jwt, &e->entry, &err);

    e->readable = rc == MB_OK;
    if (rc) {
        check->unreadable++;
        check->newer = check->newer || rc == MB_UNABLE;
        mb_find(check->findings, rc == MB_UNABLE ? MB_F_UNKNOWN_VERSION : MB_F_MALFORMED, whole,
                e->index, "Entry %lld: %s.", (long long)e->index, err.text);
        return;
    }
    if (e->entry.seq != e->index)
        mb_find(check->findings, MB_F_MALFORMED, e->entry.sub, e->index,
                "Entry %lld says that it is entry %lld.", (long long)e->index,
                (long long)e->entry.seq);
    if (!mb_str_equal(e->entry.iss, check->bundle->origin))
        mb_find(check->findings, MB_F_WRONG_ORIGIN, e->entry.sub, e->index,
                "Entry %lld is of the ledger %.*s, not of %.*s.", (long long)e->index,
                MB_STR_ARG(e->entry.iss), MB_STR_ARG(check->bundle->origin));
    for (size_t i = 0; i < e->entry.disclosure_count; i++) {
        const struct mb_disclosure *d = &e->entry.disclosures[i];

        if (d->slot < 0)
            mb_find(check->findings, MB_F_STRAY_DISCLOSURE, e->entry.sub, e->index,
                    "Entry %lld does not hold the field '%.*s' as it is shown.",
                    (long long)e->index, MB_STR_ARG(d->name.at ? d->name : MB_STR("(in a list)")));
        if (d->salt.len < SALT_MIN)
            mb_find(check->findings, MB_F_WEAK_SALT, e->entry.sub, e->index,
                    "A field of entry %lld has a salt of %zu characters.", (long long)e->index,
                    d->salt.len);
    }
}

static int by_str(const void *a, const void *b)
{
    return mb_str_compare(*(const struct mb_str *)a, *(const struct mb_str *)b);
}

static void check_salts(struct mb_bundle_check *check)
{
    size_t count = 0, n = 0;
    struct mb_str *salts;

    for (size_t i = 0; i < check->bundle->count; i++)
        count += check->bundle->entries[i].entry.disclosure_count;
    salts = MB_ARRAY(check->arena, count + 1, struct mb_str);
    for (size_t i = 0; i < check->bundle->count; i++)
        for (size_t j = 0; j < check->bundle->entries[i].entry.disclosure_count; j++)
            salts[n++] = check->bundle->entries[i].entry.disclosures[j].salt;
    qsort(salts, n, sizeof *salts, by_str);
    for (size_t i = 1; i < n; i++)
        if (mb_str_equal(salts[i - 1], salts[i])) {
            mb_find(check->findings, MB_F_REPEATED_SALT, whole, -1,
                    "Two fields have the salt %.*s.", MB_STR_ARG(salts[i]));
            return;
        }
}

static void check_signers(struct mb_bundle_check *check)
{
    check->ring = mb_keyring_new(check->arena);
    for (size_t i = 0; i < check->bundle->count; i++) {
        struct mb_bundle_entry *e = &check->bundle->entries[i];
        const struct mb_ring_key *key;

        if (!e->readable)
            continue;
        mb_keyring_take(check->ring, &e->entry, check->findings);
        key = mb_keyring_find(check->ring, e->entry.kid);
        e->signed_well = key && mb_entry_signed_by(&e->entry, &key->key);
        if (key && !e->signed_well)
            mb_find(check->findings, MB_F_BROKEN_SIGNATURE, e->entry.sub, e->index,
                    "The signature of entry %lld (%.*s) does not fit.", (long long)e->index,
                    MB_STR_ARG(e->entry.kind));
    }
    if (!mb_keyring_any_suspect(check->ring))
        return;
    for (size_t i = 0; i < check->bundle->count; i++) {
        const struct mb_bundle_entry *e = &check->bundle->entries[i];

        if (e->readable && mb_keyring_suspects(check->ring, e->entry.kid, e->index))
            mb_find(check->findings, MB_F_KEY_SUSPECT, e->entry.sub, e->index,
                    "Entry %lld was signed with the key %.*s after it was said to be in doubt.",
                    (long long)e->index, MB_STR_ARG(e->entry.kid));
    }
}

static void check_inclusion(struct mb_bundle_check *check, const struct mb_checkpoint *checkpoint)
{
    for (size_t i = 0; i < check->bundle->count; i++) {
        const struct mb_bundle_entry *e = &check->bundle->entries[i];

        if (e->readable
            && !mb_merkle_included((uint64_t)e->index, checkpoint->size, &e->entry.leaf, &e->path,
                                   &checkpoint->root))
            mb_find(check->findings, MB_F_NOT_IN_TREE, e->entry.sub, e->index,
                    "Entry %lld is not in the tree of the checkpoint.", (long long)e->index);
    }
}

/* How the ledger's keys, as far as the file holds them, signed a note. */
static enum mb_note_answer signed_by_ring(const struct mb_bundle_check *check,
                                          const struct mb_note *note)
{
    enum mb_note_answer answer = MB_NOTE_UNSIGNED;

    for (size_t i = 0; i < mb_keyring_checkpoint_count(check->ring); i++) {
        const struct mb_ring_checkpoint *key = mb_keyring_checkpoint_at(check->ring, i);
        enum mb_note_answer one = mb_note_signed_by(note, &key->vkey, NULL);

        if (one == MB_NOTE_FORGED)
            return one;
        if (one == MB_NOTE_SIGNED)
            answer = one;
    }
    return answer;
}

static void check_anchor(struct mb_bundle_check *check, const struct mb_checkpoint *ours,
                         struct mb_bundle_anchor *anchor, size_t number)
{
    struct mb_checkpoint other;
    struct mb_error err = { 0 };
    struct mb_note note;
    enum mb_note_answer answer;
    const char *why;
    bool older, extended;

    if (mb_note_read(check->arena, anchor->note, &note, &err)
        || mb_checkpoint_read(note.text, &other, &extended, &err) || extended) {
        mb_find(check->findings, MB_F_MALFORMED, whole, -1, "Anchor %zu: %s.", number,
                err.text[0] ? err.text : "it carries lines that the format does not have");
        return;
    }
    if (!mb_str_equal(other.origin, ours->origin)) {
        mb_find(check->findings, MB_F_WRONG_ORIGIN, whole, -1,
                "Anchor %zu is a checkpoint of another ledger.", number);
        return;
    }
    older = other.size <= ours->size;
    answer = signed_by_ring(check, &note);
    if (answer == MB_NOTE_FORGED)
        mb_find(check->findings, MB_F_CHECKPOINT_FORGED, whole, -1,
                "Anchor %zu: a signature by a key of the ledger does not fit.", number);
    else if (answer == MB_NOTE_UNSIGNED && !older)
        return; /* by a later key, which this file cannot know: it says nothing */
    else if (!mb_keyring_checkpoint_ok(check->ring, &note, other.size, other.size - 1, &why))
        mb_find(check->findings, MB_F_CHECKPOINT_KEY, whole, -1, "Anchor %zu: %s.", number, why);
    else if (!mb_merkle_consistent(older ? other.size : ours->size,
                                   older ? ours->size : other.size,
                                   older ? &other.root : &ours->root,
                                   older ? &ours->root : &other.root, &anchor->path))
        mb_find(check->findings, MB_F_FORKED, whole, -1,
                "Anchor %zu (%llu entries) is not of the same history as the checkpoint.", number,
                (unsigned long long)other.size);
    else
        anchor->good = true;
    anchor->size = other.size;
}

static void check_checkpoint(struct mb_bundle_check *check)
{
    const struct mb_bundle *bundle = check->bundle;
    int64_t last = bundle->entries[bundle->count - 1].index;
    struct mb_checkpoint checkpoint;
    struct mb_error err = { 0 };
    struct mb_note note;
    bool extended, keys_ok;
    const char *why;

    if (mb_note_read(check->arena, bundle->note, &note, &err)
        || mb_checkpoint_read(note.text, &checkpoint, &extended, &err)) {
        mb_find(check->findings, MB_F_MALFORMED, whole, -1, "The checkpoint: %s.", err.text);
        return;
    }
    if (extended)
        mb_find(check->findings, MB_F_MALFORMED, whole, -1,
                "The checkpoint carries lines that the format does not have.");
    if (!mb_str_equal(checkpoint.origin, bundle->origin))
        mb_find(check->findings, MB_F_WRONG_ORIGIN, whole, -1,
                "The checkpoint is of the ledger %.*s.", MB_STR_ARG(checkpoint.origin));
    if (!check->list && checkpoint.size != (uint64_t)last + 1)
        mb_find(check->findings, MB_F_SIZE_DIFFERS, whole, -1,
                "The checkpoint covers %llu entries; the certificate is entry %lld.",
                (unsigned long long)checkpoint.size, (long long)last);
    keys_ok = mb_keyring_checkpoint_ok(check->ring, &note, checkpoint.size, checkpoint.size - 1,
                                       &why);
    if (!keys_ok)
        mb_find(check->findings, MB_F_CHECKPOINT_KEY, whole, -1, "The checkpoint: %s.", why);
    if (signed_by_ring(check, &note) == MB_NOTE_FORGED)
        mb_find(check->findings, MB_F_CHECKPOINT_FORGED, whole, -1,
                "The checkpoint: a signature by a key of the ledger does not fit.");
    else
        check->checkpoint_good = keys_ok && mb_str_equal(checkpoint.origin, bundle->origin);
    check_inclusion(check, &checkpoint);
    for (size_t i = 0; i < bundle->anchor_count; i++)
        check_anchor(check, &checkpoint, &bundle->anchors[i], i + 1);
}

static int by_subject(const void *a, const void *b)
{
    const struct mb_bundle_entry *x = *(const struct mb_bundle_entry *const *)a;
    const struct mb_bundle_entry *y = *(const struct mb_bundle_entry *const *)b;
    int order = mb_str_compare(x->entry.sub, y->entry.sub);

    return order ? order : (x->index > y->index) - (x->index < y->index);
}

static void check_link(struct mb_bundle_check *check, const struct mb_bundle_entry *before,
                       const struct mb_bundle_entry *e)
{
    const struct mb_entry *entry = &e->entry;
    int64_t expected = before ? before->entry.nth + 1 : 0;

    if (before && entry->nth == before->entry.nth
        && !mb_hash_equal(&entry->leaf, &before->entry.leaf))
        mb_find(check->findings, MB_F_FORKED, entry->sub, e->index,
                "Entries %lld and %lld both claim place %lld of %.*s.", (long long)before->index,
                (long long)e->index, (long long)entry->nth, MB_STR_ARG(entry->sub));
    else if (entry->nth != expected)
        mb_find(check->findings, MB_F_HOLE_IN_CHAIN, entry->sub, e->index,
                "Of %.*s, entry %lld of its chain is missing before entry %lld.",
                MB_STR_ARG(entry->sub), (long long)expected, (long long)e->index);
    else if (entry->has_prior != (expected > 0)
             || (before && !mb_hash_equal(&entry->prior, &before->entry.leaf)))
        mb_find(check->findings, MB_F_BROKEN_LINK, entry->sub, e->index,
                "Entry %lld does not name the entry of %.*s before it.", (long long)e->index,
                MB_STR_ARG(entry->sub));
}

static void check_order(struct mb_bundle_check *check)
{
    const struct mb_bundle_entry *before = NULL;

    for (size_t i = 0; i < check->bundle->count; i++) {
        const struct mb_bundle_entry *e = &check->bundle->entries[i];

        if (!e->readable)
            continue;
        if (e->entry.has_prev != (e->index > 0))
            mb_find(check->findings, MB_F_BROKEN_LINK, e->entry.sub, e->index,
                    "Entry %lld has no link to the entry before it, or is the first and has one.",
                    (long long)e->index);
        else if (before && before->index + 1 == e->index
                 && !mb_hash_equal(&e->entry.prev, &before->entry.leaf))
            mb_find(check->findings, MB_F_BROKEN_LINK, e->entry.sub, e->index,
                    "Entry %lld does not name entry %lld as the one before it.",
                    (long long)e->index, (long long)before->index);
        if (before && e->entry.iat < before->entry.iat)
            mb_find(check->findings, MB_F_CLOCK_BACKWARDS, e->entry.sub, e->index,
                    "Entry %lld was recorded earlier than entry %lld in front of it.",
                    (long long)e->index, (long long)before->index);
        before = e;
    }
}

static void check_chains(struct mb_bundle_check *check)
{
    struct mb_bundle_entry **sorted =
        MB_ARRAY(check->arena, check->bundle->count + 1, struct mb_bundle_entry *);
    size_t n = 0;

    for (size_t i = 0; i < check->bundle->count; i++)
        if (check->bundle->entries[i].readable)
            sorted[n++] = &check->bundle->entries[i];
    qsort(sorted, n, sizeof *sorted, by_subject);
    for (size_t i = 0; i < n; i++) {
        bool same = i > 0 && mb_str_equal(sorted[i - 1]->entry.sub, sorted[i]->entry.sub);

        if (!check->list || !mb_is_specimen(sorted[i]->entry.sub))
            check_link(check, same ? sorted[i - 1] : NULL, sorted[i]);
    }
}

static void check_kinds(struct mb_bundle_check *check)
{
    for (size_t i = 0; i < check->bundle->count; i++) {
        const struct mb_bundle_entry *e = &check->bundle->entries[i];

        if (!e->readable || mb_kind_is_known(e->entry.kind))
            continue;
        if (mb_json_true(mb_entry_open(&e->entry, "changes")))
            mb_find(check->findings, MB_F_UNKNOWN_CHANGE, e->entry.sub, e->index,
                    "Entry %lld is of the unknown kind '%.*s' and says that it changes what the"
                    " specimen is.",
                    (long long)e->index, MB_STR_ARG(e->entry.kind));
        else
            mb_find(check->findings, MB_F_UNKNOWN_KIND, e->entry.sub, e->index,
                    "Entry %lld is of the kind '%.*s', not understood by this program.",
                    (long long)e->index, MB_STR_ARG(e->entry.kind));
    }
}

static void check_trust(struct mb_bundle_check *check)
{
    const struct mb_bundle_entry *first = &check->bundle->entries[0];
    enum mb_trust_answer answer = MB_TRUST_UNKNOWN;

    if (first->index != 0 || !first->readable) {
        mb_find(check->findings, MB_F_BAD_FOUNDING, whole, 0,
                "The file does not hold the founding of its ledger.");
        return;
    }
    if (check->trust)
        answer = mb_trust_of(check->trust, check->bundle->origin, &first->entry.leaf);
    check->trusted = answer == MB_TRUST_KNOWN;
    if (answer == MB_TRUST_OTHER)
        mb_find(check->findings, MB_F_OTHER_FINGERPRINT, whole, -1,
                "The ledger calls itself %.*s, and its fingerprint is not the one you trust.",
                MB_STR_ARG(check->bundle->origin));
    else if (answer == MB_TRUST_UNKNOWN)
        mb_find(check->findings, MB_F_UNKNOWN_LEDGER, whole, -1,
                "Nobody here has said whose ledger %.*s is: compare its fingerprint.",
                MB_STR_ARG(check->bundle->origin));
}

void mb_bundle_verify(struct mb_bundle_check *check)
{
    check->stories = mb_stories_new(check->arena);
    for (size_t i = 0; i < check->bundle->count; i++) {
        read_entry(check, &check->bundle->entries[i]);
        if (check->bundle->entries[i].readable)
            mb_stories_add(check->stories, &check->bundle->entries[i].entry);
    }
    check_salts(check);
    if (check->newer) { /* no rule of ours can be held against what we cannot read */
        check->ring = mb_keyring_new(check->arena);
        check_trust(check);
        return;
    }
    check_signers(check);
    check_checkpoint(check);
    check_order(check);
    check_chains(check);
    check_kinds(check);
    if (!check->list) {
        mb_countersigned_check(check);
        mb_certificate_verify(check);
        mb_foreign_verify(check);
    }
    check_trust(check);
}
