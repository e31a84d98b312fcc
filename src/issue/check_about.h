/* What a check answers of a whole ledger, and its words over all files. */
#ifndef MB_CHECK_ABOUT_H
#define MB_CHECK_ABOUT_H

#include "remeasure.h"
#include "verify_log.h"
#include "witnessed.h"

/* {"origin","fingerprint","fingerprintGrouped","trusted","entries","disclosures","attachments",
 *  "checkpoints","checkpointSize","recordedAt","asOf"} */
mb_json *mb_log_check_about(mb_arena *arena, const struct mb_log_check *check);

/* What the words over all files depend on. */
struct mb_check_said {
    const mb_findings *findings;
    size_t count; /* of files */
    const char *as_of;
    bool pdf, page;       /* one of them was a sheet */
    bool not_for_sale;    /* one of them is for another audience than a buyer or institution */
    bool several_ledgers; /* one of them carries certificates of other ledgers */
    size_t unsigned_notes;
    struct mb_remeasured measured;
    const mb_json *witnessed; /* a sentence a file, with a policy */
    bool policy;
    const mb_json *published; /* a sentence a file, where it was held against what is published */
    bool withdrawn;           /* what is published withdraws one of them */
    bool withdrawn_inside;    /* or one of another ledger that they carry */
};

/* "holds", "does not hold", "could not be checked" */
const char *mb_check_verdict(enum mb_rc rc);
mb_json *mb_check_words(mb_arena *arena, const struct mb_check_said *said, enum mb_rc rc);

/* What was measured again: into the answer of one file, and to the sum of all. */
void mb_check_measured(mb_arena *arena, mb_json *file, const struct mb_remeasured *measured,
                       struct mb_remeasured *all);
/* MB_REFUSED with the file in front. */
MB_CHECK enum mb_rc mb_check_policy(mb_arena *arena, const char *path, mb_policy **out,
                                    struct mb_error *err);

#endif
