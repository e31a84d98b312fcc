/*
 * JSON values: how entries are read, how results of the library are handed out.
 *
 * Two ways of reading. MB_JSON_STRICT is the reading of docs/format.md, under which no two readers
 * can understand the same bytes differently: duplicate member names, numbers other than the
 * integers 0..2^53-1 written plainly, control and bidirectional formatting characters in text, and
 * nesting deeper than 16 are refused. MB_JSON_PLAIN is RFC 8259 for files that people bring
 * (GeoJSON, outlines): any number, kept as it was written; duplicates are still refused.
 *
 * Writing is canonical: members sorted by their names' bytes, no white space, only the escapes
 * that RFC 8785 asks for. For the values of MB_JSON_STRICT this is RFC 8785 as long as names are
 * ASCII, which the format demands.
 *
 * Values live in the arena that they were made in and point into the text they were read from
 * where no escape had to be undone, so the text must live as long as they do.
 */
#ifndef MARKERBED_JSON_H
#define MARKERBED_JSON_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

enum mb_json_type {
    MB_JSON_NULL,
    MB_JSON_FALSE,
    MB_JSON_TRUE,
    MB_JSON_INTEGER, /* .integer, 0..2^53-1 */
    MB_JSON_NUMBER,  /* any other number; .text is how it was written */
    MB_JSON_STRING,  /* .text, unescaped */
    MB_JSON_ARRAY,   /* .first, .count */
    MB_JSON_OBJECT   /* .first, .count; each child has a .name */
};

typedef struct mb_json mb_json;
struct mb_json {
    enum mb_json_type type;
    uint32_t count;     /* children of an array or object */
    struct mb_str name; /* in an object: this member's name */
    struct mb_str text;
    int64_t integer;
    mb_json *first, *last; /* children, in order */
    mb_json *next;         /* the next sibling */
};

enum mb_json_rules { MB_JSON_STRICT, MB_JSON_PLAIN };

#define MB_JSON_INTEGER_MAX 9007199254740991 /* 2^53-1 */
#define MB_JSON_DEPTH_STRICT 16
#define MB_JSON_DEPTH_PLAIN 200

/* Reads one whole text. MB_REFUSED with "line L, column C: ..." where it is not well formed. */
MB_CHECK enum mb_rc mb_json_read(mb_arena *arena, struct mb_str text, enum mb_json_rules rules,
                                 const mb_json **out, struct mb_error *err);

/* Looking: each accepts NULL and answers NULL, false or the fallback for another type of value. */
const mb_json *mb_json_get(const mb_json *object, const char *name);
const mb_json *mb_json_get_str(const mb_json *object, struct mb_str name);
const mb_json *mb_json_at(const mb_json *array, size_t index);
bool mb_json_is(const mb_json *value, enum mb_json_type type);
bool mb_json_text_is(const mb_json *value, const char *text);
struct mb_str mb_json_str(const mb_json *value);              /* {NULL, 0} if it is no string */
const char *mb_json_cstr(mb_arena *arena, const mb_json *v);  /* zero-terminated copy, or NULL */
int64_t mb_json_int(const mb_json *value, int64_t fallback);
bool mb_json_true(const mb_json *value);
bool mb_json_equal(const mb_json *a, const mb_json *b); /* same value; member order is no matter */

#define MB_JSON_EACH(child, parent) \
    for (const mb_json *child = (parent) ? (parent)->first : NULL; child; child = child->next)

/* Making. Names and texts are copied into the arena; values put in are linked, not copied: a value
 * has one parent (mb_json_copy makes another). A name put again takes the place of the first; a
 * NULL text makes a null. Each returns the value it made or put. */
mb_json *mb_json_object(mb_arena *arena);
mb_json *mb_json_array(mb_arena *arena);
mb_json *mb_json_string(mb_arena *arena, const char *text);
mb_json *mb_json_string_str(mb_arena *arena, struct mb_str text);
mb_json *mb_json_integer(mb_arena *arena, int64_t number);
mb_json *mb_json_bool(mb_arena *arena, bool truth);
mb_json *mb_json_null(mb_arena *arena);
mb_json *mb_json_copy(mb_arena *arena, const mb_json *value);
mb_json *mb_json_put(mb_arena *arena, mb_json *object, const char *name, mb_json *value);
mb_json *mb_json_put_str(mb_arena *arena, mb_json *object, struct mb_str name, mb_json *value);
mb_json *mb_json_put_text(mb_arena *arena, mb_json *object, const char *name, const char *text);
mb_json *mb_json_put_int(mb_arena *arena, mb_json *object, const char *name, int64_t number);
mb_json *mb_json_put_bool(mb_arena *arena, mb_json *object, const char *name, bool truth);
mb_json *mb_json_add(mb_json *array, mb_json *value);
mb_json *mb_json_add_text(mb_arena *arena, mb_json *array, const char *text);

/* Writing. Canonical (see above), and for people: two-space indentation, members in given order. */
struct mb_str mb_json_write(mb_arena *arena, const mb_json *value);
struct mb_str mb_json_write_pretty(mb_arena *arena, const mb_json *value);

#endif
