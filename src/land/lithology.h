/*
 * Rock by the words that people use for it, so that it can be drawn. The patterns are our own and
 * few; the words of the record stand beside each.
 *
 * "grey sandy shale with bentonite" is shale: the last rock named before "with", "and", "over",
 * "under", "between", a comma or a semicolon.
 */
#ifndef MB_LITHOLOGY_H
#define MB_LITHOLOGY_H

#include <stdbool.h>
#include <stddef.h>

#include <markerbed/arena.h>

enum mb_lithology {
    MB_LITHO_UNKNOWN, /* rock that none of the words below names */
    MB_LITHO_ABSENT,  /* not on record, or not exposed */
    MB_LITHO_CHALK,
    MB_LITHO_LIMESTONE,
    MB_LITHO_MARL,
    MB_LITHO_DOLOMITE,
    MB_LITHO_SHALE,
    MB_LITHO_MUDSTONE,
    MB_LITHO_SILTSTONE,
    MB_LITHO_SANDSTONE,
    MB_LITHO_CONGLOMERATE,
    MB_LITHO_ASH,
    MB_LITHO_COAL,
    MB_LITHO_IRONSTONE,
    MB_LITHO_GYPSUM,
    MB_LITHO_CHERT,
    MB_LITHO_IGNEOUS,
    MB_LITHO_COUNT
};

/* "shale"; what the legend calls it. */
extern const char *const mb_lithology_word[MB_LITHO_COUNT];

enum mb_lithology mb_lithology_of(struct mb_str rock); /* NULL .at or empty: absent */
/* By its word; unknown for any other. */
enum mb_lithology mb_lithology_read(struct mb_str word);

#endif
