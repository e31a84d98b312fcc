/* The lines of a statement, as a preview and a check print them. */
#ifndef MB_STATEMENT_TEXT_H
#define MB_STATEMENT_TEXT_H

#include "screen.h"

enum statement_part { STATEMENT_FOLLOWS, STATEMENT_STATED };

/* Lines that follow from the entries, or those that the issuer alone says, under a heading where
 * there are any; NULL: no heading. */
void statement_print(const struct screen *screen, unsigned indent, const char *heading,
                     const mb_json *lines, enum statement_part part);

#endif
