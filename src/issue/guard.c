#include "guard.h"

#include <strings.h>

#include "asset.h"
#include "text.h"
#include "views.h"

/* ?1 categories and ?3 specimens as JSON, ?2 the reader or NULL. */
static const char sql[] =
    "SELECT DISTINCT l.site FROM v_land l"
    " WHERE l.category IN (SELECT value FROM json_each(?1))"
    " AND (l.until_day IS NULL OR EXISTS (SELECT 1 FROM v_find f WHERE f.site = l.site"
    "      AND (f.day_first IS NULL OR f.day_first <= l.until_day)))"
    " AND NOT EXISTS (SELECT 1 FROM v_document d WHERE d.sub = l.site"
    "      AND d.doc_type = 'agency release')"
    " AND NOT EXISTS (SELECT 1 FROM v_land m WHERE m.site = l.site AND m.land_manager = ?2)"
    " AND NOT EXISTS (SELECT 1 FROM v_permission_site s JOIN v_permission p ON p.sub = s.permission"
    "      WHERE s.site = l.site AND (p.repository = ?2"
    "      OR (p.grantor = ?2 AND p.grantor_capacity = 'agency officer')))"
    " AND NOT (EXISTS (SELECT 1 FROM v_specimen o WHERE o.site = l.site"
    "      AND o.sub IN (SELECT value FROM json_each(?3)))"
    "    AND NOT EXISTS (SELECT 1 FROM v_specimen o WHERE o.site = l.site"
    "      AND o.sub IN (SELECT value FROM json_each(?3)) AND NOT EXISTS"
    "        (SELECT 1 FROM v_document d WHERE d.sub = o.sub AND d.doc_type = 'agency release')))";

static enum mb_rc federal_categories(mb_arena *arena, struct mb_str *out, struct mb_error *err)
{
    const struct mb_asset *asset = mb_asset_find("vocab/landCategory.json");
    mb_json *list = mb_json_array(arena);
    const mb_json *vocabulary;
    enum mb_rc rc;

    if (!asset)
        return mb_fail(err, MB_UNABLE, "this program was built without its list of land");
    rc = mb_json_read(arena, (struct mb_str){ asset->data, asset->size }, MB_JSON_PLAIN,
                      &vocabulary, err);
    if (rc)
        return rc;
    MB_JSON_EACH (term, mb_json_get(vocabulary, "terms"))
        if (mb_json_text_is(mb_json_get(term, "group"), "federal"))
            mb_json_add(list, mb_json_copy(arena, mb_json_get(term, "id")));
    if (!list->count)
        return mb_fail(err, MB_UNABLE, "the built-in list of land names none that is federal");
    *out = mb_json_write(arena, list);
    return MB_OK;
}

static struct mb_str as_list(mb_arena *arena, const struct mb_str *texts, size_t count)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < count; i++)
        mb_json_add(list, mb_json_string_str(arena, texts[i]));
    return mb_json_write(arena, list);
}

static enum mb_rc ask(mb_db *db, mb_arena *arena, const struct mb_str *bound,
                      struct mb_guard *out, struct mb_error *err)
{
    struct mb_str *sites = NULL;
    size_t room = 0;
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(db, sql, &stmt, err);

    for (int i = 0; i < 3 && !rc; i++)
        mb_bind_text(stmt, i + 1, bound[i]);
    while (!rc && !(rc = mb_stmt_step(stmt, &row, err)) && row) {
        if (out->count == room) {
            struct mb_str *larger = MB_ARRAY(arena, room = room ? 2 * room : 16, struct mb_str);

            for (size_t i = 0; i < out->count; i++)
                larger[i] = sites[i];
            sites = larger;
        }
        sites[out->count++] = mb_arena_str(arena, mb_col_text(stmt, 0));
    }
    out->sites = sites;
    mb_stmt_free(stmt);
    return rc;
}

enum mb_rc mb_guard_make(mb_ledger *ledger, mb_arena *arena, const struct mb_str *specimens,
                         size_t count, struct mb_str to, enum mb_audience audience,
                         struct mb_guard *out, struct mb_error *err)
{
    bool may = audience == MB_INSTITUTION || audience == MB_AUDITOR;
    struct mb_str bound[3] = { { NULL, 0 }, may ? to : (struct mb_str){ NULL, 0 },
                               as_list(arena, specimens, count) };
    struct mb_views views = { 0 };
    enum mb_rc rc = federal_categories(arena, &bound[0], err);

    *out = (struct mb_guard){ NULL, 0 };
    if (rc)
        return rc;
    rc = mb_views_begin(ledger, NULL, &views, err);
    if (!rc)
        rc = ask(views.db, arena, bound, out, err);
    mb_views_end(&views);
    return rc;
}

/* Federal by the record, and not released. */
static bool is_closed(const mb_story *story, const mb_json *federal)
{
    bool closed = false;

    for (size_t i = 0; i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);

        if (told->voided_by >= 0)
            continue;
        if (mb_json_text_is(mb_told_field(told, "docType", NULL, NULL), "agency release"))
            return false;
        MB_JSON_EACH (category, federal)
            closed = closed
                     || mb_json_equal(mb_told_field(told, "landCategory", NULL, NULL), category);
    }
    return closed;
}

enum mb_rc mb_guard_carried(mb_arena *arena, const mb_stories *stories, struct mb_guard *out,
                            struct mb_error *err)
{
    struct mb_str *sites = MB_ARRAY(arena, mb_stories_count(stories) + 1, struct mb_str);
    struct mb_str text;
    const mb_json *federal;
    enum mb_rc rc = federal_categories(arena, &text, err);

    *out = (struct mb_guard){ sites, 0 };
    if (!rc)
        rc = mb_json_read(arena, text, MB_JSON_STRICT, &federal, err);
    for (size_t i = 0; !rc && i < mb_stories_count(stories); i++) {
        struct mb_str subject = mb_stories_subject(stories, i);

        if (mb_str_starts(subject, "site/")
            && is_closed(mb_stories_of(stories, subject), federal))
            sites[out->count++] = subject;
    }
    return rc;
}

bool mb_guard_has(const struct mb_guard *guard, struct mb_str site)
{
    for (size_t i = 0; guard && i < guard->count; i++)
        if (guard->sites[i].len == site.len
            && strncasecmp(guard->sites[i].at, site.at, site.len) == 0)
            return true;
    return false;
}
