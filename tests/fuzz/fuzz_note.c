/* Fuzzing the readers of notes, checkpoints, verifier keys and proofs: whatever is accepted is
 * written again to the byte. The first byte says which reader gets the rest. */
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "note.h"
#include "text.h"

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void said(enum mb_rc rc, const struct mb_error *err)
{
    must(rc == MB_OK || rc == MB_REFUSED || rc == MB_UNABLE);
    must((rc == MB_OK) == (err->text[0] == '\0'));
    must(mb_text_allowed(mb_str_of(err->text), false));
}

static void checkpoint(mb_arena *arena, struct mb_str text)
{
    struct mb_checkpoint checkpoint;
    struct mb_error err = { 0 };
    bool extended;
    enum mb_rc rc = mb_checkpoint_read(text, &checkpoint, &extended, &err);

    said(rc, &err);
    if (!rc && !extended && !memchr(text.at, 0, text.len)) /* no note holds a zero */
        must(mb_str_is(text, mb_checkpoint_text(arena, &checkpoint)));
}

static void vkey(mb_arena *arena, struct mb_str text)
{
    struct mb_error err = { 0 };
    struct mb_vkey vkey;
    enum mb_rc rc = mb_vkey_read(text, &vkey, &err);

    said(rc, &err);
    if (!rc)
        must(mb_str_is(text, mb_vkey_write(arena, &vkey)));
}

static void note(mb_arena *arena, struct mb_str bytes)
{
    struct mb_vkey key = mb_vkey_make(MB_STR("k"), MB_VKEY_LOG, &(struct mb_key){ { 1 } });
    struct mb_error err = { 0 };
    struct mb_note note;
    enum mb_rc rc = mb_note_read(arena, bytes, &note, &err);
    const char *at;

    said(rc, &err);
    if (rc)
        return;
    must(note.text.at == bytes.at && note.count > 0 && note.count <= MB_NOTE_SIGNATURES_MAX);
    at = bytes.at + note.text.len;
    must(*at++ == '\n');
    for (size_t i = 0; i < note.count; i++) {
        must(note.lines[i].line.at == at && mb_key_name_ok(note.lines[i].name));
        must(note.lines[i].payload.len > 0);
        at += note.lines[i].line.len;
    }
    must(at == bytes.at + bytes.len);
    must(mb_note_signed_by(&note, &key, NULL) != MB_NOTE_SIGNED);
    key = mb_vkey_make(note.lines[0].name, MB_VKEY_WITNESS, &(struct mb_key){ { 1 } });
    key.id = note.lines[0].id; /* as if the line were by this key: the whole way to the signature */
    must(mb_note_signed_by(&note, &key, NULL) == MB_NOTE_FORGED);
    checkpoint(arena, note.text);
}

static void proof(mb_arena *arena, struct mb_str bytes)
{
    struct mb_error err = { 0 };
    struct mb_proof proof;
    enum mb_rc rc = mb_proof_read(arena, bytes, &proof, &err);

    said(rc, &err);
    if (rc)
        return;
    must(proof.count <= MB_PROOF_NODES_MAX);
    if (!memmem(bytes.at, bytes.len, "\nextra ", 7))
        must(mb_str_is(bytes, mb_proof_write(arena, proof.index, proof.nodes, proof.count,
                                             proof.checkpoint))
             || memchr(bytes.at, 0, bytes.len));
    note(arena, proof.checkpoint);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t len)
{
    static void (*const readers[])(mb_arena *, struct mb_str) = { note, checkpoint, vkey, proof };
    mb_arena *arena = mb_arena_new();

    must(mb_crypto_start(NULL) == MB_OK);
    if (len > 0)
        readers[bytes[0] % 4](arena, (struct mb_str){ (const char *)bytes + 1, len - 1 });
    mb_arena_free(arena);
    return 0;
}
