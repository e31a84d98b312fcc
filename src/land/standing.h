/* Standing of several specimens at once, for certificates. */
#ifndef MB_STANDING_H
#define MB_STANDING_H

#include <markerbed/audit.h>

struct mb_stood {
    const mb_json *acts; /* as mb_standing gives them */
    /* One line: "collecting: shown on the record; ...; selling: in question (04 day-outside)". It
     * names rules and nothing of the record, so that nothing withheld leaves with it. */
    const char *words;
    const char *bar; /* why no sheet for a sale is made; NULL: nothing on file stands against it */
};

/* As things stand now. Not inside a group. */
MB_CHECK enum mb_rc mb_standings(mb_ledger *ledger, mb_arena *arena, const struct mb_str *specimens,
                                 size_t count, struct mb_stood *out, struct mb_error *err);

#endif
