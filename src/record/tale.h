/* One subject's chain, read from the log, with small readings of what its entries say after
 * corrections. */
#ifndef MB_TALE_H
#define MB_TALE_H

#include "date.h"
#include "log.h"
#include "story.h"

struct mb_tale {
    mb_arena *arena;
    struct mb_str sub, prefix, id;
    struct mb_entry *entries;
    size_t count;
    mb_story *story;
};

MB_CHECK enum mb_rc mb_tale_read(mb_log *log, mb_arena *arena, struct mb_str sub, int64_t before,
                                 struct mb_tale *out, struct mb_error *err);
const struct mb_told *mb_tale_at(const struct mb_tale *tale, size_t index);
/* Not voided, and of this kind (NULL: any). */
bool mb_tale_stands(const struct mb_tale *tale, size_t index, const char *kind);
/* The newest standing entry of a kind, NULL if there is none. */
const struct mb_told *mb_tale_newest(const struct mb_tale *tale, const char *kind);
/* Index of the entry that {"entry":leaf} names on this chain, -1 if it names none. */
ptrdiff_t mb_tale_find(const struct mb_tale *tale, const mb_json *entry);
int64_t mb_tale_seq(const struct mb_tale *tale, const mb_json *entry); /* -1 */
/* What a correction or the like is about: its seq on this chain, -1. */
int64_t mb_tale_about(const struct mb_tale *tale, const struct mb_told *told);
const mb_json *mb_told_value(const struct mb_told *told, const char *name);
struct mb_str mb_told_words(mb_arena *arena, const struct mb_told *told, const char *name);
/* Every field as it stands after corrections, without those that a correction takes away; of a
 * correction only what is about the correction itself. from: the entry that says so. */
typedef void mb_told_fn(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in,
                        int64_t from);
void mb_told_fields(const struct mb_told *told, mb_told_fn *each, void *ctx);
bool mb_told_is(const struct mb_told *told, const char *name, const char *words);
/* party/ID and the like; {NULL, 0} if the value is no reference. */
struct mb_str mb_told_ref(const struct mb_told *told, const char *name);
/* When what it tells of happened; false if the entry does not say. */
bool mb_told_days(const struct mb_told *told, struct mb_days *out);
int32_t mb_recorded_day(const struct mb_entry *entry);
/* The same, the day of recording where it does not say. */
struct mb_days mb_told_days_or(const struct mb_told *told);

/* A label for people, as far as the chain itself says: a party's name, a site's, a layer's. */
struct mb_str mb_tale_label(const struct mb_tale *tale);

#endif
