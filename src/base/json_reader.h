/* What the two halves of the JSON reader (values, texts) share. */
#ifndef MB_JSON_READER_H
#define MB_JSON_READER_H

#include <markerbed/json.h>

struct mb_json_reader {
    mb_arena *arena;
    const char *start, *at, *end; /* the whole text, and what is read next */
    bool strict;
    int depth, depth_max;
    struct mb_error *err;
};

/* Says "line L, column C: ..." of a place in the text and returns MB_REFUSED. */
enum mb_rc mb_json_refuse(const struct mb_json_reader *r, const char *where, const char *format,
                          ...) MB_PRINTF(3, 4);

/* Reads the text that begins with the quotation mark at r->at, and goes behind it. A text without
 * escapes is not copied. Names of members are held to narrower rules under MB_JSON_STRICT. */
enum mb_rc mb_json_read_string(struct mb_json_reader *r, bool name, struct mb_str *out);

#endif
