/* One entry on its way through the door: what door.c, subjects.c, fill.c, correct.c and caution.c
 * share. */
#ifndef MB_CHECKING_H
#define MB_CHECKING_H

#include "door.h"
#include "story.h"
#include "value.h"

/* What is kept while a group is open. Nobody else appends meanwhile, so it stays true until our own
 * appends change it (mb_subjects_changed). */
struct mb_door {
    /* subjects known to exist, by their lower-case spelling */
    mb_arena *subject_arena;
    struct mb_str *subjects;
    size_t subject_count, subject_room;

    /* stories of field-days, dealings and parties that many entries are filled in from */
    mb_arena *story_arena;
    struct mb_kept_story *stories;

    mb_arena *group_arena;
    const mb_json *settings; /* NULL until asked for */
    signed char *rights;     /* by kind: 0 not asked yet, 1 the key may record it */

    mb_stmt *backwards; /* the log, newest first */
};

struct mb_kept_story {
    struct mb_str subject;
    const mb_story *story;
    struct mb_kept_story *next;
};

struct mb_checking {
    mb_ledger *ledger;
    struct mb_door *door;
    mb_arena *arena;
    const struct mb_recording *what;
    struct mb_door_way way;
    const struct mb_kind *kind;
    const char *subject;   /* as recorded, or as typed where it is new */
    struct mb_str prefix, id;
    bool known;            /* the subject has entries */
    const mb_json **values; /* by index in kind->fields; NULL: none yet */
    bool *settled;         /* typed, or typed to be left out */
    mb_json *filled, *warnings;
    const mb_json *cautions;
    struct mb_attached *files;
    struct mb_value_in in;
    bool new_pieces;       /* references may name specimens that do not exist yet */
    bool recorder_unknown; /* something could have been filled in if the recorder were described */
};

void mb_checking_warn(struct mb_checking *c, const char *format, ...) MB_PRINTF(2, 3);

/* ---- subjects.c ---- */

/* "prefix/ID" as first recorded; MB_NO if nothing is recorded on it. */
MB_CHECK enum mb_rc mb_subjects_find(mb_ledger *ledger, mb_arena *arena, struct mb_str prefix,
                                     struct mb_str id, struct mb_str *subject,
                                     struct mb_error *err);
/* The functions that struct mb_value_in asks for; ctx is a struct mb_checking. */
MB_CHECK enum mb_rc mb_checking_ref(void *ctx, const struct mb_words *prefixes, struct mb_str text,
                                    bool quiet, struct mb_str *subject, struct mb_error *err);
MB_CHECK enum mb_rc mb_checking_entry(void *ctx, struct mb_str text, struct mb_str *leaf,
                                      struct mb_error *err);
MB_CHECK enum mb_rc mb_checking_file(void *ctx, const struct mb_kind_field *field,
                                     struct mb_str path, mb_json **value, struct mb_error *err);
/* "unknown site S01; did you mean S001? ..." */
MB_CHECK enum mb_rc mb_subjects_unknown(mb_ledger *ledger, mb_arena *arena, const char *prefix,
                                        struct mb_str id, struct mb_error *err);
/* The story of a subject, kept while the group lasts. */
MB_CHECK enum mb_rc mb_subjects_story(mb_ledger *ledger, struct mb_str subject,
                                      const mb_story **out, struct mb_error *err);
/* Gives up kept stories where there are many; what mb_subjects_story gave lasts until then. */
void mb_subjects_trim(struct mb_door *door);
/* The newest entry of a kind that still stands; NULL if there is none. */
const struct mb_told *mb_story_newest(const mb_story *story, struct mb_str kind);
/* An entry was appended to this subject. */
void mb_subjects_changed(struct mb_door *door, struct mb_str subject);

/* ---- correct.c ---- */

/* The rest of the way for a `correction`. */
MB_CHECK enum mb_rc mb_correct_check(struct mb_checking *c, struct mb_field **fields,
                                     size_t *count, struct mb_error *err);

/* ---- door.c, for correct.c ---- */

/* Reads one typed value into c->values. */
MB_CHECK enum mb_rc mb_checking_take(struct mb_checking *c, const struct mb_typed *typed,
                                     const struct mb_kind_field *field, mb_json **out,
                                     struct mb_error *err);
/* Refuses naming all that is missing. */
MB_CHECK enum mb_rc mb_checking_whole(struct mb_checking *c, struct mb_error *err);
MB_CHECK enum mb_rc mb_checking_no_field(struct mb_checking *c, const struct mb_kind *kind,
                                         const char *name, struct mb_error *err);

/* ---- caution.c ---- */

/* Warns of what is allowed and mostly a slip: a number that gives away a name, a photo that gives
 * away the place. */
MB_CHECK enum mb_rc mb_caution(struct mb_checking *c, struct mb_error *err);

/* A signature of the other side is sound and over an entry of this subject: otherside.c. */
MB_CHECK enum mb_rc mb_otherside_check(struct mb_checking *c, struct mb_error *err);

#endif
