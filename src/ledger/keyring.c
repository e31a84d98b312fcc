/*
 * Rules kept here (docs/format.md section 4 has the same numbers):
 *   K1  Entry 0, and only entry 0, is a founding; its own key signs it and may do everything.
 *   K2  A key is enrolled on key/<its thumbprint> by a key in force that may enrol.
 *   K3  A retirement is signed by the key itself or by one that may enrol; it is final.
 *   K4  The last key that may enrol cannot be retired.
 *   K5  A checkpoint key is named on `ledger` by a key that may enrol; in force behind that entry.
 *   K6  suspectFrom casts doubt on the later entries of that key, and on all entries of keys that
 *       it enrolled from then on.
 *   K7  No key serves twice: not two people, not a person and the checkpoint.
 *   K8  Keys are canonical points of the prime-order group.
 */
#include "keyring.h"

#include <string.h>

#include "text.h"

struct mb_keyring {
    mb_arena *arena;
    struct mb_ring_key *keys;
    size_t count, room;
    struct mb_ring_checkpoint *checkpoints;
    size_t checkpoint_count, checkpoint_room;
    bool any_suspect;
};

mb_keyring *mb_keyring_new(mb_arena *arena)
{
    mb_keyring *ring = MB_NEW(arena, mb_keyring);

    ring->arena = arena;
    return ring;
}

size_t mb_keyring_count(const mb_keyring *ring)
{
    return ring->count;
}

const struct mb_ring_key *mb_keyring_at(const mb_keyring *ring, size_t index)
{
    return &ring->keys[index];
}

static struct mb_ring_key *find(const mb_keyring *ring, struct mb_str kid)
{
    for (size_t i = ring->count; i-- > 0;)
        if (mb_str_is(kid, ring->keys[i].kid))
            return &ring->keys[i];
    return NULL;
}

const struct mb_ring_key *mb_keyring_find(const mb_keyring *ring, struct mb_str kid)
{
    return find(ring, kid);
}

static bool in_force(const struct mb_ring_key *key, int64_t seq)
{
    return (key->founding || key->enrolled < seq) && seq < key->retired;
}

static bool may_enrol(const struct mb_ring_key *key, int64_t seq)
{
    return key && in_force(key, seq) && (key->founding || key->enrols);
}

bool mb_keyring_may(const mb_keyring *ring, const struct mb_ring_key *key, struct mb_str kind,
                    int64_t seq)
{
    (void)ring;
    if (!key || !in_force(key, seq))
        return false;
    if (key->founding)
        return true;
    if (mb_str_is(kind, "key-enrolment") || mb_str_is(kind, "key-retirement")
        || mb_str_is(kind, "checkpoint-key"))
        return key->enrols;
    MB_JSON_EACH(allowed, key->may)
    {
        if (mb_str_equal(mb_json_str(allowed), kind))
            return true;
    }
    return false;
}

static bool key_is_used(const mb_keyring *ring, const struct mb_key *key)
{
    for (size_t i = 0; i < ring->count; i++)
        if (mb_key_equal(&ring->keys[i].key, key))
            return true;
    for (size_t i = 0; i < ring->checkpoint_count; i++)
        if (mb_key_equal(&ring->checkpoints[i].vkey.key, key))
            return true;
    return false;
}

static void *grown(mb_arena *arena, void *items, size_t count, size_t *room, size_t size)
{
    void *more;

    if (count < *room)
        return items;
    *room = *room ? *room * 2 : 8;
    more = mb_arena_array(arena, *room, size);
    if (count)
        memcpy(more, items, count * size);
    return more;
}

static struct mb_ring_key *add_key(mb_keyring *ring, const struct mb_key *key, int64_t seq)
{
    struct mb_ring_key *added;

    ring->keys = grown(ring->arena, ring->keys, ring->count, &ring->room, sizeof *ring->keys);
    added = &ring->keys[ring->count++];
    *added = (struct mb_ring_key){ .key = *key,
                                   .enrolled = seq,
                                   .retired = MB_NEVER,
                                   .suspect_from = MB_NEVER,
                                   .enrolled_by = -1 };
    mb_thumbprint(key, added->kid);
    return added;
}

/* K5, K7, K8 for the vkey of a founding or checkpoint-key; false with a finding. */
static bool add_checkpoint_key(mb_keyring *ring, const struct mb_entry *entry, bool old_lost,
                               mb_findings *findings)
{
    struct mb_str text = mb_json_str(mb_entry_open(entry, "checkpointKey"));
    struct mb_ring_checkpoint *added;
    struct mb_vkey vkey;

    if (!mb_str_is(entry->sub, "ledger") || !text.at || mb_vkey_read(text, &vkey, NULL)
        || vkey.type != MB_VKEY_LOG || !mb_str_equal(vkey.name, entry->iss)
        || !mb_key_ok(&vkey.key)) {
        mb_find(findings, MB_F_KEY_REFUSED, entry->sub, entry->seq,
                "Entry %lld names a checkpoint key that is none for this ledger.",
                (long long)entry->seq);
        return false;
    }
    if (key_is_used(ring, &vkey.key)) {
        mb_find(findings, MB_F_KEY_DOUBLED, entry->sub, entry->seq,
                "Entry %lld makes a key the checkpoint key that already serves another purpose.",
                (long long)entry->seq);
        return false;
    }
    ring->checkpoints = grown(ring->arena, ring->checkpoints, ring->checkpoint_count,
                              &ring->checkpoint_room, sizeof *ring->checkpoints);
    added = &ring->checkpoints[ring->checkpoint_count++];
    vkey.name = mb_arena_str(ring->arena, vkey.name);
    *added = (struct mb_ring_checkpoint){ .vkey = vkey, .since = entry->seq, .old_lost = old_lost };
    return true;
}

static void take_founding(mb_keyring *ring, const struct mb_entry *entry, mb_findings *findings)
{
    struct mb_key key;
    struct mb_ring_key *added;

    if (entry->seq != 0 || ring->count) {
        mb_find(findings, MB_F_SECOND_FOUNDING, entry->sub, entry->seq,
                "Entry %lld founds a ledger that was founded already.", (long long)entry->seq);
        return;
    }
    if (!mb_jwk_read(mb_entry_open(entry, "jwk"), &key) || !mb_str_is(entry->sub, "ledger")
        || !mb_str_equal(mb_json_str(mb_entry_open(entry, "origin")), entry->iss)) {
        mb_find(findings, MB_F_BAD_FOUNDING, entry->sub, entry->seq,
                "Entry 0 does not name this ledger's origin and founding key.");
        return;
    }
    if (!mb_key_ok(&key)) {
        mb_find(findings, MB_F_KEY_REFUSED, entry->sub, entry->seq,
                "The founding key is no proper Ed25519 key.");
        return;
    }
    added = add_key(ring, &key, entry->seq);
    added->founding = true;
    add_checkpoint_key(ring, entry, false, findings);
}

static void take_enrolment(mb_keyring *ring, const struct mb_entry *entry,
                           const struct mb_ring_key *signer, mb_findings *findings)
{
    const mb_json *may = mb_entry_open(entry, "may");
    char kid[MB_THUMBPRINT_LEN + 1] = "";
    struct mb_ring_key *added;
    struct mb_key key;
    int by;

    if (mb_jwk_read(mb_entry_open(entry, "jwk"), &key))
        mb_thumbprint(&key, kid);
    if (!kid[0] || !mb_key_ok(&key) || !mb_str_starts(entry->sub, "key/")
        || !mb_str_is((struct mb_str){ entry->sub.at + 4, entry->sub.len - 4 }, kid)
        || !mb_json_is(may, MB_JSON_ARRAY)) {
        mb_find(findings, MB_F_KEY_REFUSED, entry->sub, entry->seq,
                "Entry %lld enrols a key that is not proper, or not the one it is named for.",
                (long long)entry->seq);
        return;
    }
    if (key_is_used(ring, &key)) {
        mb_find(findings, MB_F_KEY_DOUBLED, entry->sub, entry->seq,
                "Entry %lld enrols a key that already serves in this ledger.",
                (long long)entry->seq);
        return;
    }
    by = (int)(signer - ring->keys);
    added = add_key(ring, &key, entry->seq);
    added->enrolled_by = by;
    added->may = mb_json_copy(ring->arena, may);
    added->holder = mb_ref_of(mb_entry_open(entry, "holder"));
    if (added->holder.at)
        added->holder = mb_arena_str(ring->arena, added->holder);
    MB_JSON_EACH(right, added->may)
    {
        if (mb_json_text_is(right, "enrol"))
            added->enrols = true;
    }
}

static size_t enrollers_but(const mb_keyring *ring, const struct mb_ring_key *but, int64_t seq)
{
    size_t count = 0;

    for (size_t i = 0; i < ring->count; i++)
        count += &ring->keys[i] != but && may_enrol(&ring->keys[i], seq);
    return count;
}

static void take_retirement(mb_keyring *ring, const struct mb_entry *entry, mb_findings *findings)
{
    struct mb_ring_key *key = NULL;
    const mb_json *from = mb_entry_open(entry, "suspectFrom");

    if (mb_str_starts(entry->sub, "key/"))
        key = find(ring, (struct mb_str){ entry->sub.at + 4, entry->sub.len - 4 });
    if (!key || key->retired != MB_NEVER) {
        mb_find(findings, MB_F_KEY_REFUSED, entry->sub, entry->seq,
                "Entry %lld retires a key that is not in force.", (long long)entry->seq);
        return;
    }
    if (may_enrol(key, entry->seq) && enrollers_but(ring, key, entry->seq) == 0) {
        mb_find(findings, MB_F_LAST_ENROLLER, entry->sub, entry->seq,
                "Entry %lld retires the last key that may enrol others.", (long long)entry->seq);
        return;
    }
    key->retired = entry->seq;
    if (from) {
        key->suspect_from = mb_json_int(from, 0);
        ring->any_suspect = true;
    }
}

static void take_checkpoint_key(mb_keyring *ring, const struct mb_entry *entry,
                                mb_findings *findings)
{
    const mb_json *why = mb_entry_open(entry, "why");

    add_checkpoint_key(ring, entry,
                       mb_json_text_is(why, "lost") || mb_json_text_is(why, "stolen"), findings);
}

/* Was the signer enrolled, not retired, and allowed this kind? */
static void judge_signer(mb_keyring *ring, const struct mb_entry *entry,
                         const struct mb_ring_key *signer, mb_findings *findings)
{
    if (!signer || (!signer->founding && signer->enrolled >= entry->seq)) {
        mb_find(findings, MB_F_KEY_UNKNOWN, entry->sub, entry->seq,
                "Entry %lld is signed with the key %.*s, which was not enrolled before it.",
                (long long)entry->seq, MB_STR_ARG(entry->kid));
    } else if (entry->seq >= signer->retired) {
        mb_find(findings, MB_F_KEY_RETIRED, entry->sub, entry->seq,
                "Entry %lld is signed with the key %.*s, retired by entry %lld.",
                (long long)entry->seq, MB_STR_ARG(entry->kid), (long long)signer->retired);
    } else if (!mb_keyring_may(ring, signer, entry->kind, entry->seq)
               && !(mb_str_is(entry->kind, "key-retirement")
                    && mb_str_starts(entry->sub, "key/")
                    && mb_str_is((struct mb_str){ entry->sub.at + 4, entry->sub.len - 4 },
                                 signer->kid))) {
        mb_find(findings, MB_F_KEY_RIGHT, entry->sub, entry->seq,
                "Entry %lld (%.*s) is signed with the key %.*s, which may not record that.",
                (long long)entry->seq, MB_STR_ARG(entry->kind), MB_STR_ARG(entry->kid));
    }
}

void mb_keyring_take(mb_keyring *ring, const struct mb_entry *entry, mb_findings *findings)
{
    const struct mb_ring_key *signer;
    bool is_retirement = mb_str_is(entry->kind, "key-retirement");

    if (mb_str_is(entry->kind, "founding")) {
        take_founding(ring, entry, findings);
        judge_signer(ring, entry, find(ring, entry->kid), findings);
        return;
    }
    if (entry->seq == 0)
        mb_find(findings, MB_F_BAD_FOUNDING, entry->sub, 0, "Entry 0 is not a founding.");
    signer = find(ring, entry->kid);
    judge_signer(ring, entry, signer, findings);
    if (!is_retirement && !mb_str_is(entry->kind, "key-enrolment")
        && !mb_str_is(entry->kind, "checkpoint-key"))
        return;
    if (!may_enrol(signer, entry->seq)
        && !(is_retirement && signer && in_force(signer, entry->seq) && entry->sub.len > 4
             && mb_str_is((struct mb_str){ entry->sub.at + 4, entry->sub.len - 4 },
                          signer->kid))) {
        mb_find(findings, MB_F_ENROL_RIGHT, entry->sub, entry->seq,
                "Entry %lld changes the keys of the ledger; its signer may not.",
                (long long)entry->seq);
        return;
    }
    if (is_retirement)
        take_retirement(ring, entry, findings);
    else if (mb_str_is(entry->kind, "key-enrolment"))
        take_enrolment(ring, entry, signer, findings);
    else
        take_checkpoint_key(ring, entry, findings);
}

bool mb_keyring_any_suspect(const mb_keyring *ring)
{
    return ring->any_suspect;
}

bool mb_keyring_suspects(const mb_keyring *ring, struct mb_str kid, int64_t seq)
{
    const struct mb_ring_key *key = find(ring, kid);

    if (!key)
        return false;
    if (seq >= key->suspect_from && seq != key->retired)
        return true;
    /* K6: was it brought in by a key that was in doubt by then? */
    while (key->enrolled_by >= 0) {
        const struct mb_ring_key *by = &ring->keys[key->enrolled_by];

        if (key->enrolled >= by->suspect_from)
            return true;
        key = by;
    }
    return false;
}

size_t mb_keyring_checkpoint_count(const mb_keyring *ring)
{
    return ring->checkpoint_count;
}

const struct mb_ring_checkpoint *mb_keyring_checkpoint_at(const mb_keyring *ring, size_t index)
{
    return &ring->checkpoints[index];
}

/* How many checkpoint keys were in force, one after the other, up to this size. */
static size_t known_by(const mb_keyring *ring, uint64_t size)
{
    size_t count = ring->checkpoint_count;

    while (count > 0 && (uint64_t)ring->checkpoints[count - 1].since >= size)
        count--;
    return count;
}

bool mb_keyring_owes(const mb_keyring *ring, size_t index, uint64_t before, uint64_t size)
{
    size_t count = known_by(ring, size);

    if (index == 0 || index >= count || (uint64_t)ring->checkpoints[index].since < before)
        return false;
    /* a loss speaks for every key before the one that it brought */
    for (size_t i = index; i < count; i++)
        if (ring->checkpoints[i].old_lost)
            return false;
    return true;
}

bool mb_keyring_checkpoint_ok(const mb_keyring *ring, const struct mb_note *note, uint64_t size,
                              uint64_t before, const char **why)
{
    size_t count = known_by(ring, size);

    if (count == 0) {
        *why = "no checkpoint key was in force for its size";
        return false;
    }
    if (mb_note_signed_by(note, &ring->checkpoints[count - 1].vkey, NULL) != MB_NOTE_SIGNED) {
        *why = "it is not signed by the key in force for its size";
        return false;
    }
    for (size_t i = count - 1; i > 0; i--) {
        if (mb_keyring_owes(ring, i, before, size)
            && mb_note_signed_by(note, &ring->checkpoints[i - 1].vkey, NULL) != MB_NOTE_SIGNED) {
            *why = "it is the first after a change of keys and lacks the old key's signature";
            return false;
        }
    }
    return true;
}
