/*
 * As much XML as drawing programs write, read from front to back: elements and attributes. Text,
 * comments, CDATA and processing instructions are passed over. A document type with declarations
 * of its own is refused, and so are entities other than the five that XML knows: a file that
 * swells by its own rules is no drawing. (XML 1.0, fifth edition, W3C 2008; namespaces are not
 * resolved, only the usual prefix "svg:" is taken off.)
 */
#ifndef MB_SVGXML_H
#define MB_SVGXML_H

#include <stdbool.h>
#include <stddef.h>

#include <markerbed/arena.h>

enum { MB_SVGXML_DEPTH_MAX = 200, MB_SVGXML_ATTRIBUTES_MAX = 200 };

struct mb_svgxml_attribute {
    struct mb_str name, value; /* value: entities undone */
};

enum mb_svgxml_event { MB_SVGXML_OPEN, MB_SVGXML_CLOSE, MB_SVGXML_END };

struct mb_svgxml {
    mb_arena *arena;
    struct mb_str rest;
    size_t line; /* where the reader stands, from 1 */
    bool empty;  /* <x/>: its CLOSE comes next */
    bool seen;   /* the outermost element has begun */
    size_t depth;
    struct mb_str open[MB_SVGXML_DEPTH_MAX]; /* names as written */
    /* Of the element that OPEN just told of; good until the next call. */
    struct mb_str name;
    size_t line_open;
    size_t attribute_count;
    struct mb_svgxml_attribute attributes[MB_SVGXML_ATTRIBUTES_MAX];
};

/* The text must be UTF-8 and live as long as what is read from it. */
void mb_svgxml_init(struct mb_svgxml *xml, mb_arena *arena, struct mb_str text);
/* MB_REFUSED: "line 12: ...". CLOSE comes for every OPEN; after END there is nothing more. */
MB_CHECK enum mb_rc mb_svgxml_next(struct mb_svgxml *xml, enum mb_svgxml_event *out,
                                   struct mb_error *err);
/* {NULL, 0} if the element has no such attribute. */
struct mb_str mb_svgxml_get(const struct mb_svgxml *xml, const char *name);

#endif
