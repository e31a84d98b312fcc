/*
 * The code on a sheet (docs/format.md section 9): origin and identity of its certificate and, where
 * that fits, a signed summary, divided by blanks; or, where an address of a page that checks is
 * set, a link to it with the same behind "#", divided by "~".
 *
 * What fits: printed 30 mm wide, its quiet zone included, a module has to measure 0.33 mm, which is
 * two dots at 150 dpi. That is version 16 at most: 450 bytes at level M, 586 at level L (ISO/IEC
 * 18004 table 7). The sheet prints it 40 mm wide, for scans and cameras that are
 * not quite straight.
 */
#ifndef MB_PAPER_CODE_H
#define MB_PAPER_CODE_H

#include <markerbed/certificate.h>

#include "qr.h"
#include "sheet_page.h"
#include "summary.h"

#define MB_CODE_MM 30.0
#define MB_CODE_MODULE_MM 0.33

/* The code of one page. */
MB_CHECK enum mb_rc mb_code_draw(const struct mb_page *page, const struct mb_paper_code *code,
                                 const struct mb_qr **out, struct mb_error *err);

/* What a code says, typed or as a scanner gave it. */
struct mb_code_said {
    struct mb_str origin;
    struct mb_hash id; /* leaf hash of the certificate's entry */
    bool summed;       /* with a summary */
    struct mb_summary summary;
    bool own;          /* the summary is of this certificate and ledger */
};
/* MB_REFUSED where it is no code of a sheet, MB_UNABLE where its summary is newer than this. */
MB_CHECK enum mb_rc mb_code_read(mb_arena *arena, struct mb_str text, struct mb_code_said *out,
                                 struct mb_error *err);

#endif
