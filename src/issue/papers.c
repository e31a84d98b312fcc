#include "papers.h"

#include <string.h>

#include "pdf.h"
#include "sheet_layout.h"
#include "text.h"
#include "words.h"

struct mb_page *mb_paper_new(const struct mb_handing *h, size_t which)
{
    struct mb_page *page = MB_NEW(h->arena, struct mb_page);

    *page = *h->pages[which];
    page->items = NULL;
    page->end = &page->items;
    page->photo = (struct mb_str){ NULL, 0 };
    return page;
}

static void head(struct mb_sheet *s, const char *title, const char *banner)
{
    const struct mb_type small = { .size_pt = 9.5, .ink = mb_sheet_grey };
    const struct mb_type large = { .size_pt = 19, .weight = 700, .ink = mb_sheet_black };
    const struct mb_type strong = { .size_pt = 11.5, .weight = 700, .ink = mb_sheet_black };

    mb_sheet_foot(s);
    mb_sheet_flow(s, &small, mb_arena_printf(s->arena, "%s · %s", s->page->issuer,
                                             s->page->origin),
                  MB_SHEET_MARGIN_MM, mb_sheet_width(s));
    s->y += 2;
    mb_sheet_flow(s, &large, title, MB_SHEET_MARGIN_MM, mb_sheet_width(s));
    s->y += 1.5;
    if (banner)
        mb_sheet_flow(s, &strong, banner, MB_SHEET_MARGIN_MM, mb_sheet_width(s));
    s->y += 2;
}

static void draw_one(struct mb_sheet *s, const struct mb_paper *what, const struct mb_page *page)
{
    s->page = page;
    s->y = MB_SHEET_MARGIN_MM;
    head(s, what->title ? what->title : page->title, what->banner);
    for (const struct mb_page_item *item = page->items; item && !s->rc; item = item->next)
        mb_sheet_item(s, item);
}

static void draw_each(struct mb_sheet *s, const struct mb_handing *h, const struct mb_paper *what)
{
    struct mb_handing one = *h;

    one.arena = s->arena;
    for (size_t i = 0; i < h->count && !s->rc; i++) {
        if (i > 0)
            mb_canvas_page(s->canvas);
        draw_one(s, what, what->page_of(&one, i));
        mb_arena_reset(s->arena);
    }
}

static enum mb_rc draw(const struct mb_handing *h, const struct mb_paper *what,
                       const struct mb_canvas_setup *setup, struct mb_str *out,
                       struct mb_error *err)
{
    struct mb_sheet s = { .width = setup->width_mm,
                          .height = setup->height_mm,
                          .air = 1,
                          .err = err };
    enum mb_rc rc = mb_canvas_open(setup, &s.canvas, err);

    if (rc)
        return rc;
    s.arena = mb_arena_new();
    if (what->page_of)
        draw_each(&s, h, what);
    else
        draw_one(&s, what, what->only);
    rc = s.rc ? s.rc : mb_canvas_finish(s.canvas, h->arena, out, err);
    mb_canvas_close(s.canvas);
    mb_arena_free(s.arena);
    return rc;
}

enum mb_rc mb_paper_draw(const struct mb_handing *h, const struct mb_paper *what,
                         const char *paper, struct mb_str *pdf, struct mb_error *err)
{
    bool letter = paper && strcmp(paper, "Letter") == 0;
    struct mb_canvas_setup setup = { .form = MB_CANVAS_PDF };
    struct mb_pdf_dress dress = { .language = "en", .xmp = true };
    struct mb_str drawn;
    enum mb_rc rc;

    setup.width_mm = letter ? MB_LETTER_WIDTH_MM : MB_A4_WIDTH_MM;
    setup.height_mm = letter ? MB_LETTER_HEIGHT_MM : MB_A4_HEIGHT_MM;
    setup.title = what->title ? what->title
                              : mb_arena_printf(h->arena, "The record of %s", h->pages[0]->number);
    setup.author = h->origin;
    setup.created = dress.created = h->check.certificates[0]->entry.iat;
    rc = draw(h, what, &setup, &drawn, err);
    return rc ? rc : mb_pdf_finish(h->arena, drawn, &dress, pdf, err);
}

/* ---- what stands in them ---- */

const char *mb_paper_giver(const struct mb_handing *h, size_t which)
{
    struct mb_str subject = mb_handing_subject(h, which);
    const mb_json *owner = mb_handing_value(h, subject, "title", "to");

    if (mb_handing_known(owner))
        return mb_handing_words(h, owner);
    return "not on record";
}

const char *mb_paper_object(const struct mb_handing *h, size_t which)
{
    struct mb_str subject = mb_handing_subject(h, which);
    const char *name = mb_handing_words(h, mb_handing_value(h, subject, "identification",
                                                            "scientificName"));
    const char *called = mb_handing_words(h, mb_handing_value(h, subject, NULL,
                                                              "verbatimIdentification"));
    const char *form = mb_handing_words(h, mb_handing_value(h, subject, NULL, "objectForm"));
    const char *pieces = mb_handing_words(h, mb_handing_value(h, subject, NULL,
                                                              "objectQuantity"));

    return mb_arena_printf(h->arena, "%s%s%s%s; %s%s%s", called ? called : "fossil",
                           name ? " (" : "", name ? name : "", name ? ")" : "",
                           form ? form : "form not on record", pieces ? ", pieces: " : "",
                           pieces ? pieces : "");
}

static const mb_json *material_term(const struct mb_handing *h, struct mb_str name)
{
    MB_JSON_EACH(term, h->materials)
        if (mb_str_equal(mb_json_str(mb_json_get(term, "id")), name))
            return term;
    return NULL;
}

static void add_material(const struct mb_handing *h, mb_json *out, const mb_json *row,
                         const char *column)
{
    static const char *const told[] = { "solvent", "removable", "help" };
    struct mb_str name = mb_json_str(mb_json_get(row, column));
    const char *where = mb_handing_words(h, mb_json_get(row, "where"));
    const mb_json *term;
    mb_json *one;

    if (name.len == 0)
        return;
    MB_JSON_EACH(before, out)
        if (mb_str_equal(mb_json_str(mb_json_get(before, "material")), name)
            && mb_json_text_is(mb_json_get(before, "where"), where ? where : ""))
            return;
    one = mb_json_add(out, mb_json_object(h->arena));
    term = material_term(h, name);
    mb_json_put(h->arena, one, "material", mb_json_string_str(h->arena, name));
    mb_json_put_text(h->arena, one, "where", where ? where : "");
    for (size_t i = 0; term && i < sizeof told / sizeof *told; i++)
        if (mb_json_get(term, told[i]))
            mb_json_put_text(h->arena, one, told[i],
                             mb_json_cstr(h->arena, mb_json_get(term, told[i])));
}

mb_json *mb_paper_materials(const struct mb_handing *h, size_t which)
{
    static const char *const places[][2] = {
        { "fieldTreatment", "material" }, { "steps", "material" },  { "steps", "medium" },
        { "madeParts", "madeOf" },        { "colour", "medium" },   { "joins", "adhesive" },
    };
    const mb_story *story = mb_stories_of(h->check.stories, mb_handing_subject(h, which));
    mb_json *out = mb_json_array(h->arena);

    for (size_t i = 0; story && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);

        for (size_t k = 0; told->voided_by < 0 && k < sizeof places / sizeof *places; k++) {
            const mb_json *rows = mb_told_field(told, places[k][0], NULL, NULL);

            if (mb_json_is(rows, MB_JSON_ARRAY))
                MB_JSON_EACH(row, rows)
                    add_material(h, out, row, places[k][1]);
        }
    }
    return out;
}
