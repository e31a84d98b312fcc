/*
 * The sheet as one HTML page that needs nothing else: style, photo, code and the certificate are
 * inside, no script runs, nothing is fetched. Prints on paper as it is.
 */
#include <markerbed/certificate.h>

#include "buf.h"
#include "codec.h"
#include "paper_code.h"
#include "picture.h"
#include "sheet_bar.h"
#include "sheet_drawing.h"
#include "sheet_page.h"
#include "sheet_sayings.h"
#include "text.h"

#define HTML_MAX (256u << 20)

static const char style[] =
    "body{font:1.1rem/1.45 sans-serif;color:#1a1a1a;background:#fff;max-width:46rem;margin:0 auto;"
    "padding:1rem}h1{font-size:1.7rem;line-height:1.2}h2{font-size:1.25rem;border-bottom:1px solid"
    " #b0b0b0;margin:1.6rem 0 .5rem;break-after:avoid}h3{font-size:1.05rem;margin:1rem 0 .3rem;"
    "break-after:avoid}p{margin:.3rem 0;white-space:pre-line}dl{margin:.2rem 0;display:grid;"
    "grid-template-columns:minmax(8.5rem,1fr) 3fr;gap:0 1rem}dt{color:#505050}dd{margin:0;"
    "white-space:pre-line}dt,dd,p,h1,td{overflow-wrap:anywhere;unicode-bidi:plaintext}"
    "img,svg{max-width:100%}table"
    "{border-collapse:collapse;width:100%}th,td{text-align:left;vertical-align:top;padding:.2rem"
    " .4rem .2rem 0;border-bottom:1px solid #b0b0b0}.code{font-family:monospace}.qr{width:17rem;"
    "max-width:100%}"
    ".preview{position:sticky;top:0;background:#fff;border:3px solid #1a1a1a;text-align:center;"
    "font-size:1.4rem;font-weight:700;padding:.2rem;z-index:1}.none{border:1px dashed #505050;"
    "padding:1rem .5rem;box-sizing:border-box;font-weight:700}"
    ".first,.first dt{font-weight:700;color:#1a1a1a}"
    ".share{break-inside:avoid;margin-bottom:.5rem}.bar{display:block;width:100%;margin-top:.2rem}"
    ".drawing{width:34rem;object-fit:contain;object-position:left}.legend{list-style:none;margin:"
    ".2rem 0 1rem;padding:0;display:grid;grid-template-columns:repeat(auto-fill,minmax(19rem,1fr))"
    ";gap:.2rem 1rem}.legend li{display:flex;gap:.6rem;align-items:center}.legend li.head{grid-"
    "column:1/-1;font-weight:700}.legend img{flex:none;width:3rem}"
    "figure{display:inline-block;width:31%;margin:.4rem 1% .4rem 0;vertical-align:top}figcaption"
    "{color:#505050;font-size:.95rem}article+article{border-top:3px solid #1a1a1a;margin-top:3rem}"
    "@media(max-width:34rem){figure{width:100%}table{font-size:.85rem}"
    "td:first-child{white-space:nowrap}}"
    "@media print{.preview{position:fixed;top:0;left:0;right:0;margin:0;font-size:12pt}body{max-"
    "width:none;padding:0;font-size:11pt}tr,svg,figure,.check{break-inside:avoid}"
    "article+article{break-before:page;border:0;margin:0}.photo{max-height:7cm}"
    ".drawing{max-height:7cm;width:auto}.check "
    ".qr{float:right;width:40mm}dd{orphans:3;widows:3}h2{margin-top:1rem}}";

static void element(struct mb_buf *out, const char *name, const char *text)
{
    mb_buf_printf(out, "<%s>", name);
    mb_buf_add_escaped(out, mb_str_of(text));
    mb_buf_printf(out, "</%s>\n", name);
}

static void pair_of(struct mb_buf *out, const char *label, const char *text)
{
    mb_buf_add_text(out, "<dl>");
    element(out, "dt", label);
    element(out, "dd", text);
    mb_buf_add_text(out, "</dl>\n");
}

/* What belongs together stays on one page when printed. */
static void bar(struct mb_buf *out, mb_arena *arena, const struct mb_page_item *item)
{
    mb_buf_add_text(out, item->strong ? "<div class=\"share first\">" : "<div class=\"share\">");
    pair_of(out, item->label, item->text);
    mb_bar_html(out, arena, item);
    mb_buf_add_text(out, "</div>\n");
}

static void table(struct mb_buf *out, const struct mb_page_item *item)
{
    mb_buf_add_text(out, "<table>\n");
    for (size_t i = 0; i < item->rows; i++) {
        mb_buf_add_text(out, "<tr>");
        for (size_t j = 0; j < item->columns; j++)
            element(out, i ? "td" : "th", item->cells[i * item->columns + j]);
        mb_buf_add_text(out, "</tr>\n");
    }
    mb_buf_add_text(out, "</table>\n");
}

static void picture(struct mb_buf *out, mb_arena *arena, struct mb_str bytes, const char *class,
                    const char *words)
{
    struct mb_picture picture;

    if (!bytes.at || mb_picture_look(bytes, &picture, NULL))
        return;
    mb_buf_printf(out, "<img class=\"%s\" alt=\"", class);
    mb_buf_add_escaped(out, mb_str_of(words));
    mb_buf_printf(out, "\" src=\"data:image/%s;base64,",
                  picture.form == MB_PICTURE_PNG ? "png" : "jpeg");
    mb_buf_add_str(out, mb_b64(arena, bytes.at, bytes.len));
    mb_buf_add_text(out, "\">");
}

static void item_of(struct mb_buf *out, mb_arena *arena, const struct mb_page_item *item)
{
    switch (item->kind) {
    case MB_PAGE_SECTION:
        element(out, "h2", item->text);
        break;
    case MB_PAGE_GROUP:
        element(out, "h3", item->text);
        break;
    case MB_PAGE_SAY:
        mb_buf_add_text(out, item->strong ? "<div class=\"first\">" : "<div>");
        element(out, "p", item->text);
        mb_buf_add_text(out, "</div>\n");
        break;
    case MB_PAGE_PAIR:
        pair_of(out, item->label, item->text);
        break;
    case MB_PAGE_BAR:
        bar(out, arena, item);
        break;
    case MB_PAGE_TABLE:
        table(out, item);
        break;
    case MB_PAGE_DRAWING:
        mb_drawing_html(out, item);
        break;
    case MB_PAGE_PICTURE:
        mb_buf_add_text(out, "<figure>");
        picture(out, arena, item->bytes, "mark", item->label);
        element(out, "figcaption", item->label);
        mb_buf_add_text(out, "</figure>\n");
        break;
    }
}

static void photo(struct mb_buf *out, const struct mb_page *page)
{
    mb_buf_add_text(out, "<p>");
    picture(out, page->arena, page->photo, "photo", "Photo of the piece");
    mb_buf_add_text(out, "</p>\n");
}

static enum mb_rc code(struct mb_buf *out, const struct mb_page *page,
                       const struct mb_paper_code *says, struct mb_error *err)
{
    const struct mb_qr *qr;
    enum mb_rc rc;
    int side;

    if (page->preview) {
        mb_buf_printf(out, "<p class=\"qr none\">%s</p>\n", mb_sheet_preview_code);
        return MB_OK;
    }
    rc = mb_code_draw(page, says, &qr, err);
    if (rc)
        return rc;
    side = qr->side + 2 * MB_QR_QUIET;
    mb_buf_printf(out,
                  "<svg class=\"qr\" viewBox=\"0 0 %d %d\" shape-rendering=\"crispEdges\""
                  " role=\"img\" aria-label=\"Code\"><path fill=\"#fff\" d=\"M0 0h%dv%dH0z\"/>"
                  "<path d=\"",
                  side, side, side, side);
    for (int y = 0; y < qr->side; y++)
        for (int x = 0; x < qr->side; x++)
            if (qr->dark[y * qr->side + x])
                mb_buf_printf(out, "M%d %dh1v1h-1z", x + MB_QR_QUIET, y + MB_QR_QUIET);
    mb_buf_add_text(out, "\"/></svg>\n");
    return MB_OK;
}

static enum mb_rc one_page(struct mb_buf *out, const struct mb_page *page,
                           const struct mb_paper_code *says, struct mb_error *err)
{
    enum mb_rc rc;

    mb_buf_add_text(out, "<article>\n");
    element(out, "p", mb_arena_printf(page->arena, "%s · %s", page->issuer, page->origin));
    element(out, "h1", page->title);
    element(out, "p", mb_arena_printf(page->arena, "Number %s", page->number));
    element(out, "p", page->audience);
    element(out, "p", mb_sheet_day(page->arena, page));
    photo(out, page);
    for (const struct mb_page_item *item = page->items; item; item = item->next)
        item_of(out, page->arena, item);
    mb_buf_add_text(out, "<div class=\"check\">\n");
    element(out, "h2", "How to check this sheet");
    rc = code(out, page, says, err);
    for (size_t i = 0; i < MB_SHEET_STEPS; i++)
        element(out, "p", mb_arena_printf(page->arena, "%zu. %s", i + 1, mb_sheet_steps[i]));
    if (page->preview) {
        element(out, "p", mb_sheet_preview_print);
    } else {
        mb_buf_add_text(out, "<p class=\"code\">");
        mb_buf_add_escaped(out, mb_str_of(page->fingerprint));
        mb_buf_add_text(out, "</p>\n");
    }
    element(out, "p", mb_sheet_signed(page->arena, page));
    element(out, "p", mb_sheet_reach);
    if (!page->preview)
        element(out, "p", mb_arena_printf(page->arena, "Certificate %s, entry %lld", page->id,
                                          (long long)page->index));
    mb_buf_add_text(out, "</div></article>\n");
    return rc;
}

/* Nothing in a JSON text may end the element that it stands in. */
static void data(struct mb_buf *out, struct mb_str json)
{
    mb_buf_add_text(out, "<script type=\"application/json\" id=\"certificate\">");
    for (size_t i = 0; i < json.len; i++) {
        if (json.at[i] == '<')
            mb_buf_add_text(out, "\\u003c");
        else
            mb_buf_add_char(out, json.at[i]);
    }
    mb_buf_add_text(out, "</script>\n");
}

/* `certificate` goes along inside; {NULL, 0}: a preview. */
static enum mb_rc write_all(mb_arena *arena, const struct mb_bundle_check *check,
                            struct mb_str certificate, const struct mb_paper_code *says,
                            struct mb_buf *out, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;
    bool preview = !certificate.at;

    mb_buf_add_text(out, "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
                         "<meta name=\"viewport\" content=\"width=device-width\">\n");
    mb_buf_add_text(out, "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src"
                         " 'none'; img-src data:; style-src 'unsafe-inline'\">\n");
    element(out, "title",
            mb_arena_printf(arena, "%s for %.*s", preview ? "PREVIEW, not signed: sheet" : "Sheet",
                            MB_STR_ARG(check->certificates[0]->entry.sub)));
    mb_buf_printf(out, "<style>%s</style></head><body>\n", style);
    if (preview)
        mb_buf_printf(out, "<p class=\"preview\">%s</p>\n", mb_sheet_preview_mark);
    for (size_t i = 0; i < check->certificate_count && !rc; i++)
        rc = one_page(out, mb_page_make(arena, check, check->certificates[i]), says, err);
    if (!preview)
        data(out, certificate);
    mb_buf_add_text(out, "</body></html>\n");
    return rc;
}

static enum mb_rc page_with(mb_arena *arena, const struct mb_bundle_check *check,
                            struct mb_str certificate, const struct mb_paper_code *says,
                            struct mb_str *html, struct mb_error *err)
{
    MB_BUF_AUTO struct mb_buf out;
    enum mb_rc rc;

    mb_buf_init(&out, HTML_MAX);
    rc = write_all(arena, check, certificate, says, &out, err);
    if (!rc && !mb_buf_ok(&out))
        rc = mb_fail(err, MB_REFUSED, "the page would be larger than 256 MiB");
    if (!rc) {
        struct mb_str all = mb_buf_str(&out);

        *html = (struct mb_str){ mb_arena_copy(arena, all.at, all.len), all.len };
    }
    return rc;
}

enum mb_rc mb_sheet_html_of(mb_arena *arena, const struct mb_bundle_check *check,
                            struct mb_str *html, struct mb_error *err)
{
    return page_with(arena, check, (struct mb_str){ NULL, 0 }, NULL, html, err);
}

enum mb_rc mb_sheet_html(mb_arena *arena, struct mb_str certificate,
                         const struct mb_paper_code *code, struct mb_str *html,
                         struct mb_error *err)
{
    struct mb_bundle_check check = { 0 };
    enum mb_rc rc = mb_page_open(arena, certificate, &check, err);

    return rc ? rc : page_with(arena, &check, certificate, code, html, err);
}
