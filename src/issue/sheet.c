/*
 * The sheet on paper: what the certificate inside says, in words, with how to check it. Nothing is
 * printed that is not in the file; where the page and the data differ, the data was checked.
 */
#include <markerbed/certificate.h>

#include <string.h>

#include "draft.h"
#include "paper_code.h"
#include "pdf.h"
#include "picture.h"
#include "sheet_layout.h"
#include "sheet_sayings.h"
#include "text.h"

#define PHOTO_MM 66.0
#define QR_MM 40.0
#define GAP_MM 4.0
#define SHORT_PART 0.45 /* of a page: one that ends above it is nearly empty */

/* The first attached photograph, at the right of the head: its width and height, 0 if none. */
static double photo(struct mb_sheet *s, double *height)
{
    struct mb_mm_box box = { s->width - MB_SHEET_MARGIN_MM - PHOTO_MM, s->y, PHOTO_MM,
                             PHOTO_MM * 0.75 };
    struct mb_mm_box drawn;
    struct mb_picture picture;
    struct mb_error ignored = { 0 };

    *height = 0;
    if (!s->page->photo.at || mb_picture_look(s->page->photo, &picture, NULL)
        || mb_canvas_picture(s->canvas, &picture, box, MB_FIT_CORNER, &drawn, &ignored))
        return 0;
    *height = drawn.height;
    return PHOTO_MM + GAP_MM;
}

static void head(struct mb_sheet *s)
{
    const struct mb_type small = { .size_pt = 10, .ink = mb_sheet_grey };
    const struct mb_type large = { .size_pt = 19, .weight = 700, .ink = mb_sheet_black };
    const struct mb_type middle = { .size_pt = 11, .ink = mb_sheet_black };
    double taken, top, width, height;
    int first = mb_canvas_pages(s->canvas);

    mb_sheet_foot(s);
    mb_sheet_flow(s, &small, mb_arena_printf(s->arena, "%s · %s", s->page->issuer,
                                             s->page->origin),
                  MB_SHEET_MARGIN_MM, mb_sheet_width(s));
    s->y += 2;
    top = s->y;
    taken = photo(s, &height);
    width = mb_sheet_width(s) - taken;
    mb_sheet_flow(s, &large, s->page->title, MB_SHEET_MARGIN_MM, width);
    s->y += 1.5;
    mb_sheet_flow(s, &middle, mb_arena_printf(s->arena, "Number %s", s->page->number),
                  MB_SHEET_MARGIN_MM, width);
    mb_sheet_flow(s, &middle, s->page->audience, MB_SHEET_MARGIN_MM, width);
    s->y += 1;
    mb_sheet_flow(s, &middle, mb_sheet_day(s->arena, s->page), MB_SHEET_MARGIN_MM, width);
    if (first == mb_canvas_pages(s->canvas) && s->y < top + height)
        s->y = top + height;
    s->y += 1;
}

/* In a preview an empty frame: nothing that a telephone could read. */
static void code(struct mb_sheet *s, const struct mb_paper_code *says)
{
    const struct mb_type type = { .size_pt = 10.5, .weight = 700, .ink = mb_sheet_black };
    const struct mb_stroke dash = { .width_mm = 0.3, .ink = mb_sheet_grey, .dash_mm = 2,
                                    .gap_mm = 1.5 };
    double x = s->width - MB_SHEET_MARGIN_MM - QR_MM;
    const struct mb_qr *qr;

    if (s->rc)
        return;
    if (s->page->preview) {
        mb_canvas_rect(s->canvas, x, s->y, QR_MM, QR_MM, NULL, &dash);
        s->rc = mb_canvas_text(s->canvas, &type, mb_str_of(mb_sheet_preview_code), x + 3, s->y + 8,
                               QR_MM - 6, NULL, s->err);
        return;
    }
    s->rc = mb_code_draw(s->page, says, &qr, s->err);
    if (!s->rc)
        mb_canvas_qr(s->canvas, qr, x, s->y, QR_MM);
}

static void check(struct mb_sheet *s, const struct mb_paper_code *says)
{
    const struct mb_type type = { .size_pt = 10, .ink = mb_sheet_black, .between_mm = 0.8 };
    const struct mb_type mono = { .size_pt = 10.5, .mono = !s->page->preview,
                                  .ink = mb_sheet_black };
    double top, width = mb_sheet_width(s) - QR_MM - GAP_MM;
    int page;

    mb_sheet_need(s, 82);
    mb_sheet_section(s, "How to check this sheet");
    code(s, says);
    if (s->rc)
        return;
    top = s->y;
    page = mb_canvas_pages(s->canvas);
    for (size_t i = 0; i < MB_SHEET_STEPS; i++)
        mb_sheet_flow(s, &type,
                      mb_arena_printf(s->arena, "%zu. %s", i + 1, mb_sheet_steps[i]),
                      MB_SHEET_MARGIN_MM, width);
    s->y += 1.5;
    mb_sheet_flow(s, &mono, s->page->preview ? mb_sheet_preview_print : s->page->fingerprint,
                  MB_SHEET_MARGIN_MM, width);
    s->y += 1.5;
    mb_sheet_flow(s, &type, mb_sheet_signed(s->arena, s->page), MB_SHEET_MARGIN_MM, width);
    if (page == mb_canvas_pages(s->canvas) && s->y < top + QR_MM)
        s->y = top + QR_MM;
    s->y += 1;
    mb_sheet_flow(s, &type, mb_sheet_reach, MB_SHEET_MARGIN_MM, mb_sheet_width(s));
    if (s->missing)
        mb_sheet_flow(s, &type, mb_sheet_boxes, MB_SHEET_MARGIN_MM, mb_sheet_width(s));
}

/* ---- the whole ---- */

struct printing {
    mb_arena *arena;
    const struct mb_canvas_setup *setup;
    const struct mb_bundle_check *checked;
    const struct mb_paper_code *code;
    struct mb_error *err;
};

struct printed {
    struct mb_str pdf;
    int pages;
    bool short_end;
};

static void draw_one(struct mb_sheet *s, const struct mb_page *page,
                     const struct mb_paper_code *says)
{
    int first = mb_canvas_pages(s->canvas);

    s->page = page;
    s->missing = 0;
    s->y = MB_SHEET_MARGIN_MM;
    head(s);
    for (const struct mb_page_item *item = page->items; item && !s->rc; item = item->next)
        mb_sheet_item(s, item);
    check(s, says);
    if (mb_canvas_pages(s->canvas) > first && s->y < s->height * SHORT_PART)
        s->short_end = true;
}

/* Five hundred pieces may stand in one file: the words of each are let go once it is drawn. */
static enum mb_rc draw_in(const struct printing *printing, mb_arena *words, double air,
                          struct printed *out)
{
    struct mb_sheet s = { .arena = words, .air = air, .err = printing->err };
    enum mb_rc rc = mb_canvas_open(printing->setup, &s.canvas, printing->err);

    if (rc)
        return rc;
    s.width = printing->setup->width_mm;
    s.height = printing->setup->height_mm;
    for (size_t i = 0; i < printing->checked->certificate_count && !s.rc; i++) {
        if (i > 0)
            mb_canvas_page(s.canvas);
        draw_one(&s, mb_page_make(words, printing->checked, printing->checked->certificates[i]),
                 printing->code);
        mb_arena_reset(words);
    }
    out->pages = mb_canvas_pages(s.canvas);
    out->short_end = s.short_end;
    rc = s.rc ? s.rc : mb_canvas_finish(s.canvas, printing->arena, &out->pdf, s.err);
    mb_canvas_close(s.canvas);
    return rc;
}

static enum mb_rc draw_all(const struct printing *printing, double air, struct printed *out)
{
    mb_arena *words = mb_arena_new();
    enum mb_rc rc = draw_in(printing, words, air, out);

    mb_arena_free(words);
    return rc;
}

/* Where a last page would be nearly empty, less air may save it. */
static enum mb_rc draw_well(const struct printing *printing, struct mb_str *pdf)
{
    static const double airs[] = { 1, 0.6, 0.25 };
    struct printed best = { 0 }, next;

    for (size_t i = 0; i < sizeof airs / sizeof *airs && (i == 0 || best.short_end); i++) {
        enum mb_rc rc = draw_all(printing, airs[i], &next);

        if (rc)
            return rc;
        if (i == 0 || next.pages < best.pages)
            best = next;
    }
    *pdf = best.pdf;
    return MB_OK;
}

/* The drawn pages, not yet dressed; they alone are left in `arena` once `checked` is gone. */
static enum mb_rc draw(mb_arena *arena, const struct mb_bundle_check *checked, const char *paper,
                       bool preview, const struct mb_paper_code *code, struct mb_str *drawn,
                       struct mb_error *err)
{
    bool letter = paper && strcmp(paper, "Letter") == 0;
    struct mb_canvas_setup setup = { .form = MB_CANVAS_PDF };
    struct printing printing = { .arena = arena, .setup = &setup, .checked = checked,
                                 .code = code, .err = err };

    setup.width_mm = letter ? MB_LETTER_WIDTH_MM : MB_A4_WIDTH_MM;
    setup.height_mm = letter ? MB_LETTER_HEIGHT_MM : MB_A4_HEIGHT_MM;
    setup.title = mb_arena_printf(arena, "%s for %.*s",
                                  preview ? "PREVIEW, not signed: sheet" : "Sheet",
                                  MB_STR_ARG(checked->certificates[0]->entry.sub));
    setup.author = mb_arena_copy(arena, checked->bundle->origin.at, checked->bundle->origin.len);
    setup.created = checked->certificates[0]->entry.iat;
    return draw_well(&printing, drawn);
}

static enum mb_rc check_paper(const char *paper, struct mb_error *err)
{
    if (!paper || strcmp(paper, "Letter") == 0 || strcmp(paper, "A4") == 0)
        return MB_OK;
    return mb_fail(err, MB_REFUSED, "'%s' is no paper size; choose A4 or Letter", paper);
}

enum mb_rc mb_sheet_pdf(mb_arena *arena, struct mb_str certificate, const char *paper,
                        const struct mb_paper_code *code, struct mb_str *pdf,
                        struct mb_error *err)
{
    struct mb_pdf_file file = { "certificate.json", "application/json",
                                "The certificate: check it with markerbed verify", certificate };
    struct mb_pdf_dress dress = { .language = "en", .xmp = true, .file = &file };
    struct mb_bundle_check checked = { 0 };
    mb_arena *reading = mb_arena_new(); /* of hundreds of pieces much, and gone before dressing */
    struct mb_str drawn;
    enum mb_rc rc = check_paper(paper, err);

    if (!rc)
        rc = mb_page_open(reading, certificate, &checked, err);
    if (!rc)
        rc = draw(arena, &checked, paper, false, code, &drawn, err);
    if (!rc)
        dress.created = checked.certificates[0]->entry.iat;
    mb_arena_free(reading);
    return rc ? rc : mb_pdf_finish(arena, drawn, &dress, pdf, err);
}

enum mb_rc mb_sheet_preview(mb_ledger *ledger, mb_arena *arena, const struct mb_issue *issue,
                            const char *paper, struct mb_sheet_pages *pages, const mb_json **out,
                            struct mb_error *err)
{
    struct mb_pdf_dress dress = { .language = "en", .xmp = true };
    struct mb_bundle_check checked = { 0 };
    const mb_json *draft = NULL;
    struct mb_str drawn;
    enum mb_rc rc = check_paper(paper, err);

    if (!rc)
        rc = mb_certificate_draft(ledger, arena, issue, &draft, out, err);
    if (!rc)
        rc = mb_page_open_draft(arena, draft, &checked, err);
    if (!rc)
        rc = draw(arena, &checked, paper, true, NULL, &drawn, err);
    if (!rc) {
        dress.created = checked.certificates[0]->entry.iat;
        rc = mb_pdf_finish(arena, drawn, &dress, &pages->pdf, err);
    }
    return rc ? rc : mb_sheet_html_of(arena, &checked, &pages->html, err);
}
