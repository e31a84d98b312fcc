/* Sheets of labels and tags: what markerbed/labels.h promises of them. */
#include <markerbed/labels.h>

#include <string.h>

#include "door.h"
#include "ids.h"
#include "labels_sheet.h"
#include "text.h"
#include "views.h"

enum { LABELS_MOST = 20000, DIGITS_MOST = 9 };

struct printing {
    mb_ledger *ledger;
    mb_arena *arena;
    struct mb_label_grid grid;
    mb_canvas *canvas;
    size_t at; /* place of the next label, from the first of the first sheet */
    struct mb_error *err;
};

static enum mb_rc open_sheet(struct printing *p, const struct mb_label_sheet *sheet, size_t skip,
                             size_t count, const char *title)
{
    struct mb_canvas_setup setup = { .form = MB_CANVAS_PDF, .title = title };
    enum mb_rc rc = mb_label_grid(sheet, &p->grid, p->err);

    if (rc)
        return rc;
    if (count == 0 || count > LABELS_MOST)
        return mb_fail(p->err, MB_REFUSED, "from 1 to %d labels are made in one go", LABELS_MOST);
    if (skip >= p->grid.across * p->grid.down)
        return mb_fail(p->err, MB_REFUSED, "a sheet has %zu labels; fewer than that can be gone",
                       p->grid.across * p->grid.down);
    setup.width_mm = p->grid.page_width;
    setup.height_mm = p->grid.page_height;
    p->at = skip;
    return mb_canvas_open(&setup, &p->canvas, p->err);
}

static enum mb_rc put(struct printing *p, const struct mb_label *label)
{
    size_t on_page = p->grid.across * p->grid.down, place = p->at % on_page;
    struct mb_mm_box box = {
        .x = p->grid.left + p->grid.step_across * (double)(place % p->grid.across),
        .y = p->grid.top + p->grid.step_down * (double)(place / p->grid.across),
        .width = p->grid.width,
        .height = p->grid.height,
    };

    if (place == 0 && p->at > 0)
        mb_canvas_page(p->canvas);
    p->at++;
    return mb_label_draw(p->canvas, p->arena, label, box, p->err);
}

static enum mb_rc finish(struct printing *p, size_t labels, struct mb_str *pdf,
                         const mb_json **out)
{
    mb_json *answer = mb_json_object(p->arena);

    mb_json_put_int(p->arena, answer, "labels", (int64_t)labels);
    mb_json_put_int(p->arena, answer, "pages", mb_canvas_pages(p->canvas));
    *out = answer;
    return mb_canvas_finish(p->canvas, p->arena, pdf, p->err);
}

/* ---- specimens and places ---- */

/* What a label says of it: a name, and the form with how many. Never a place or person. */
#define WHAT_SPECIMEN \
    "SELECT coalesce(scientific_name, vernacular_name, verbatim_identification, ''), " \
    "coalesce(object_form, '') || CASE WHEN quantity_now > 1 THEN ', ' || quantity_now" \
    " || ' pieces' ELSE '' END FROM v_specimen WHERE sub = ?1"
#define WHAT_PLACE "SELECT coalesce(place_name, ''), '' FROM v_place WHERE sub = ?1"

static enum mb_rc what_of(struct printing *p, mb_db *views, struct mb_str subject,
                          const char **what)
{
    bool specimen = mb_str_starts(subject, "specimen/"), row;
    mb_stmt *stmt;
    enum mb_rc rc = mb_stmt_make(views, specimen ? WHAT_SPECIMEN : WHAT_PLACE, &stmt, p->err);

    *what = NULL;
    if (rc)
        return rc;
    mb_bind_text(stmt, 1, subject);
    rc = mb_stmt_step(stmt, &row, p->err);
    if (!rc && row) {
        struct mb_str name = mb_col_text(stmt, 0), form = mb_col_text(stmt, 1);

        *what = mb_arena_printf(p->arena, "%.*s%s%.*s", MB_STR_ARG(name),
                                name.len && form.len ? "\n" : "", MB_STR_ARG(form));
    }
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc put_subject(struct printing *p, mb_db *views, const char *typed)
{
    struct mb_str origin = mb_log_origin(p->ledger->log), prefix, id, subject;
    struct mb_label label = { .small = mb_arena_copy(p->arena, origin.at, origin.len) };
    enum mb_rc rc;

    if (!mb_str_cut(mb_str_of(typed), '/', &prefix, &id))
        prefix = MB_STR("specimen");
    if (!mb_str_is(prefix, "specimen") && !mb_str_is(prefix, "place"))
        return mb_fail(p->err, MB_REFUSED, "labels are made of specimens and places, not of '%s'",
                       typed);
    rc = mb_door_subject(p->ledger, p->arena, mb_arena_copy(p->arena, prefix.at, prefix.len),
                         mb_str_of(typed), &subject, p->err);
    if (!rc)
        rc = what_of(p, views, subject, &label.what);
    if (rc)
        return rc;
    mb_str_cut(subject, '/', &prefix, &id);
    label.number = mb_arena_copy(p->arena, id.at, id.len);
    label.code = mb_arena_printf(p->arena, "%.*s %.*s", MB_STR_ARG(origin), MB_STR_ARG(subject));
    return put(p, &label);
}

enum mb_rc mb_labels_pdf(mb_ledger *ledger, mb_arena *arena, const char *const *subjects,
                         size_t count, const struct mb_label_sheet *sheet, size_t skip,
                         struct mb_str *pdf, const mb_json **out, struct mb_error *err)
{
    struct printing p = { .ledger = ledger, .arena = arena, .err = err };
    struct mb_views views = { NULL, false };
    enum mb_rc rc = open_sheet(&p, sheet, skip, count, "Labels");

    if (!rc)
        rc = mb_door_open(ledger, err);
    if (!rc)
        rc = mb_views_begin(ledger, NULL, &views, err);
    for (size_t i = 0; !rc && i < count; i++)
        rc = put_subject(&p, views.db, subjects[i]);
    mb_views_end(&views);
    if (!rc)
        rc = finish(&p, count, pdf, out);
    mb_canvas_close(p.canvas);
    return rc;
}

/* ---- tags for the field ---- */

/* "WC-0118" as its beginning, its digits and their number. */
static enum mb_rc read_first(const char *first, int *beginning, int *width, int64_t *number,
                             struct mb_error *err)
{
    size_t len = strlen(first), digits = 0;

    while (digits < len && digits < DIGITS_MOST && first[len - digits - 1] >= '0'
           && first[len - digits - 1] <= '9')
        digits++;
    if (!mb_id_ok(mb_str_of(first)) || digits == 0)
        return mb_fail(err, MB_REFUSED,
                       "'%s' is no number to begin with; tags are numbered like WC-0118", first);
    *beginning = (int)(len - digits);
    *width = (int)digits;
    *number = 0;
    for (size_t i = len - digits; i < len; i++)
        *number = *number * 10 + (first[i] - '0');
    return MB_OK;
}

enum mb_rc mb_labels_tags(mb_ledger *ledger, mb_arena *arena, const char *first, size_t count,
                          const struct mb_label_sheet *sheet, size_t skip, struct mb_str *pdf,
                          const mb_json **out, struct mb_error *err)
{
    static const char *const blanks[] = { "Day, by", "Place", "Layer", "In place?", "What",
                                          "How many", "Photo", NULL };
    struct printing p = { .ledger = ledger, .arena = arena, .err = err };
    struct mb_str origin = mb_log_origin(ledger->log);
    int beginning = 0, width = 0;
    int64_t number = 0;
    enum mb_rc rc = read_first(first, &beginning, &width, &number, err);

    if (!rc)
        rc = open_sheet(&p, sheet, skip, count, "Field tags");
    for (size_t i = 0; !rc && i < count; i++, number++) {
        struct mb_label tag = { .blanks = blanks,
                                .small = mb_arena_copy(arena, origin.at, origin.len) };

        tag.number = mb_arena_printf(arena, "%.*s%0*lld", beginning, first, width,
                                     (long long)number);
        tag.code = mb_arena_printf(arena, "%.*s tag %s", MB_STR_ARG(origin), tag.number);
        rc = put(&p, &tag);
    }
    if (!rc)
        rc = finish(&p, count, pdf, out);
    mb_canvas_close(p.canvas);
    return rc;
}
