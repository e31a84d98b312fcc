/*
 * Attached files that this process has just put into the ledger's folder. Where what they belong to
 * is refused after all, they go again, so that a refusal leaves nothing behind.
 *
 * They are stored before the ledger is held, for copying takes long, so another process may have
 * recorded the same bytes meanwhile: whoever takes a file away holds the ledger and looks through
 * the entries recorded since. One that finds a file in place and then waits for the ledger looks
 * again when it holds it (mb_fresh_store inside the group). A file that was stored and then lost
 * its process is named by `verify` and taken away by `forget --loose`.
 */
#ifndef MB_FRESH_FILES_H
#define MB_FRESH_FILES_H

#include "attach.h"
#include "session.h"

struct mb_fresh_file {
    char hex[65];
    int64_t since; /* no entry below this one names it */
    bool kept;     /* an entry of the open group does */
    struct mb_fresh_file *next;
};

/* mb_attach_store, remembered where the file was not there before. */
MB_CHECK enum mb_rc mb_fresh_store(mb_ledger *ledger, const struct mb_attached *attached,
                                   struct mb_error *err);
/* An entry that names these is appended. */
void mb_fresh_keep(mb_ledger *ledger, const struct mb_attached *files);
/* Takes away those that nothing names: before a commit the ones that were not kept, on the way out
 * of a group that is given up all of them. Where it cannot, it leaves them. */
void mb_fresh_drop(mb_ledger *ledger, bool kept_too);
/* They are there to stay. */
void mb_fresh_settle(mb_ledger *ledger);

#endif
