/* Documents made out of the program's own tables. */
#ifndef MB_DOCS_H
#define MB_DOCS_H

#include "buf.h"
#include "command.h"

/* The man page, in mdoc(7). */
enum mb_rc docs_manual(struct mb_buf *buf, mb_arena *arena, struct mb_error *err);
/* Completion for bash; needs nothing but bash itself. */
enum mb_rc docs_completion(struct mb_buf *buf, mb_arena *arena, struct mb_error *err);
/* Every kind with its fields, out of schema/kinds. */
enum mb_rc docs_kinds(struct mb_buf *buf, mb_arena *arena, struct mb_error *err);
/* The closed list of what a check can find. */
enum mb_rc docs_findings(struct mb_buf *buf, mb_arena *arena, struct mb_error *err);

#endif
