/*
 * Inside of the JSON reader of outlines: what its files share. A member that is absent leaves the
 * output as it was, except where it says "must".
 */
#ifndef MB_OUTLINE_READING_H
#define MB_OUTLINE_READING_H

#include <markerbed/json.h>

#include "outline_build.h"

struct mb_reading {
    mb_arena *arena;
    struct mb_outlines *all;
    struct mb_view *view; /* the one being read */
    bool individuals_listed;
    struct mb_error *err;
};

#define MB_COUNT_OF(list) (sizeof(list) / sizeof((list)[0]))

/* value must be an object with no member but the named ones; `what` it is, for the sentence. */
MB_CHECK enum mb_rc mb_field_members(struct mb_reading *r, const mb_json *value, const char *what,
                                     const char *const *names, size_t count);
bool mb_field_number(const mb_json *value, double *out);
MB_CHECK enum mb_rc mb_field_label(struct mb_reading *r, const mb_json *object, const char *name,
                                   const char **out);
/* Must be there, and above 0. */
MB_CHECK enum mb_rc mb_field_size(struct mb_reading *r, const mb_json *object, const char *name,
                                  double *out);
/* Written as a number or as a text; kept as it was written. */
MB_CHECK enum mb_rc mb_field_decimal(struct mb_reading *r, const mb_json *object, const char *name,
                                     const char **out);
/* Must be there; *out is its index among the words. */
MB_CHECK enum mb_rc mb_field_word(struct mb_reading *r, const mb_json *object, const char *name,
                                  const char *const *words, size_t count, size_t *out);

/* Reads each item of the list `name`, numbered from 1, and puts "what 3 ('its name')" before what
 * is wrong with one. */
typedef enum mb_rc mb_read_item(struct mb_reading *r, const mb_json *value, size_t number);
MB_CHECK enum mb_rc mb_reading_each(struct mb_reading *r, const mb_json *object, const char *name,
                                    const char *what, mb_read_item *read);

/* The label of an individual, checked against the list if there is one. */
MB_CHECK enum mb_rc mb_reading_individual(struct mb_reading *r, const mb_json *object,
                                          const char **out);
/* What must belong to one: the only individual if none is named; element "" if none is. */
MB_CHECK enum mb_rc mb_reading_owner(struct mb_reading *r, const mb_json *object,
                                     const char **individual, const char **element);
/* "region 3 ('left rib')" */
const char *mb_reading_place(struct mb_reading *r, const char *what, size_t number,
                             const char *name);
/* The first two values of a list, as a place. */
MB_CHECK enum mb_rc mb_reading_xy(struct mb_reading *r, const mb_json *value, struct mb_xy *out);

mb_read_item mb_reading_count, mb_reading_estimate; /* outline_counts.c */

#endif
