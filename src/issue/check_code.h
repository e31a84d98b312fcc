/* What the code on a sheet says, held against the files that are checked with it. Without a file it
 * is a claim and nothing more. */
#ifndef MB_CHECK_CODE_H
#define MB_CHECK_CODE_H

#include "paper_code.h"
#include "verify_bundle.h"
#include "verify_log.h"

typedef struct mb_code_check mb_code_check;

/* MB_REFUSED where it is no code of a sheet. */
MB_CHECK enum mb_rc mb_code_begin(mb_arena *arena, const char *text, mb_code_check **out,
                                  struct mb_error *err);
/* Something that could hold its certificate was given. */
void mb_code_see_file(mb_code_check *code, const char *path, const struct mb_bundle_check *check);
MB_CHECK enum mb_rc mb_code_see_log(mb_code_check *code, const char *path,
                                    const struct mb_log_check *check, struct mb_error *err);
/* Adds its findings. {"origin","certificate","subject"?,"audience"?,"issuedOn"?,"says"?:[...],
 * "summary":"none"|"fits"|"does not fit"|"not checked","file"?: where its certificate is} */
const mb_json *mb_code_end(mb_code_check *code, mb_findings *findings);
/* Where nothing but a code was given. */
mb_json *mb_code_words(mb_arena *arena, enum mb_rc rc);

#endif
