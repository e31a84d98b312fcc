/*
 * What a preview is printed from: the entries that a certificate would hold, and in place of the
 * certificate's own entries such as would be signed, signed by a key that is made for it and
 * forgotten. It has no proof and no checkpoint, so nothing and nobody takes it for a certificate;
 * it stays in memory all the same.
 */
#ifndef MB_DRAFT_H
#define MB_DRAFT_H

#include <markerbed/certificate.h>

#include "entry.h"

typedef struct mb_draft_file mb_draft_file;

mb_draft_file *mb_draft_begin(mb_ledger *ledger, mb_arena *arena);
void mb_draft_add(mb_draft_file *file, int64_t seq, struct mb_str sd_jwt);
MB_CHECK enum mb_rc mb_draft_certificate(mb_draft_file *file, int64_t seq, struct mb_str subject,
                                         const struct mb_field *fields, size_t count,
                                         struct mb_error *err);
/* files and foreign as in a certificate; NULL: none. */
const mb_json *mb_draft_end(mb_draft_file *file, mb_json *files, mb_json *foreign);

/* The answer of a preview in *out, and the draft (NULL: none is asked for). Records nothing. */
MB_CHECK enum mb_rc mb_certificate_draft(mb_ledger *ledger, mb_arena *arena,
                                         const struct mb_issue *issue, const mb_json **draft,
                                         const mb_json **out, struct mb_error *err);

#endif
