/*
 * Judging a whole ledger on disk: every stored entry is read and hashed again, every link,
 * signature and right is checked, the tree is built anew and compared node by node, and every
 * signed checkpoint must give its root. Uses all cores; memory is about 64 bytes an entry.
 */
#ifndef MB_VERIFY_LOG_H
#define MB_VERIFY_LOG_H

#include "finding.h"
#include "keyring.h"
#include "log.h"
#include "trust.h"

struct mb_log_check {
    mb_arena *arena;
    mb_log *log; /* open for reading */
    const struct mb_trust *trust;
    mb_findings *findings;
    unsigned threads; /* 0: one for each core */
    void (*progress)(void *ctx, uint64_t done, uint64_t entries);
    void *ctx;

    /* results */
    uint64_t entries;
    uint64_t disclosures;
    uint64_t attachments;
    uint64_t checkpoints;
    int64_t checkpoint_size; /* of the newest */
    int64_t iat_last;
    mb_keyring *ring;
    bool trusted;
};

/* Adds its findings. MB_UNABLE only where threads or memory are not to be had; a damaged database
 * is a finding. */
MB_CHECK enum mb_rc mb_log_verify(struct mb_log_check *check, struct mb_error *err);

/* Calls `each` for every {"file":sha256,...} inside a value. */
typedef void mb_file_fn(void *ctx, struct mb_str sha256);
void mb_value_files(const mb_json *value, mb_file_fn *each, void *ctx);

#endif
