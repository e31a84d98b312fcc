#include "loose_notes.h"

#include "text.h"

struct loose {
    const char *path;
    struct mb_note note;
    struct mb_checkpoint checkpoint;
    struct loose *next;
};

struct ring {
    struct mb_hash fingerprint;
    const mb_keyring *keys;
    struct ring *next;
};

struct mb_loose_notes {
    mb_arena *arena;
    struct loose *first, *last;
    struct ring *rings;
};

static const struct mb_str whole = { NULL, 0 };

mb_loose_notes *mb_loose_notes_new(mb_arena *arena)
{
    mb_loose_notes *notes = MB_NEW(arena, mb_loose_notes);

    notes->arena = arena;
    return notes;
}

void mb_loose_notes_ring(mb_loose_notes *notes, const struct mb_hash *fingerprint,
                         const mb_keyring *ring)
{
    struct ring *one = MB_NEW(notes->arena, struct ring);

    *one = (struct ring){ *fingerprint, ring, notes->rings };
    notes->rings = one;
}

enum mb_rc mb_loose_notes_add(mb_loose_notes *notes, const char *path, struct mb_str bytes,
                              mb_json *file, struct mb_error *err)
{
    struct loose *loose = MB_NEW(notes->arena, struct loose);
    enum mb_rc rc;

    loose->path = mb_arena_text(notes->arena, path);
    rc = mb_note_read(notes->arena, bytes, &loose->note, NULL);
    if (!rc)
        rc = mb_checkpoint_read(loose->note.text, &loose->checkpoint, NULL, NULL);
    if (rc)
        return mb_fail(err, MB_REFUSED,
                       "%s: this is no certificate, sheet, checkpoint or ledger of Markerbed",
                       path);
    mb_json_put(notes->arena, file, "origin",
                mb_json_string_str(notes->arena, loose->checkpoint.origin));
    mb_json_put_int(notes->arena, file, "checkpointSize", (int64_t)loose->checkpoint.size);
    if (notes->last)
        notes->last->next = loose;
    else
        notes->first = loose;
    notes->last = loose;
    return MB_OK;
}

/* What the keys of one ledger say to a note; keys of that name alone count. */
static enum mb_note_answer answer_of(const struct loose *loose, const mb_keyring *keys)
{
    enum mb_note_answer answer = MB_NOTE_UNSIGNED;

    for (size_t i = 0; i < mb_keyring_checkpoint_count(keys); i++) {
        const struct mb_vkey *vkey = &mb_keyring_checkpoint_at(keys, i)->vkey;
        enum mb_note_answer one;

        if (!mb_str_equal(vkey->name, loose->checkpoint.origin))
            continue;
        one = mb_note_signed_by(&loose->note, vkey, NULL);
        if (one == MB_NOTE_FORGED)
            return one;
        if (one == MB_NOTE_SIGNED)
            answer = one;
    }
    return answer;
}

static void judge_with(const struct loose *loose, const struct ring *ring, mb_sightings *seen,
                       mb_findings *findings, bool *known)
{
    enum mb_note_answer answer = answer_of(loose, ring->keys);
    const char *why;

    if (answer == MB_NOTE_UNSIGNED)
        return;
    *known = true;
    if (answer == MB_NOTE_FORGED)
        mb_find(findings, MB_F_CHECKPOINT_FORGED, whole, -1,
                "The checkpoint over %llu entries: a signature by a key of the ledger does not"
                " fit.",
                (unsigned long long)loose->checkpoint.size);
    else if (!mb_keyring_checkpoint_ok(ring->keys, &loose->note, loose->checkpoint.size,
                                       loose->checkpoint.size - 1, &why))
        mb_find(findings, MB_F_CHECKPOINT_KEY, whole, -1, "The checkpoint over %llu entries: %s.",
                (unsigned long long)loose->checkpoint.size, why);
    else
        mb_sightings_root(seen, loose->path, &ring->fingerprint, loose->checkpoint.origin,
                          loose->checkpoint.size, &loose->checkpoint.root);
}

size_t mb_loose_notes_judge(mb_loose_notes *notes, bool named, mb_sightings *seen,
                            mb_findings *findings)
{
    size_t unknown = 0;

    for (const struct loose *loose = notes->first; loose; loose = loose->next) {
        bool known = false;

        mb_findings_in_file(findings, named ? loose->path : NULL);
        for (const struct ring *ring = notes->rings; ring && !known; ring = ring->next)
            judge_with(loose, ring, seen, findings, &known);
        if (known)
            continue;
        unknown++;
        mb_find(findings, MB_F_UNKNOWN_LEDGER, whole, -1,
                "The checkpoint over %llu entries of %.*s is signed by no key that these files"
                " hold: give the ledger, or a certificate of it, beside it.",
                (unsigned long long)loose->checkpoint.size,
                MB_STR_ARG(loose->checkpoint.origin));
    }
    mb_findings_in_file(findings, NULL);
    return unknown;
}
