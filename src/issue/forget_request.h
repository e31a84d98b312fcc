/* Requests to forget, between asking and doing: LEDGER/forget.json, which holds digests and hashes
 * alone. The note in the log that was made when it was asked holds the hash of each. */
#ifndef MB_FORGET_REQUEST_H
#define MB_FORGET_REQUEST_H

#include "forget_find.h"

struct mb_request {
    int64_t note;        /* number of the note */
    struct mb_str leaf;  /* its leaf hash, base64url */
    const mb_json *what; /* {"askedBy"?,"days","fields":[{"digests","entry","field","kind","seq",
                          *  "subject"}],"files","ground"} */
    struct mb_request *next;
};

/* In the order they were asked. */
MB_CHECK enum mb_rc mb_requests_read(mb_ledger *ledger, mb_arena *arena, struct mb_request **out,
                                     struct mb_error *err);
MB_CHECK enum mb_rc mb_requests_write(mb_ledger *ledger, mb_arena *arena,
                                      const struct mb_request *requests, struct mb_error *err);
/* The hash of what is asked, as it stands in the note. */
struct mb_str mb_request_print(mb_arena *arena, const mb_json *what);

/* What the note itself says: when it was asked, whether it still stands, whether it is of this
 * request. MB_REFUSED if it is not. */
struct mb_asked {
    int64_t at, due, days;
    bool struck_out;
    const char *subject;
};
MB_CHECK enum mb_rc mb_request_asked(mb_ledger *ledger, mb_arena *arena,
                                     const struct mb_request *request, struct mb_asked *out,
                                     struct mb_error *err);

/* The setting forgetAfterDays, and never less than the least. */
MB_CHECK enum mb_rc mb_forget_days(mb_ledger *ledger, mb_arena *arena, int64_t *days,
                                   struct mb_error *err);

#endif
