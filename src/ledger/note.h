/*
 * Signed notes and checkpoints, as C2SP writes them down (signed-note v1.0.0, tlog-checkpoint
 * v1.0.0, tlog-cosignature v1.0.1): the signed word of a log about its size and root, and of
 * witnesses who saw it.
 *
 * Read strictly: no control character but LF, standard base64 with canonical padding, a key name
 * without space or '+'. A signature by an unknown (name, key ID) is passed over; one by a known
 * pair that does not verify makes the whole note refused.
 */
#ifndef MB_NOTE_H
#define MB_NOTE_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

#include "codec.h"
#include "crypto.h"

#define MB_NOTE_SIGNATURES_MAX 100
#define MB_NOTE_MAX (1u << 20)
#define MB_ORIGIN_MAX 255
#define MB_PROOF_NODES_MAX 63

enum mb_vkey_type {
    MB_VKEY_LOG = 0x01,     /* Ed25519 */
    MB_VKEY_WITNESS = 0x04  /* timestamped Ed25519 cosignature */
};

/* A verifier key: "name+hash+base64(type | key)". */
struct mb_vkey {
    struct mb_str name;
    uint32_t id; /* first 4 bytes of SHA-256(name | LF | type | key), big-endian */
    uint8_t type;
    struct mb_key key;
};

bool mb_key_name_ok(struct mb_str name); /* UTF-8, no space of any kind, no '+', no control */
/* Origins that this program makes: 1-255 printable ASCII characters without space and '+'. */
bool mb_origin_ok(struct mb_str origin);

/* MB_REFUSED if it is malformed or its hash is not its own; MB_UNABLE for a type that this program
 * does not know. name points into text. */
MB_CHECK enum mb_rc mb_vkey_read(struct mb_str text, struct mb_vkey *out, struct mb_error *err);
struct mb_vkey mb_vkey_make(struct mb_str name, enum mb_vkey_type type, const struct mb_key *key);
char *mb_vkey_write(mb_arena *arena, const struct mb_vkey *vkey);

struct mb_note_line {
    struct mb_str name;
    uint32_t id;
    struct mb_str payload; /* decoded bytes behind the key ID */
    struct mb_str line;    /* as it stood, with its line end */
};

struct mb_note {
    struct mb_str text; /* signed bytes: up to and with the last line end before the blank line */
    struct mb_note_line *lines;
    size_t count;
};

/* Takes the form apart; says nothing about signatures. Points into `bytes`. */
MB_CHECK enum mb_rc mb_note_read(mb_arena *arena, struct mb_str bytes, struct mb_note *out,
                                 struct mb_error *err);

enum mb_note_answer {
    MB_NOTE_UNSIGNED, /* no line by this key */
    MB_NOTE_SIGNED,
    MB_NOTE_FORGED /* a line that names this key and does not verify */
};

/* The first line of this key counts, later ones by the same key are passed over. For a witness,
 * *seen gets the time of the cosignature (may be NULL). */
enum mb_note_answer mb_note_signed_by(const struct mb_note *note, const struct mb_vkey *vkey,
                                      int64_t *seen);

/* "— name base64\n" by a log's own key over the note text, or by a witness at `seen`. */
char *mb_note_sign(mb_arena *arena, struct mb_str text, struct mb_str name,
                   const mb_secret *secret);
char *mb_note_cosign(mb_arena *arena, struct mb_str text, struct mb_str name,
                     const mb_secret *secret, int64_t seen);

struct mb_checkpoint {
    struct mb_str origin;
    uint64_t size;
    struct mb_hash root;
};

/* From a note's text; extension lines are refused in our own checkpoints by the caller, who sees
 * *extended (may be NULL). */
MB_CHECK enum mb_rc mb_checkpoint_read(struct mb_str text, struct mb_checkpoint *out,
                                       bool *extended, struct mb_error *err);
char *mb_checkpoint_text(mb_arena *arena, const struct mb_checkpoint *checkpoint);

/* C2SP tlog-proof v1 ("c2sp.org/tlog-proof@v1", index, hashes, blank line, checkpoint). */
struct mb_proof {
    uint64_t index;
    struct mb_hash *nodes;
    size_t count;
    struct mb_str checkpoint; /* the note, verbatim */
};
MB_CHECK enum mb_rc mb_proof_read(mb_arena *arena, struct mb_str bytes, struct mb_proof *out,
                                  struct mb_error *err);
char *mb_proof_write(mb_arena *arena, uint64_t index, const struct mb_hash *nodes, size_t count,
                     struct mb_str checkpoint);

#endif
