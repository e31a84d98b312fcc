#include "carrier.h"

#include <string.h>
#include <strings.h>

#include "bundle.h"
#include "pdf.h"
#include "text.h"

static const char opening[] = "<script type=\"application/json\" id=\"certificate\">";

static bool begins(struct mb_str bytes, const char *word)
{
    return bytes.len >= strlen(word) && strncasecmp(bytes.at, word, strlen(word)) == 0;
}

enum mb_carrier mb_carrier_of(struct mb_str bytes)
{
    struct mb_str text = mb_str_trim(bytes);

    if (bytes.len > 5 && memcmp(bytes.at, "%PDF-", 5) == 0)
        return MB_CARRIER_PDF;
    if (text.len && text.at[0] == '{')
        return MB_CARRIER_FILE;
    if (begins(text, "<!doctype html") || begins(text, "<html"))
        return MB_CARRIER_HTML;
    return MB_CARRIER_NONE;
}

static enum mb_rc open_pdf(mb_arena *arena, const char *path, struct mb_str bytes,
                           struct mb_str *certificate, struct mb_error *err)
{
    enum mb_rc rc =
        mb_pdf_attachment(arena, bytes, "certificate.json", MB_BUNDLE_MAX, certificate, err);

    if (rc == MB_NO)
        return mb_fail(err, MB_REFUSED, "%s: there is no certificate inside this PDF", path);
    if (rc)
        mb_fail_where(err, "%s", path);
    return rc;
}

/* The sheet writes every '<' of the certificate as \u003c, so the element ends at the next one. */
static enum mb_rc open_html(const char *path, struct mb_str bytes, struct mb_str *certificate,
                            struct mb_error *err)
{
    const char *at = memmem(bytes.at, bytes.len, opening, sizeof opening - 1), *end = NULL;

    if (at) {
        at += sizeof opening - 1;
        end = memmem(at, (size_t)(bytes.at + bytes.len - at), "</script>", 9);
    }
    if (!end)
        return mb_fail(err, MB_REFUSED, "%s: there is no certificate inside this web page", path);
    *certificate = (struct mb_str){ at, (size_t)(end - at) };
    return MB_OK;
}

enum mb_rc mb_carrier_open(mb_arena *arena, const char *path, struct mb_str bytes,
                           struct mb_str *certificate, struct mb_error *err)
{
    switch (mb_carrier_of(bytes)) {
    case MB_CARRIER_PDF:
        return open_pdf(arena, path, bytes, certificate, err);
    case MB_CARRIER_HTML:
        return open_html(path, bytes, certificate, err);
    case MB_CARRIER_FILE:
        *certificate = bytes;
        return MB_OK;
    default:
        return mb_fail(err, MB_REFUSED, "%s: this is no certificate of Markerbed", path);
    }
}
