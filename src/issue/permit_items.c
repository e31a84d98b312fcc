/*
 * The 24 items of 36 CFR 291.17 (a) to (x), in force from 2015-05-18, in their order, read in an
 * unofficial copy (what each asks for is in our words). Each query gives one text, or nothing where
 * the record does not say.
 */
#include "permit_items.h"

#include "text.h"

#define NAME(ref) \
    "(SELECT CASE WHEN p.named_to = 'nobody' THEN coalesce(p.neutral_label, p.sub)" \
    " ELSE coalesce(p.name, p.neutral_label, p.sub) END FROM v_party p WHERE p.sub = " ref ")"
#define FIELD(seq, name) \
    "(SELECT x.value FROM v_field x WHERE x.seq = " seq " AND x.name = '" name "')"
#define ALL(what, from) \
    "SELECT group_concat(t, '; ') FROM (SELECT DISTINCT " what " AS t " from ")"
/* "12 of 15 pieces have ...": nothing where none has. */
#define OF_PIECES(has, words) \
    "SELECT CASE WHEN sum(" has ") > 0" \
    " THEN sum(" has ") || ' of ' || count(*) || ' " words "' END" \
    " FROM pieces JOIN v_specimen s USING (sub) LEFT JOIN found f ON f.sub = s.sub"

static const struct {
    const char *item, *sql;
} items[] = {
    { "Permittee", "SELECT " NAME("v.holder_now") " FROM v_permission v WHERE v.sub = ?1" },
    { "Permit number", "SELECT permit_number FROM v_permission WHERE sub = ?1" },
    { "Date of the report", NULL }, /* the day it is made */
    { "Project", ALL("nullif(purpose, 'not known')", "FROM found") },
    { "Methods", ALL("nullif(tools, 'not known')", "FROM found") },
    { "Days of field work",
      "SELECT count(DISTINCT event_date) || ' days, ' || date(min(day_first) * 86400, 'unixepoch')"
      " || ' to ' || date(max(day_last) * 86400, 'unixepoch') FROM found HAVING count(*) > 0" },
    { "Field crew",
      ALL(NAME("r.party"), "FROM (SELECT party FROM v_present WHERE field_day IN (SELECT field_day"
                           " FROM found) UNION SELECT party FROM v_collector WHERE seq IN (SELECT"
                           " seq FROM found)) r") },
    { "Results", "SELECT count(*) || ' finds, ' || sum(quantity) || ' pieces' FROM found HAVING"
                 " count(*) > 0" },
    { "Geology and stratigraphy",
      ALL("coalesce(h.formation, h.layer_name)",
          "FROM v_horizon h WHERE h.sub IN (SELECT horizon FROM found)") },
    { "Impacts",
      ALL(FIELD("d.seq", "groundLeft"), "FROM v_field_day d WHERE d.sub IN (SELECT field_day FROM"
                                        " found)") },
    { "Mitigation", "SELECT " FIELD("v.seq", "restoration") " FROM v_permission v WHERE v.sub ="
                    " ?1" },
    { "Literature",
      ALL("title", "FROM v_document WHERE doc_type = 'publication' AND sub IN (SELECT sub FROM"
                   " pieces UNION SELECT site FROM found)") },
    { "Associated records",
      "SELECT count(*) || ' papers and files' FROM v_document WHERE doc_type <> 'publication' AND"
      " (sub = ?1 OR sub IN (SELECT sub FROM pieces UNION SELECT site FROM found))"
      " HAVING count(*) > 0" },
    { "Specimens, by field number and place",
      OF_PIECES("f.record_number IS NOT NULL AND f.record_number NOT IN ('none', 'not known') AND"
                " f.site IS NOT NULL", "records have a field number and a place") },
    { "Repository", "SELECT " NAME("v.repository") " FROM v_permission v WHERE v.sub = ?1" },
    { "Accession and catalogue numbers",
      "SELECT count(*) || ' numbers' FROM v_numbering WHERE sub IN (SELECT sub FROM pieces) AND"
      " (number_type LIKE '%accession%' OR number_type LIKE '%catalog%') HAVING count(*) > 0" },
    { "Locality numbers",
      ALL("x.site_number", "FROM v_site x WHERE x.sub IN (SELECT site FROM found)") },
    { "Administrative area",
      ALL("x.unit", "FROM v_site x WHERE x.sub IN (SELECT site FROM found)") },
    { "Map and datum",
      ALL("nullif(x.datum, 'not recorded') || coalesce(', ' || x.source, '')",
          "FROM v_site x WHERE x.sub IN (SELECT site FROM found)") },
    { "Survey data",
      ALL("x.land_description", "FROM v_site x WHERE x.sub IN (SELECT site FROM found)") },
    { "Taxa", OF_PIECES("s.scientific_name IS NOT NULL", "records have a scientific name") },
    { "Condition",
      OF_PIECES("EXISTS (SELECT 1 FROM v_condition c WHERE c.sub = s.sub)",
                "records have a condition") },
    { "Where they are, and how many",
      OF_PIECES("s.quantity_now IS NOT NULL AND coalesce(s.holder, s.holder_label) IS NOT NULL",
                "records have a count and a keeper") },
    { "Care advised",
      OF_PIECES("EXISTS (SELECT 1 FROM v_condition c JOIN v_field y ON y.seq = c.seq AND y.name ="
                " 'care' AND y.value NOT IN ('none', 'not known') WHERE c.sub = s.sub)",
                "records have advice on care") },
};
_Static_assert(sizeof items / sizeof *items == 24, "letters (a) to (x)");

static enum mb_rc ask(mb_arena *arena, mb_db *db, const char *sql, struct mb_str permission,
                      struct mb_days days, struct mb_str *told, struct mb_error *err)
{
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(db, sql, &stmt, err);

    *told = (struct mb_str){ NULL, 0 };
    if (rc)
        return rc;
    mb_bind_text(stmt, 1, permission);
    mb_bind_int(stmt, 2, days.first);
    mb_bind_int(stmt, 3, days.last);
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        *told = mb_arena_str(arena, mb_col_text(stmt, 0));
    mb_stmt_free(stmt);
    return rc;
}

enum mb_rc mb_permit_items(mb_arena *arena, mb_db *db, const char *found,
                           struct mb_str permission, struct mb_days days, mb_json *rows,
                           struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < sizeof items / sizeof *items; i++) {
        mb_json *cells = mb_json_add(rows, mb_json_array(arena));
        struct mb_str told = mb_str_of(mb_day_write(arena, (int32_t)(mb_now() / 86400)));

        if (items[i].sql)
            rc = ask(arena, db, mb_arena_printf(arena, "%s%s", found, items[i].sql), permission,
                     days, &told, err);
        mb_json_add_text(arena, cells, mb_arena_printf(arena, "(%c)", 'a' + (int)i));
        mb_json_add_text(arena, cells, items[i].item);
        mb_json_add(cells, mb_json_string_str(arena, told.len ? told
                                                              : MB_STR(MB_PERMIT_NOT_GIVEN)));
    }
    return rc;
}
