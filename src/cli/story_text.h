/* The story of one subject in words: what mb_show answers, for a person. */
#ifndef MB_STORY_TEXT_H
#define MB_STORY_TEXT_H

#include "screen.h"

struct story_text {
    const struct screen *screen;
    const mb_json *story; /* as mb_show gives it */
    const mb_json *kinds; /* for titles; NULL: names in their place */
    bool full;            /* every field of every entry */
};

/* What describes it now, entry by entry. */
void story_print_now(const struct story_text *text);
/* The entries in order; what was struck out or corrected stays and is marked. */
void story_print_entries(const struct story_text *text);
/* A list of objects as a table, of texts as lines, under a heading; nothing if it is empty. */
void story_print_list(const struct story_text *text, const mb_json *list, const char *heading);
/* Where the pieces came from and went. */
void story_print_account(const struct story_text *text);

#endif
