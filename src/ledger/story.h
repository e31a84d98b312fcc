/*
 * What the entries of one subject say after corrections.
 *
 * A `correction` names an earlier entry of the same subject by its leaf hash (open field `target`,
 * {"entry":hash}) and an `action`: "change fields", or one that begins "void". Changing: every
 * field of the correction except its own (mb_correction_own) replaces the field of that name in
 * the target; a null takes the field away. The newest replacement counts. Voiding: the target says
 * nothing any more. Both stay visible. A correction can itself be voided by a later one, and then
 * changes nothing. Entries of the kinds founding, key-*, checkpoint-key, certificate, withdrawal,
 * countersign, division, joining and erasure are never changed.
 */
#ifndef MB_STORY_H
#define MB_STORY_H

#include "entry.h"

struct mb_replacement {
    struct mb_str name;
    const mb_json *value;
    enum mb_class in;
    int64_t seq; /* of the correction */
    struct mb_replacement *next; /* older ones behind */
};

/* A correction that stands, of which some fields may not be shown. */
struct mb_correcting {
    const struct mb_entry *entry;
    struct mb_correcting *next; /* older ones behind */
};

struct mb_told {
    const struct mb_entry *entry;
    int64_t voided_by; /* seq of the correction, -1 if it stands */
    struct mb_replacement *changes;    /* newest first */
    struct mb_correcting *corrections; /* the ones that change it, newest first */
};

typedef struct mb_story mb_story;

mb_story *mb_story_new(mb_arena *arena);
/* In the order of the chain. The entry must live as long as the story. */
void mb_story_add(mb_story *story, const struct mb_entry *entry);
size_t mb_story_count(const mb_story *story);
const struct mb_told *mb_story_at(const mb_story *story, size_t index);

/* The value of a field as it stands now: NULL if it is not there, not shown, or taken away.
 * *seq (may be NULL) gets the entry that says so, *in its class. */
const mb_json *mb_told_field(const struct mb_told *told, const char *name, int64_t *seq,
                             enum mb_class *in);

/* The fields of a correction that are about the correction itself. */
bool mb_correction_own(struct mb_str name);
/* True for the kinds of schema/kinds. */
bool mb_kind_is_known(struct mb_str kind);
/* Kinds that no correction may touch. */
bool mb_kind_is_final(struct mb_str kind);

#endif
