/*
 * What an entry says in one plain sentence, by a table of templates (sentence.c), and the words of
 * a single value. Both tell what the entry says after corrections; who may see it is not asked
 * here.
 */
#ifndef MB_SENTENCE_H
#define MB_SENTENCE_H

#include "buf.h"
#include "date.h"
#include "story.h"

/* Names for references: {NULL, 0} where the subject itself is to be written. */
struct mb_naming {
    struct mb_str (*name)(void *ctx, struct mb_str ref);
    void *ctx;
};

/* about: the entry that a correction, withdrawal, countersignature or erasure is about, -1 where
 * that is not known. Never empty; at most some 400 bytes. naming may be NULL. */
struct mb_str mb_sentence(mb_arena *arena, const struct mb_told *told, int64_t about,
                          const struct mb_naming *naming);

/* Is there a template for this kind? Others are told by their title alone. */
bool mb_sentence_knows(struct mb_str kind);

/* The field that holds the day on which what this kind tells of happened; NULL if there is none. */
const char *mb_event_field(struct mb_str kind);
/* Acts of the ledger itself happen when they are recorded. */
bool mb_kind_is_own_act(struct mb_str kind);

/* The words of a value: lists with "; ", rows as "name: value, ...", references as they are
 * written, a number with its unit. {NULL, 0} for what has none (geometry). */
struct mb_str mb_words(mb_arena *arena, const mb_json *value);

/* Small readings of a value; each accepts NULL. */
bool mb_value_is_answer(const mb_json *value);
/* An integer, however written. Past a million million it is no count of anything, and a chain of
 * such could not be summed. */
#define MB_COUNT_MOST 1000000000000
bool mb_value_count(const mb_json *value, int64_t *out);
bool mb_value_days(const mb_json *value, struct mb_days *out); /* a date */

#endif
