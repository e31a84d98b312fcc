/*
 * What a permit's report has to hold, out of the record: the items that 36 CFR 291.17 lists for
 * National Forest land (2015-05-18; read in an unofficial copy), which serve other agencies too.
 * What the record does not have is said to be missing, for the permittee to add.
 */
#include <markerbed/land.h>

#include <string.h>

#include "date.h"
#include "permit_items.h"
#include "report_paper.h"
#include "text.h"
#include "views.h"

/* The people as they let themselves be named to a land manager. */
#define NAME(ref) \
    "(SELECT CASE WHEN p.named_to = 'nobody' THEN coalesce(p.neutral_label, p.sub)" \
    " ELSE coalesce(p.name, p.neutral_label, p.sub) END FROM v_party p WHERE p.sub = " ref ")"
#define FIELD(seq, name) \
    "(SELECT f.value FROM v_field f WHERE f.seq = " seq " AND f.name = '" name "')"
/* What is there of several, divided by commas. */
#define PART(sql) "coalesce(', ' || nullif(" sql ", ''), '')"
#define JOIN2(a, b) "substr(" PART(a) " || " PART(b) ", 3)"
#define JOIN3(a, b, c) "substr(" PART(a) " || " PART(b) " || " PART(c) ", 3)"
#define ID(sub) "substr(" sub ", instr(" sub ", '/') + 1)"

/* ?1 the permission or the agency, ?2 and ?3 the first and last day number. "scope" are the sites
 * and permissions that it is about; what is found has been found, moved or sold on those days. */
static const char of_permit[] =
    "WITH RECURSIVE scope(id) AS (SELECT ?1), found AS (SELECT * FROM v_find WHERE permission = ?1"
    " AND day_last >= ?2 AND day_first <= ?3), pieces(sub) AS (SELECT sub FROM found UNION"
    " SELECT s.sub FROM v_specimen s JOIN pieces ON s.parent = pieces.sub) ";
static const char of_agency[] =
    "WITH RECURSIVE scope(id) AS (SELECT site FROM v_land WHERE land_manager = ?1 UNION"
    " SELECT sub FROM v_permission WHERE grantor = ?1 AND grantor_capacity = 'agency officer'),"
    " found AS (SELECT f.* FROM v_find f WHERE (f.site IN (SELECT id FROM scope) OR f.permission IN"
    " (SELECT id FROM scope)) AND ((f.day_last >= ?2 AND f.day_first <= ?3) OR EXISTS (SELECT 1"
      " FROM"
    " v_custody c WHERE c.sub = f.sub AND (c.handed_day BETWEEN ?2 AND ?3 OR c.received_day BETWEEN"
    " ?2 AND ?3)) OR EXISTS (SELECT 1 FROM v_title t WHERE t.sub = f.sub AND t.day BETWEEN ?2 AND"
    " ?3))), pieces(sub) AS (SELECT sub FROM found UNION"
    " SELECT s.sub FROM v_specimen s JOIN pieces ON s.parent = pieces.sub) ";

enum about { PERMIT = 1, AGENCY = 2, BOTH = 3 };

struct section {
    const char *title, *head; /* of the columns, divided by | */
    const char *sql;          /* behind "@": with what was found */
    enum about about;
    bool none; /* having none is nothing to be added */
};

static const struct section sections[] = {
    { "Permittee and permit", "What|On the record",
      "SELECT 'Permittee', " NAME("v.holder_now") " FROM v_permission v WHERE sub = ?1"
      " UNION ALL SELECT 'Permit number', permit_number FROM v_permission WHERE sub = ?1"
      " UNION ALL SELECT 'Kind', permission_type FROM v_permission WHERE sub = ?1"
      " UNION ALL SELECT 'Given by', " NAME("v.grantor") " || ', ' || v.grantor_capacity"
      "   FROM v_permission v WHERE sub = ?1"
      " UNION ALL SELECT 'In force', valid_from || ' to ' || coalesce(until_now, valid_until)"
      "   FROM v_permission WHERE sub = ?1"
      " UNION ALL SELECT 'Changed', what || ' from ' || from_date FROM v_permission_change"
      "   WHERE permission = ?1"
      " UNION ALL SELECT 'Area', area_text FROM v_permission WHERE sub = ?1"
      " UNION ALL SELECT 'Administrative area', x.unit FROM v_permission_site s"
      "   JOIN v_site x ON x.sub = s.site WHERE s.permission = ?1"
      " UNION ALL SELECT 'Paper on file', title || coalesce(', ' || doc_date, '') ||"
      "   iif(confirmed IS NULL, '; not confirmed with the issuer', '; confirmed: ' || confirmed)"
      "   FROM v_document WHERE leaf = (SELECT document FROM v_permission WHERE sub = ?1)",
      PERMIT, false },
    { "Permits and rules of the land", "Number|Kind|Holder|In force|Repository",
      "@SELECT " ID("v.sub") " || coalesce(', ' || v.permit_number, ''), v.permission_type, "
      NAME("v.holder_now") ", v.valid_from || ' to ' || coalesce(v.until_now, v.valid_until), "
      NAME("v.repository") " FROM v_permission v WHERE v.sub IN (SELECT id FROM scope) OR v.sub IN"
      " (SELECT permission FROM found)",
      AGENCY, false },
    { "Project and methods", "Purpose|Tools|Finds",
      "@SELECT purpose, tools, count(*) FROM found GROUP BY 1, 2",
      BOTH, false },
    { "Field days and crew", "Day|Place|Present, as what|Notebook",
      "@SELECT d.event_date, " ID("d.site") ", (SELECT group_concat(" NAME("r.party")
      " || ', ' || r.role || coalesce(', supervised by ' || " NAME("r.supervised_by")
      ", ''), '; ') FROM v_present r WHERE r.field_day = d.sub), d.notebook"
      " FROM v_field_day d WHERE d.sub IN (SELECT field_day FROM found) OR (d.permission = ?1"
      " AND d.day_last >= ?2 AND d.day_first <= ?3) ORDER BY d.day_first",
      BOTH, false },
    { "Collectors", "Collector|Finds",
      "@SELECT " NAME("c.party") ", count(*) FROM v_collector c JOIN found ON found.seq = c.seq"
      " GROUP BY c.party",
      BOTH, false },
    { "Results", "Class of material|Finds|Pieces",
      "@SELECT material_class, count(*), sum(quantity) FROM found GROUP BY 1",
      BOTH, false },
    { "Geology and stratigraphy", "Layer|Formation, member, bed|Age|Rock|How it is recognised",
      "@SELECT h.layer_name, " JOIN3("h.formation", "h.member", "h.bed") ","
      " h.earliest_stage || iif(h.latest_stage <> h.earliest_stage, ' to ' || h.latest_stage, ''),"
      " h.lithology, " FIELD("h.seq", "howRecognised")
      " FROM v_horizon h WHERE h.sub IN (SELECT horizon FROM found)",
      BOTH, false },
    { "Impacts and mitigation", "What|On the record",
      "@SELECT 'Ground left on ' || d.event_date, " FIELD("d.seq", "groundLeft")
      " FROM v_field_day d WHERE d.sub IN (SELECT field_day FROM found) AND "
      FIELD("d.seq", "groundLeft") " IS NOT NULL"
      " UNION ALL SELECT 'Asked for by the permit', " FIELD("v.seq", "restoration")
      " FROM v_permission v WHERE sub = ?1 AND " FIELD("v.seq", "restoration") " IS NOT NULL",
      BOTH, false },
    { "Literature", "Title|Day",
      "@SELECT title, doc_date FROM v_document WHERE doc_type = 'publication'"
      " AND sub IN (SELECT sub FROM pieces UNION SELECT site FROM found)",
      BOTH, false },
    { "Associated records", "Paper|Title|Day|Of",
      "@SELECT doc_type, title, doc_date, sub FROM v_document WHERE doc_type <> 'publication'"
      " AND (sub = ?1 OR sub IN (SELECT sub FROM pieces UNION SELECT site FROM found)) ORDER BY"
      " seq",
      BOTH, false },
    { "Places, with map and datum", "Place|Where|Latitude, longitude|Datum, taken with|Survey,"
      " unit",
      "@SELECT " ID("x.sub") " || coalesce(', ' || x.site_number, '') || ', ' || x.site_name,"
      " " JOIN3("x.county", "x.state", "x.country") ", x.latitude || ', ' || x.longitude ||"
      " coalesce(' within ' || x.uncertainty_m || ' m', ''), " JOIN2("x.datum", "x.source") ","
      " " JOIN2("x.land_description", "x.unit") " FROM v_site x WHERE x.sub IN"
      " (SELECT site FROM found)",
      BOTH, false },
    { "Specimens", "Number|Field number|Place, layer|Taxon, or what it was called|Found|Own point",
      "@SELECT s.id, f.record_number, " ID("coalesce(f.site, s.site)") " || coalesce(', ' || "
      ID("f.horizon") ", ''), coalesce(s.scientific_name, s.vernacular_name,"
      " s.verbatim_identification, s.what), coalesce(f.event_date, 'out of ' || " ID("s.parent")
      "), f.latitude || ', ' || f.longitude || coalesce(' within ' || f.uncertainty_m || ' m', '')"
      " FROM pieces JOIN v_specimen s USING (sub) LEFT JOIN found f ON f.sub = s.sub ORDER BY"
      " s.first_seq",
      BOTH, false },
    { "Where they are, how many, in what condition", "Number|Form|Pieces|Now with|Last condition,"
      " care",
      "@SELECT s.id, s.object_form, s.quantity_now, s.status || coalesce(', ' || "
      NAME("s.holder") ", ', ' || s.holder_label, ''), (SELECT " JOIN3("c.date", "c.stability",
      FIELD("c.seq", "care")) " FROM v_condition c WHERE c.sub = s.sub ORDER BY c.seq DESC LIMIT 1)"
      " FROM pieces JOIN v_specimen s USING (sub) ORDER BY s.first_seq",
      BOTH, false },
    { "Repository", "What|On the record",
      "SELECT 'Named in the permit', " NAME("v.repository") " FROM v_permission v WHERE sub = ?1"
      " UNION ALL SELECT 'Its written acceptance', coalesce((SELECT title || ', ' || doc_date FROM"
      " v_document d WHERE d.leaf = v.repository_acceptance), v.repository_acceptance)"
      " FROM v_permission v WHERE sub = ?1",
      PERMIT, false },
    { "Accession, catalogue and other numbers", "Number|Given|Kind|By",
      "@SELECT " ID("n.sub") ", n.number, n.number_type, " NAME("n.given_by")
      " FROM v_numbering n WHERE n.sub IN (SELECT sub FROM pieces) ORDER BY n.seq",
      BOTH, false },
    { "Lots, divisions and joinings", "Piece|Day|What was done",
      "@SELECT " ID("e.sub") ", e.event_date, e.line FROM v_entry e WHERE e.sub IN"
      " (SELECT sub FROM pieces) AND e.kind IN ('division', 'joining', 'making')"
      " AND e.voided_by IS NULL ORDER BY e.seq",
      BOTH, true },
    { "Losses", "Piece|Day|What happened|Pieces",
      "@SELECT " ID("l.sub") ", l.date, l.nature || iif(l.closed_by IS NULL, '', ', later"
      " recovered'),"
      " l.quantity FROM v_loss l WHERE l.sub IN (SELECT sub FROM pieces) ORDER BY l.seq",
      BOTH, true },
    { "Struck out", "Entry|Of|What it said|Why it was struck out",
      "@SELECT '#' || e.seq, " ID("e.sub") ", e.kind || ', ' || coalesce(e.event_date, ''),"
      " c.action || ', ' || c.why FROM v_entry e JOIN v_correction c ON c.seq = e.voided_by"
      " WHERE e.sub IN (SELECT sub FROM pieces) OR e.seq IN (SELECT f.seq FROM v_field f"
      " WHERE f.name IN ('permission', 'site') AND f.value IN (SELECT id FROM scope)) ORDER BY"
      " e.seq",
      BOTH, true },
    { "Count of pieces", "What|Pieces",
      "@SELECT 'Collected', sum(quantity) FROM found UNION ALL SELECT 'Now with the repository',"
      " coalesce(sum(s.quantity_now), 0) FROM pieces JOIN v_specimen s USING (sub) WHERE s.holder"
      " IN"
      " (SELECT repository FROM v_permission WHERE sub IN (SELECT id FROM scope))"
      " UNION ALL SELECT 'Destroyed, discarded, used up', coalesce(sum(quantity), 0) FROM v_loss"
      " WHERE sub IN (SELECT sub FROM pieces) AND nature IN ('destroyed', 'discarded', 'used up')"
      " UNION ALL SELECT 'Stolen or missing, not recovered', coalesce(sum(quantity), 0) FROM v_loss"
      " WHERE sub IN (SELECT sub FROM pieces) AND nature IN ('stolen', 'missing')"
      " AND closed_by IS NULL UNION ALL SELECT 'Now elsewhere', coalesce(sum(s.quantity_now), 0)"
      " FROM pieces JOIN v_specimen s USING (sub) WHERE"
      " coalesce(s.holder, '') NOT IN (SELECT coalesce(repository, 'none') FROM v_permission"
      " WHERE sub IN (SELECT id FROM scope))",
      BOTH, false },
    { "Moved, and to whom", "Piece|Day|From|To|How",
      "@SELECT " ID("c.sub") ", c.handed_over, coalesce(" NAME("c.from_party") ", c.from_label),"
      " coalesce(" NAME("c.to_party") ", c.to_label), 'handed over, ' || c.reason FROM v_custody c"
      " WHERE c.sub IN (SELECT sub FROM pieces) UNION ALL SELECT " ID("t.sub") ", t.date, coalesce("
      NAME("t.from_party") ", t.from_label), coalesce(" NAME("t.to_party") ", t.to_label),"
      " 'ownership, ' || t.manner FROM v_title t WHERE t.sub IN (SELECT sub FROM pieces)"
      " ORDER BY 2",
      BOTH, true },
    { "Reports filed before", "Filed|Pieces reported|Deposited|Destroyed|Held",
      "SELECT filed_on, reported, deposited, destroyed, held FROM v_permission_report"
      " WHERE permission = ?1",
      PERMIT, true },
    { "Left out", "What|How many",
      "@SELECT 'finds under this permission on other days', count(*) FROM v_find WHERE permission ="
      " ?1 AND sub NOT IN (SELECT sub FROM found) HAVING count(*) UNION ALL SELECT 'finds on the"
      " same"
      " places under another permission or none', count(*) FROM v_find WHERE site IN (SELECT site"
      " FROM"
      " found) AND coalesce(permission, '') <> ?1 HAVING count(*) UNION ALL SELECT 'private"
      " fields of"
      " these pieces: prices, clients, hours', count(*) FROM v_field f JOIN v_entry e USING (seq)"
      " WHERE e.sub IN (SELECT sub FROM pieces) AND f.class = 'private' HAVING count(*)"
      " UNION ALL SELECT 'sittings of preparation', count(*) FROM v_entry WHERE kind ="
      " 'preparation'"
      " AND sub IN (SELECT sub FROM pieces) HAVING count(*)",
      PERMIT, true },
    { "Left out", "What|How many",
      "@SELECT 'finds on other land, or neither found nor moved on these days', count(*) FROM"
      " v_find"
      " WHERE sub NOT IN (SELECT sub FROM found) HAVING count(*) UNION ALL SELECT 'private fields"
      " of"
      " these pieces: prices, clients, hours', count(*) FROM v_field f JOIN v_entry e USING (seq)"
      " WHERE e.sub IN (SELECT sub FROM pieces) AND f.class = 'private' HAVING count(*)"
      " UNION ALL SELECT 'sittings of preparation', count(*) FROM v_entry WHERE kind ="
      " 'preparation'"
      " AND sub IN (SELECT sub FROM pieces) HAVING count(*)",
      AGENCY, true },
};

static const char opening[] =
    "Drawn up from what one ledger records, for the permittee to read, complete and sign, and for"
    " the office that gave the permit. It is not a finding of law or of fact by any authority. It"
    " holds exact places: it is for that office and its repository.";

static const char agency_opening[] =
    "What one ledger records of finds on the land of this agency, and under its permits: by the day"
    " of finding and by any day on which a find was moved or changed hands. It is not a finding of"
    " law or of fact by any authority. It holds exact places: it is for that agency. What was left"
    " out is named at its end.";

/* ---- from the record ---- */

static enum mb_rc fill_section(mb_arena *arena, mb_db *db, const struct section *section,
                               enum about about, struct mb_str subject, struct mb_days days,
                               mb_json *out, struct mb_error *err)
{
    const char *sql = section->sql[0] != '@'
                          ? section->sql
                          : mb_arena_printf(arena, "%s%s", about == PERMIT ? of_permit : of_agency,
                                            section->sql + 1);
    mb_json *head = mb_json_array(arena), *rows = mb_json_array(arena);
    struct mb_str rest = mb_str_of(section->head), word;
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(db, sql, &stmt, err);

    while (rest.len) {
        mb_str_cut(rest, '|', &word, &rest);
        mb_json_add(head, mb_json_string_str(arena, word));
    }
    if (!rc) {
        mb_bind_text(stmt, 1, subject);
        if (section->sql[0] == '@') {
            mb_bind_int(stmt, 2, days.first);
            mb_bind_int(stmt, 3, days.last);
        }
    }
    while (!rc && !(rc = mb_stmt_step(stmt, &row, err)) && row) {
        mb_json *cells = mb_json_array(arena);
        bool any = false;

        for (int i = 0; i < mb_col_count(stmt); i++) {
            struct mb_str text = mb_col_text(stmt, i);

            mb_json_add(cells, mb_json_string_str(arena, text.at ? text : MB_STR("")));
            any = any || (i > 0 && text.len);
        }
        if (any)
            mb_json_add(rows, cells);
    }
    mb_stmt_free(stmt);
    mb_json_put_text(arena, out, "title", section->title);
    mb_json_put_bool(arena, out, "mayBeNone", section->none);
    mb_json_put(arena, out, "head", head);
    mb_json_put(arena, out, "rows", rows);
    return rc;
}

/* Item by item, before all that stands behind each. */
static enum mb_rc put_items(mb_arena *arena, mb_db *db, struct mb_str subject,
                            struct mb_days days, mb_json *out, struct mb_error *err)
{
    mb_json *head = mb_json_array(arena), *rows = mb_json_array(arena);

    mb_json_add_text(arena, head, "36 CFR 291.17");
    mb_json_add_text(arena, head, "Item");
    mb_json_add_text(arena, head, "On the record");
    mb_json_put_text(arena, out, "title", "What the report is asked to hold, item by item");
    mb_json_put_bool(arena, out, "mayBeNone", false);
    mb_json_put(arena, out, "head", head);
    mb_json_put(arena, out, "rows", rows);
    return mb_permit_items(arena, db, of_permit, subject, days, rows, err);
}

static enum mb_rc find_subject(mb_arena *arena, mb_db *db, enum about about, const char *name,
                               struct mb_str *out, struct mb_error *err)
{
    const char *kind = about == PERMIT ? "permission" : "party";
    const char *full = strchr(name, '/') ? name : mb_arena_printf(arena, "%s/%s", kind, name);
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(
        db, "SELECT sub FROM v_subject WHERE prefix = ?2 AND sub = ?1 COLLATE NOCASE", &stmt, err);

    if (!rc) {
        mb_bind_text(stmt, 1, mb_str_of(full));
        mb_bind_text(stmt, 2, mb_str_of(kind));
        rc = mb_stmt_step(stmt, &row, err);
    }
    if (!rc && !row)
        rc = mb_fail(err, MB_REFUSED, "there is no %s '%s' in this ledger", kind, name);
    if (!rc)
        *out = mb_arena_str(arena, mb_col_text(stmt, 0));
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc read_days(const char *from, const char *until, struct mb_days *out,
                            struct mb_error *err)
{
    struct mb_days days;

    *out = (struct mb_days){ INT32_MIN / 2, INT32_MAX / 2 };
    if (from && !mb_days_read(mb_str_of(from), &days))
        return mb_fail(err, MB_REFUSED, "'%s' is no day; write 2026-05-02", from);
    if (from)
        out->first = days.first;
    if (until && !mb_days_read(mb_str_of(until), &days))
        return mb_fail(err, MB_REFUSED, "'%s' is no day; write 2026-05-02", until);
    if (until)
        out->last = days.last;
    return out->first > out->last ? mb_fail(err, MB_REFUSED, "%s is after %s", from, until)
                                  : MB_OK;
}

static void put_head(mb_arena *arena, mb_json *out, const struct mb_permit_ask *ask,
                     const mb_json *about, struct mb_str subject)
{
    mb_json_put(arena, out, "origin", mb_json_copy(arena, mb_json_get(about, "origin")));
    mb_json_put(arena, out, "subject", mb_json_string_str(arena, subject));
    mb_json_put_text(arena, out, "madeOn", mb_day_write(arena, (int32_t)(mb_now() / 86400)));
    mb_json_put_text(arena, out, "asOf", ask->as_of ? ask->as_of : "now");
    if (ask->from)
        mb_json_put_text(arena, out, "from", ask->from);
    if (ask->until)
        mb_json_put_text(arena, out, "until", ask->until);
    mb_json_put_text(arena, out, "opening", ask->permission ? opening : agency_opening);
}

enum mb_rc mb_permit_tell(mb_ledger *ledger, mb_arena *arena, const struct mb_permit_ask *ask,
                          const mb_json **out, struct mb_error *err)
{
    enum about about = ask->permission ? PERMIT : AGENCY;
    mb_json *answer = mb_json_object(arena), *list = mb_json_array(arena);
    struct mb_views views = { 0 };
    struct mb_days days;
    struct mb_str subject;
    const mb_json *ledger_about;
    enum mb_rc rc = read_days(ask->from, ask->until, &days, err);

    if (!rc)
        rc = mb_ledger_about(ledger, arena, &ledger_about, err);
    if (!rc)
        rc = mb_views_begin(ledger, ask->as_of, &views, err);
    if (!rc)
        rc = find_subject(arena, views.db, about, ask->permission ? ask->permission : ask->agency,
                          &subject, err);
    if (!rc) {
        put_head(arena, answer, ask, ledger_about, subject);
        mb_json_put(arena, answer, "sections", list);
    }
    if (!rc && about == PERMIT)
        rc = put_items(arena, views.db, subject, days, mb_json_add(list, mb_json_object(arena)),
                       err);
    for (size_t i = 0; i < sizeof sections / sizeof *sections && !rc; i++)
        if (sections[i].about & about)
            rc = fill_section(arena, views.db, &sections[i], about, subject, days,
                              mb_json_add(list, mb_json_object(arena)), err);
    mb_views_end(&views);
    if (!rc)
        *out = answer;
    return rc;
}

/* ---- on paper ---- */

static void draw_section(struct mb_report *r, const mb_json *section)
{
    const mb_json *head = mb_json_get(section, "head"), *rows = mb_json_get(section, "rows");
    double shares[MB_REPORT_COLUMNS_MAX];
    const char *heads[MB_REPORT_COLUMNS_MAX], *cells[MB_REPORT_COLUMNS_MAX];
    struct mb_report_table table = { head->count, shares, heads };
    size_t at = 0;

    mb_report_section(r, mb_json_cstr(r->arena, mb_json_get(section, "title")));
    if (!rows->count) {
        mb_report_say(r, mb_json_true(mb_json_get(section, "mayBeNone"))
                             ? "None on the record."
                             : "Not on the record; to be added by hand where there is any.");
        return;
    }
    MB_JSON_EACH (word, head) {
        shares[at] = at && at + 1 == head->count ? 1.4 : 1;
        heads[at++] = mb_json_cstr(r->arena, word);
    }
    mb_report_table_begin(r, &table);
    MB_JSON_EACH (row, rows) {
        at = 0;
        MB_JSON_EACH (cell, row)
            cells[at++] = mb_json_cstr(r->arena, cell);
        mb_report_table_row(r, &table, cells);
    }
    mb_report_table_end(r);
}

static void signature(struct mb_report *r)
{
    mb_report_need(r, 40);
    mb_report_section(r, "Signed by the permittee");
    mb_report_say(r, "Name, day and signature: ____________________________________________");
    mb_report_small(r, "What to report follows 36 CFR 291.17, in force from 2015-05-18, read in an"
                       " unofficial copy. For Interior land (43 CFR part 49) the permit itself says"
                       " what its reports hold; that part's text was not checked for it. Ask the"
                       " office what else its permit asks for.");
}

enum mb_rc mb_permit_pdf(mb_arena *arena, const mb_json *permit, const char *paper,
                         struct mb_str *pdf, struct mb_error *err)
{
    struct mb_report report = { .arena = arena };
    const char *origin = mb_json_cstr(arena, mb_json_get(permit, "origin"));
    const char *sub = mb_json_cstr(arena, mb_json_get(permit, "subject"));
    const char *from = mb_json_cstr(arena, mb_json_get(permit, "from"));
    const char *until = mb_json_cstr(arena, mb_json_get(permit, "until"));
    struct mb_report_setup setup = { .paper = paper, .author = origin, .created = mb_now(),
                                     .subject = "A permit's report, from the record" };
    enum mb_rc rc;

    setup.title = mb_arena_printf(arena, "Report on %s", sub);
    setup.foot = mb_arena_printf(arena, "%s · %s · from the record", origin, sub);
    rc = mb_report_open(&report, arena, &setup, err);
    if (rc)
        return rc;
    mb_report_title(&report, mb_arena_printf(arena, "%s: %s",
                                             strncmp(sub, "party/", 6) ? "Permit report"
                                                                       : "Finds on an agency's"
      " land",
                                             sub));
    mb_report_strong(&report, mb_json_cstr(arena, mb_json_get(permit, "opening")));
    mb_report_pair(&report, "Report of",
                   mb_json_cstr(arena, mb_json_get(permit, "madeOn")));
    mb_report_pair(&report, "Finds of",
                   from || until ? mb_arena_printf(arena, "%s to %s", from ? from : "the beginning",
                                                   until ? until : "this day")
                                 : "all days");
    mb_report_pair(&report, "Ledger, as of",
                   mb_arena_printf(arena, "%s, %s", origin,
                                   mb_json_cstr(arena, mb_json_get(permit, "asOf"))));
    MB_JSON_EACH (section, mb_json_get(permit, "sections"))
        draw_section(&report, section);
    if (strncmp(sub, "party/", 6) != 0)
        signature(&report);
    rc = mb_report_finish(&report, pdf);
    mb_canvas_close(report.canvas);
    return rc;
}
