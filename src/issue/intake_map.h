/*
 * The map of an intake: which column of a table becomes which field of which entry
 * (docs/intake.md). One row can make several entries: a site, a horizon and a specimen.
 *
 *   {"format":"markerbed-map/1",
 *    "entries":[{"kind":"site","subject":"site/C{collection_no}","once":true,
 *                "when":{"column":"collection_no"},
 *                "fields":{"siteName":"{collection_name}",
 *                          "countryCode":{"from":"{cc}","values":{"UK":"GB"}},
 *                          "county":"not known"},
 *                "rest":"fieldNotes"}]}
 *
 * A template is text with {column} in it; {column|id} makes an ID of what stands there. A template
 * whose columns are all empty gives nothing, and its field is left out. "values" translates what a
 * template gave; "else" is taken for what it does not list (without "else": as it stands; with
 * "else":null: left out). "when" makes the entry only where the column is not empty (or is one of
 * "in"). "once": rows that name the same subject again make no second entry. "rest" names the field
 * that keeps, as "column: value" lines, all columns that no template uses; where they are all
 * empty, what "fields" has for it. A column without a name is called "column 7", by its place.
 */
#ifndef MB_INTAKE_MAP_H
#define MB_INTAKE_MAP_H

#include <markerbed/json.h>

#include "csv.h"

struct mb_map {
    mb_arena *arena;
    const mb_json *json;
    struct mb_str *columns; /* the table's header */
    size_t count;
    bool *used;
};

/* Reads a map file and ties it to a table's header; path NULL: columns are named as fields, and two
 * of them are `kind` and `subject`. MB_REFUSED with a near miss for a column, kind, field or member
 * that is not there. */
MB_CHECK enum mb_rc mb_map_read(mb_arena *arena, const char *path, const struct mb_str *columns,
                                size_t count, struct mb_map *out, struct mb_error *err);

struct mb_mapped {
    const mb_json *rule; /* the map's entry that it was made by */
    const char *kind, *subject;
    bool once;
    const char **names, **values;
    size_t count;
};
/* The entries of one row, in the map's order. */
MB_CHECK enum mb_rc mb_map_row(const struct mb_map *map, mb_arena *arena,
                               const struct mb_csv_record *record, struct mb_mapped **out,
                               size_t *count, struct mb_error *err);

/* The columns that a rule makes this field from, "a, b"; NULL if none. */
const char *mb_map_columns(const struct mb_map *map, mb_arena *arena, const mb_json *rule,
                           struct mb_str field);

#endif
