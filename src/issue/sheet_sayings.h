/* Sentences that stand on every sheet, on paper and in HTML. */
#ifndef MB_SHEET_SAYINGS_H
#define MB_SHEET_SAYINGS_H

#include "sheet_page.h"

enum { MB_SHEET_STEPS = 3 };
extern const char *const mb_sheet_steps[MB_SHEET_STEPS];
/* What checking can show and what it cannot; what is worked out and what is only stated. */
extern const char mb_sheet_reach[], mb_sheet_boxes[];
/* On every page of a preview; in place of the code, the fingerprint and the signature. */
extern const char mb_sheet_preview_mark[], mb_sheet_preview_code[], mb_sheet_preview_print[];
/* "Signed by: ..." */
const char *mb_sheet_signed(mb_arena *arena, const struct mb_page *page);
/* "This sheet shows the record on 2026-06-01; ..." */
const char *mb_sheet_day(mb_arena *arena, const struct mb_page *page);

#endif
