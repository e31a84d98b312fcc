/* Certificates and sheets: what leaves the ledger, and proves itself. */
#ifndef MARKERBED_CERTIFICATE_H
#define MARKERBED_CERTIFICATE_H

#include <markerbed/ledger.h>

struct mb_withhold {
    const char *field;   /* a field's name */
    const char
        *because; /* a choice of kind certificate: landowner's request, agency's request, ... */
};

struct mb_issue {
    const char *const *specimens; /* "specimen/26-0115" or the ID alone */
    size_t count;
    const char *audience; /* public, buyer, institution, auditor */
    const char *to;       /* party/ID, or "bearer" */
    const struct mb_withhold *withhold;
    size_t withhold_count;
    /* fields shown beyond what the audience may see, one by one: but no name that its party keeps
     * back, and no place finer than its site allows */
    const char *const *reveal;
    size_t reveal_count;
    /* attached files go beside it, as in a bag: it holds one view of each specimen, and not all */
    bool files_beside;
    bool preview;         /* nothing is recorded; the result shows what the reader would see */
    /* a buyer's sheet may go out though marks, size, mass, number or photo are missing: the page
     * then says that nothing ties it to one piece */
    bool unmarked;
};

/* Issues one certificate for `count` specimens together.
 * {"file":certificate (NULL in a preview),"id":leaf hash,"seq","statement":[lines],"audience",
 *  "withheld":[{"field","reason"}],"warnings":[...],
 *  "refusal": in a preview alone, why it could not be issued as it is} */
MB_CHECK enum mb_rc mb_certificate_issue(mb_ledger *ledger, mb_arena *arena,
                                         const struct mb_issue *issue, const mb_json **out,
                                         struct mb_error *err);

/* Makes the file of an issued certificate again out of the ledger's own records, byte for byte the
 * same: after a loss, or where the machine stopped between the recording and the writing. `name`:
 * its leaf hash, its entry as "#12", or a specimen, whose newest certificate is meant.
 * {"file","id","seq","audience","specimens":[...],"warnings":[...],"same"}
 * `same` is false where an attached file, or another ledger's certificate, is not there any more
 * (or never was): what was signed is the same even so, and `warnings` says what is missing.
 * MB_UNABLE where it cannot be, as when something that it showed has been erased since. */
MB_CHECK enum mb_rc mb_certificate_again(mb_ledger *ledger, mb_arena *arena, const char *name,
                                         const mb_json **out, struct mb_error *err);

/* What the code on a sheet says beside the ledger's name and the certificate's identity. */
struct mb_paper_code {
    const char *base;         /* address of a page that checks: the code is a link; NULL: none */
    const mb_json *summaries; /* {identity: signed summary}; NULL: none */
};
/* Of a certificate of this ledger: the address that is set (`checkAddress`), and a summary signed
 * by the open key if that is the one that signed the certificate, where it fits. The same
 * certificate, key and setting give the same. */
MB_CHECK enum mb_rc mb_sheet_code(mb_ledger *ledger, mb_arena *arena, struct mb_str certificate,
                                  struct mb_paper_code *out, struct mb_error *err);

/* The sheet as PDF with the certificate inside as an attachment named certificate.json.
 * `certificate` is the file's bytes; paper "A4" or "Letter"; code may be NULL. */
MB_CHECK enum mb_rc mb_sheet_pdf(mb_arena *arena, struct mb_str certificate, const char *paper,
                                 const struct mb_paper_code *code, struct mb_str *pdf,
                                 struct mb_error *err);

/* The same as one self-contained HTML page, for the screen and for print, with the certificate
 * inside as <script type="application/json" id="certificate">. */
MB_CHECK enum mb_rc mb_sheet_html(mb_arena *arena, struct mb_str certificate,
                                  const struct mb_paper_code *code, struct mb_str *html,
                                  struct mb_error *err);

/* Both pages as they would be, marked as a preview, with no certificate, no code and no fingerprint
 * in them; nothing is signed or recorded. *out as of a preview. paper "A4" or "Letter". */
struct mb_sheet_pages {
    struct mb_str pdf, html;
};
MB_CHECK enum mb_rc mb_sheet_preview(mb_ledger *ledger, mb_arena *arena,
                                     const struct mb_issue *issue, const char *paper,
                                     struct mb_sheet_pages *pages, const mb_json **out,
                                     struct mb_error *err);

/* Withdraws a certificate: {"seq"} */
MB_CHECK enum mb_rc mb_certificate_withdraw(mb_ledger *ledger, mb_arena *arena, const char *id,
                                            const char *why, const mb_json **out,
                                            struct mb_error *err);

#endif
