/* The audit in words and as a spreadsheet. */
#ifndef MB_AUDIT_TEXT_H
#define MB_AUDIT_TEXT_H

#include "screen.h"

void audit_tell(const struct screen *screen, const mb_json *audit);
/* Findings as RFC 4180, one a line, with a line of headings. */
void audit_tell_csv(const struct screen *screen, const mb_json *audit);
/* [{"act","standing","reasons"}] */
void standing_tell(const struct screen *screen, unsigned indent, const mb_json *standing);

#endif
