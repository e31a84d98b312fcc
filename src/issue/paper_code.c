#include "paper_code.h"

#include <string.h>

#include "buf.h"
#include "session.h"
#include "settings.h"
#include "text.h"

#define LONGEST 4096 /* of what is read */

/* ---- writing ---- */

/* In the part of an address behind "#" (RFC 3986 3.5), "~" divides and "%" tells. */
static void put_escaped(struct mb_buf *out, const char *text)
{
    static const char plain[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._";

    for (; *text; text++) {
        if (strchr(plain, *text))
            mb_buf_add_char(out, *text);
        else
            mb_buf_printf(out, "%%%02X", (unsigned)(unsigned char)*text);
    }
}

static struct mb_str text_of(const struct mb_page *page, const char *base, struct mb_str summary)
{
    MB_BUF_AUTO struct mb_buf out;
    struct mb_str all;

    mb_buf_init(&out, LONGEST);
    if (base) {
        mb_buf_printf(&out, "%s#", base);
        put_escaped(&out, page->origin);
    } else {
        mb_buf_add_text(&out, page->origin);
    }
    mb_buf_printf(&out, "%c%s", base ? '~' : ' ', page->id);
    if (summary.at)
        mb_buf_printf(&out, "%c%.*s", base ? '~' : ' ', MB_STR_ARG(summary));
    all = mb_buf_str(&out);
    return (struct mb_str){ mb_arena_copy(page->arena, all.at, all.len), all.len };
}

/* The more of it may be damaged the better, as long as it fits: MB_NO if it does not. */
static enum mb_rc fit(mb_arena *arena, struct mb_str text, const struct mb_qr **out)
{
    static const enum mb_qr_level levels[] = { MB_QR_LEVEL_M, MB_QR_LEVEL_L };
    struct mb_error ignored = { 0 };

    for (size_t i = 0; i < sizeof levels / sizeof *levels; i++)
        if (mb_qr_make(arena, text, levels[i], out, &ignored) == MB_OK
            && mb_qr_module_mm(*out, MB_CODE_MM) >= MB_CODE_MODULE_MM)
            return MB_OK;
    return MB_NO;
}

enum mb_rc mb_code_draw(const struct mb_page *page, const struct mb_paper_code *code,
                        const struct mb_qr **out, struct mb_error *err)
{
    const char *base = code ? code->base : NULL;
    struct mb_str none = { NULL, 0 };
    struct mb_str summary = code ? mb_json_str(mb_json_get(code->summaries, page->id)) : none;

    if (summary.at && fit(page->arena, text_of(page, base, summary), out) == MB_OK)
        return MB_OK;
    return mb_qr_make(page->arena, text_of(page, base, none), MB_QR_LEVEL_M, out, err);
}

/* What the sheet says first, in its words: what it is, and how much of it is original where that is
 * one figure. With several figures, one alone would mislead. */
static mb_json *headlines(const struct mb_page *page)
{
    mb_json *says = mb_json_array(page->arena);
    const struct mb_page_item *only = NULL;
    size_t figures = 0;

    mb_json_add_text(page->arena, says, page->title);
    for (const struct mb_page_item *item = page->items; item; item = item->next)
        if (item->kind == MB_PAGE_BAR && item->strong
            && strcmp(item->label, MB_PAGE_ORIGINAL) == 0) {
            only = item;
            figures++;
        }
    if (figures == 1)
        mb_json_add_text(page->arena, says,
                         mb_arena_printf(page->arena, "%s: %s", only->label, only->text));
    return says;
}

static mb_json *but_the_last(mb_arena *arena, const mb_json *says)
{
    mb_json *out = mb_json_array(arena);

    MB_JSON_EACH(text, says)
    {
        if (text->next)
            mb_json_add(out, mb_json_copy(arena, text));
    }
    return out;
}

/* As many of the headlines as fit; {NULL, 0} where not even none of them does. */
static struct mb_str summarize(const struct mb_page *page, const struct mb_bundle_entry *entry,
                               const char *base, const mb_secret *secret)
{
    struct mb_summary what = { .iss = mb_str_of(page->origin),
                               .crt = entry->entry.leaf,
                               .sub = entry->entry.sub,
                               .audience = mb_str_of(mb_audience_name[page->check->audience]),
                               .iat = entry->entry.iat,
                               .says = headlines(page) };
    const struct mb_qr *ignored;

    for (;;) {
        struct mb_str jws = mb_summary_write(page->arena, &what, secret);

        if (fit(page->arena, text_of(page, base, jws), &ignored) == MB_OK)
            return jws;
        if (what.says->count == 0)
            return (struct mb_str){ NULL, 0 };
        what.says = but_the_last(page->arena, what.says);
    }
}

static enum mb_rc sign_all(mb_ledger *ledger, mb_arena *arena, struct mb_str certificate,
                           const char *base, mb_json *summaries, struct mb_error *err)
{
    mb_arena *whole = mb_arena_new(), *words = mb_arena_new();
    struct mb_bundle_check check = { 0 };
    enum mb_rc rc = mb_page_open(whole, certificate, &check, err);

    for (size_t i = 0; !rc && i < check.certificate_count; i++) {
        const struct mb_bundle_entry *entry = check.certificates[i];
        struct mb_page *page;
        struct mb_str jws;

        if (!mb_str_is(entry->entry.kid, ledger->signer.kid))
            continue;
        page = mb_page_make(words, &check, entry);
        jws = summarize(page, entry, base, ledger->person);
        if (jws.at)
            mb_json_put(arena, summaries, mb_arena_text(arena, page->id),
                        mb_json_string_str(arena, mb_arena_str(arena, jws)));
        mb_arena_reset(words);
    }
    mb_arena_free(words);
    mb_arena_free(whole);
    return rc;
}

enum mb_rc mb_sheet_code(mb_ledger *ledger, mb_arena *arena, struct mb_str certificate,
                         struct mb_paper_code *out, struct mb_error *err)
{
    mb_json *summaries = mb_json_object(arena);
    const mb_json *settings = NULL;
    struct mb_str base;
    enum mb_rc rc = mb_settings_read(ledger, arena, &settings, err);

    if (rc)
        return rc;
    base = mb_settings_of(ledger, settings, MB_STR(MB_CHECK_ADDRESS));
    out->base = base.at && mb_address_ok(base) ? mb_arena_copy(arena, base.at, base.len) : NULL;
    out->summaries = summaries;
    return ledger->person ? sign_all(ledger, arena, certificate, out->base, summaries, err) : MB_OK;
}

/* ---- reading ---- */

static int hex(char c)
{
    const char *digits = "0123456789ABCDEF", *at;

    if (c >= 'a' && c <= 'f')
        c = (char)(c - 'a' + 'A');
    at = c ? strchr(digits, c) : NULL;
    return at ? (int)(at - digits) : -1;
}

static struct mb_str unescaped(mb_arena *arena, struct mb_str text)
{
    char *out = mb_arena_get(arena, text.len + 1);
    size_t n = 0;

    for (size_t i = 0; i < text.len; i++) {
        int high = text.at[i] == '%' && i + 2 < text.len ? hex(text.at[i + 1]) : -1;
        int low = high >= 0 ? hex(text.at[i + 2]) : -1;

        out[n++] = low >= 0 ? (char)(high * 16 + low) : text.at[i];
        i += low >= 0 ? 2 : 0;
    }
    out[n] = '\0';
    return (struct mb_str){ out, n };
}

/* Cuts at the last `mark`. */
static bool cut_last(struct mb_str s, char mark, struct mb_str *head, struct mb_str *rest)
{
    for (size_t i = s.len; i-- > 0;)
        if (s.at[i] == mark) {
            *head = (struct mb_str){ s.at, i };
            *rest = (struct mb_str){ s.at + i + 1, s.len - i - 1 };
            return true;
        }
    return false;
}

static enum mb_rc no_code(struct mb_error *err)
{
    return mb_fail(err, MB_REFUSED,
                   "this is not what the code on a sheet says: the name of a ledger and the 43"
                   " letters of a certificate, perhaps with a signed summary, or a link with these"
                   " behind #");
}

enum mb_rc mb_code_read(mb_arena *arena, struct mb_str text, struct mb_code_said *out,
                        struct mb_error *err)
{
    struct mb_str head, last, jws = { NULL, 0 };
    bool link;
    char mark;
    enum mb_rc rc;

    text = mb_str_trim(text);
    link = mb_str_starts(text, "https://") || mb_str_starts(text, "http://")
           || mb_str_starts(text, "file://");
    mark = link ? '~' : ' ';
    if (text.len > LONGEST || (link && !mb_str_cut(text, '#', &head, &text))
        || !cut_last(text, mark, &head, &last))
        return no_code(err);
    if (last.len != MB_HASH_B64U_LEN) {
        jws = last;
        if (!cut_last(head, mark, &head, &last))
            return no_code(err);
    }
    out->origin = link ? unescaped(arena, head) : head;
    if (!mb_b64u_read_exact(last, out->id.b, sizeof out->id.b) || !mb_origin_ok(out->origin))
        return no_code(err);
    out->summed = jws.at != NULL;
    if (!out->summed)
        return MB_OK;
    rc = mb_summary_read(arena, jws, &out->summary, err);
    if (rc)
        mb_fail_where(err, "the summary in the code");
    else
        out->own = mb_str_equal(out->summary.iss, out->origin)
                   && mb_hash_equal(&out->summary.crt, &out->id);
    return rc;
}
