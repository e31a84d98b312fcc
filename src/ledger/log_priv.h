/* What log.c and log_read.c share. */
#ifndef MB_LOG_PRIV_H
#define MB_LOG_PRIV_H

#include "log.h"
#include "second_reader.h"

enum mb_log_stmt {
    S_HEAD,
    S_INSERT_LOG,
    S_INSERT_NODE,
    S_INSERT_TAIL,
    S_INSERT_LINE,
    S_INSERT_CHECKPOINT,
    S_READ_BACK,
    S_SUBJECT_HEAD,
    S_CHAIN,
    S_ENTRY,
    S_LEAF,
    S_NODE,
    S_CHECKPOINT_NEWEST,
    S_CHECKPOINT_AT,
    S_COUNT
};

struct mb_log {
    mb_arena *arena; /* lives as long as the log */
    mb_db *db;
    const char *folder;
    enum mb_log_mode mode;
    struct mb_str origin;
    struct mb_hash fingerprint;
    mb_stmt *stmts[S_COUNT];

    /* inside a group */
    bool clock_confirmed;
    int64_t iat_last;
    struct mb_hash leaf_last;
    struct mb_edge edge;       /* tree over all entries, as computed while appending */
    struct mb_edge edge_begin; /* tree when the group began */
    mb_second *second;         /* reads what is written; made with the first append */
};

/* The statement, prepared on first use. */
enum mb_rc mb_log_stmt(mb_log *log, enum mb_log_stmt which, mb_stmt **out, struct mb_error *err);

/* mb_log_node in the form that merkle.h calls; ctx is the log. */
enum mb_rc mb_log_read_node(void *ctx, unsigned level, uint64_t index, struct mb_hash *out,
                            struct mb_error *err);

#endif
