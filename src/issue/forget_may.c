/*
 * Refused for good: reports and permits as a whole; of what was found under a permit the place, the
 * day, the collector and the quantity, wherever they are kept: in the find, in the field-day, in
 * the site, and in the names of who collected. A permit is one that an agency gave, one for salvage
 * or under a museum's agreement, and whatever a report was filed on.
 */
#include "forget_may.h"

#include <string.h>

#include "text.h"

#define PERMITS \
    "(SELECT sub FROM v_permission WHERE permission_type IN ('agency permit', 'salvage'," \
    " 'museum agreement') UNION SELECT permission FROM v_permission_report)"
#define DAYS "(SELECT sub FROM v_field_day WHERE permission IN " PERMITS ")"
#define FINDS \
    "(SELECT sub FROM v_find WHERE permission IN " PERMITS " OR field_day IN " DAYS \
    " UNION SELECT m.ref FROM v_mention m WHERE m.ref LIKE 'specimen/%' AND m.sub IN" \
    " (SELECT permission FROM v_permission_report))"

static const char *const find_fields[] = {
    "fieldDay", "eventDate", "verbatimEventDate", "site", "horizon", "recordedBy", "foundBy",
    "permission", "purpose", "tools", "recordNumber", "objectQuantity", "quantityHow",
    "individualCount", "materialClass", "verbatimIdentification", "mass", "massHow",
    "massWithMatrix", "decimalLatitude", "decimalLongitude", "geodeticDatum",
    "verbatimCoordinates", "coordinateSource", "mapScale", "fromFeature", "uncertaintyParts",
    "coordinateUncertaintyInMeters", "heightAboveBase", "heightAboveBaseTo", "heightDatum",
    "fieldNotes", "notebookPage", "placePhotos", NULL,
};
static const char *const name_fields[] = { "name", NULL };
/* Everything but these. */
static const char *const free_of_site[] = { "siteHazards", "remarks", NULL };
static const char *const free_of_day[] = { "weather", "remarks", NULL };
static const char *const free_of_none[] = { NULL };

static const struct rule {
    const char *prefix;
    const char *const *only;   /* these fields */
    const char *const *except; /* or all but these */
    const char *sql;           /* a row where the subject ?1 is one of them */
    const char *why;
} rules[] = {
    { "permission/", NULL, free_of_none, "SELECT 1 WHERE ?1 IN " PERMITS,
      "it is a permit, or a report was filed on it" },
    { "specimen/", find_fields, NULL, "SELECT 1 WHERE ?1 IN " FINDS,
      "the piece was found under a permit, whose report rests on it" },
    { "field-day/", NULL, free_of_day,
      "SELECT 1 WHERE ?1 IN " DAYS " OR ?1 IN (SELECT field_day FROM v_find WHERE sub IN " FINDS
      ")",
      "that day's finds were made under a permit, whose report rests on it" },
    { "site/", NULL, free_of_site,
      "SELECT 1 WHERE ?1 IN (SELECT site FROM v_find WHERE sub IN " FINDS
      " UNION SELECT site FROM v_field_day WHERE sub IN " DAYS
      " UNION SELECT site FROM v_permission_site WHERE permission IN " PERMITS ")",
      "pieces were found there under a permit, whose report rests on the place" },
    { "party/", name_fields, NULL,
      "SELECT 1 WHERE ?1 IN (SELECT party FROM v_collector WHERE sub IN " FINDS
      " UNION SELECT party FROM v_present WHERE field_day IN " DAYS
      " UNION SELECT party FROM v_permission_person WHERE permission IN " PERMITS
      " UNION SELECT holder FROM v_permission WHERE sub IN " PERMITS ")",
      "it names who collected under a permit, or holds one, and its report rests on that" },
};

static bool among(const char *const *words, const char *word)
{
    for (; *words; words++)
        if (strcmp(*words, word) == 0)
            return true;
    return false;
}

static enum mb_rc first_number(mb_db *db, const char *sql, const char *subject, int64_t *number,
                               struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(db, sql, &stmt, err);

    *number = -1;
    if (rc)
        return rc;
    if (subject)
        mb_bind_text(stmt, 1, mb_str_of(subject));
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        *number = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    return rc;
}

enum mb_rc mb_forget_claims(mb_db *views, struct mb_error *err)
{
    int64_t seq;
    enum mb_rc rc = first_number(views,
                                 "SELECT min(seq) FROM v_claim WHERE is_open"
                                 " AND hold = 'do not erase' HAVING count(*) > 0",
                                 NULL, &seq, err);

    if (!rc && seq >= 0)
        rc = mb_fail(err, MB_REFUSED,
                     "nothing is erased while the claim of entry #%lld is open: it asks that"
                     " nothing be erased; when it is settled, record that first",
                     (long long)seq);
    return rc;
}

enum mb_rc mb_forget_rests(mb_db *views, mb_arena *arena, const struct mb_trace *trace,
                           const char **why, struct mb_error *err)
{
    /* what certificates said of it is no part of any report */
    bool own = strcmp(trace->kind, "certificate") == 0;

    for (size_t i = 0; !own && i < sizeof rules / sizeof *rules; i++) {
        const struct rule *rule = &rules[i];
        int64_t row = -1;
        enum mb_rc rc;

        if (!mb_str_starts(mb_str_of(trace->subject), rule->prefix)
            || (rule->only ? !among(rule->only, trace->field)
                           : among(rule->except, trace->field)))
            continue;
        rc = first_number(views, rule->sql, trace->subject, &row, err);
        if (rc)
            return rc;
        if (row >= 0) {
            *why = mb_arena_text(arena, rule->why);
            return MB_NO;
        }
    }
    return MB_OK;
}
