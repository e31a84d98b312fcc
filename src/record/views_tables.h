/* Which fields of which kind make which columns of the views. schema/views.sql has the same tables
 * as SQL, docs/views.md in words. */
#ifndef MB_VIEWS_TABLES_H
#define MB_VIEWS_TABLES_H

#include <stdbool.h>
#include <stddef.h>

enum mb_cell {
    C_WORDS,
    C_INT,
    C_FIRST, /* day numbers of a date */
    C_LAST,
    C_JSON,
    C_VALUE, /* of a number with a unit */
    C_UNIT,
    C_KG,
    C_REAL,
    C_SEQ, /* of an entry on the same chain */
    C_LAND,   /* a part of a land description: "legalDescription.township" */
    X_RADIUS, /* of a circle, without what the datum leaves open */
    X_LEAF,
    X_DAY,
    X_COUNTERSIGNED,
    X_GIVER,
    X_UNTIL_NOW,
    X_UNTIL_NOW_DAY,
    X_LAST_CHANGE,
    X_LAST_CHANGE_DAY,
    X_HOLDER_NOW,
    X_REPLACED_BY,
    X_WITHDRAWN_BY,
    X_WITHDRAWN_WHY,
    X_CHANGED_BY,
    X_OPEN,
    X_CLOSED_BY
};

struct mb_view_column {
    const char *name;
    const char *field; /* "a|b": the first that is there; in a list: a column of its rows, "." the
                        * element itself, "^x" a field of the entry */
    enum mb_cell how;
};

struct mb_view_table {
    const char *name, *kind;
    const char *key;  /* what its column of the subject is called */
    const char *list; /* a row for each element of this field; NULL: one row */
    bool by_subject;  /* one row (or list) a subject, of the newest entries; else one an entry */
    const struct mb_view_column *columns;
    size_t count;
};

enum { MB_VIEW_TABLES_MOST = 64 };

extern const struct mb_view_table mb_view_tables[];
extern const size_t mb_view_tables_count;

#endif
