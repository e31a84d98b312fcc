/*
 * Measured shares worked out again. A `condition` entry names the outlines or counts that its
 * shares come from; whoever has these bytes can measure again, and says where the entry says
 * something else. What counts is the entry as it stands: corrected fields, and not if it is void.
 *
 * Findings: shares-differ where the file gives other numbers, shares-unchecked where its bytes are
 * not at hand or cannot be read as outlines.
 */
#ifndef MB_REMEASURE_H
#define MB_REMEASURE_H

#include "log.h"
#include "measure.h"
#include "statement.h"
#include "verify_bundle.h"

/* How many entries with measured shares there were, and what became of them. */
struct mb_remeasured {
    size_t agree, differ, unchecked;
};

/* The bytes with this SHA-256 (hex), or false; they are checked against it here. */
typedef bool mb_bytes_fn(void *ctx, mb_arena *arena, struct mb_str sha256, struct mb_str *bytes);

/* Those of a file that was checked, and of those inside it. `more` (may be NULL) is asked
 * for what is not in its `files`, like the payload of a bag around it. Fields that are not shown
 * are not compared. */
void mb_remeasure_bundle(const struct mb_bundle_check *check, mb_bytes_fn *more, void *ctx,
                         mb_findings *findings, struct mb_remeasured *out);

/* Those of a whole ledger that was found sound, from its folder of attachments. */
MB_CHECK enum mb_rc mb_remeasure_log(mb_log *log, mb_findings *findings,
                                     struct mb_remeasured *out, struct mb_error *err);

/* The outlines of an entry measured again, out of a certificate's own files; NULL if they are not
 * there, cannot be read, or the entry has none. */
const struct mb_measured *mb_remeasured_of(mb_arena *arena, const struct mb_bundle *bundle,
                                           const struct mb_told *told);

/* Whether bytes are outlines as `measure` writes them for a record, which say no more than the
 * entry itself does and may go wherever it goes. */
bool mb_are_written_outlines(struct mb_str bytes);

#endif
