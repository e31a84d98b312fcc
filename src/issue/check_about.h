/* What a check answers of a whole ledger, and its words over all files. */
#ifndef MB_CHECK_ABOUT_H
#define MB_CHECK_ABOUT_H

#include "remeasure.h"
#include "verify_log.h"

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
};

/* "holds", "does not hold", "could not be checked" */
const char *mb_check_verdict(enum mb_rc rc);
mb_json *mb_check_words(mb_arena *arena, const struct mb_check_said *said, enum mb_rc rc);

#endif
