/*
 * What verify_log.c (reading and the crew), verify_judge.c (judging in order) and verify_files.c
 * (attached files) share. Nothing else includes this.
 */
#ifndef MB_VERIFY_JUDGE_H
#define MB_VERIFY_JUDGE_H

#include "crew.h"
#include "verify_log.h"

/* One entry, as the crew has taken it apart. */
struct mb_row {
    int64_t seq;
    struct mb_str leaf, jws, tail;
    bool has_tail;
    struct mb_entry entry;
    enum mb_rc rc; /* of reading it */
    const char *fault;
    enum { SIG_OPEN, SIG_GOOD, SIG_BAD } sig;
    struct mb_str *files;
    size_t file_count;
};

struct known_key {
    char kid[MB_THUMBPRINT_LEN + 1];
    struct mb_key key;
};

/* The last entry of each subject, found by a keyed hash of its name. */
struct seat {
    uint64_t hash;
    uint32_t seq_plus; /* seq + 1, 0: free */
    uint32_t nth;
};

struct missing {
    int64_t seq;
    struct mb_hash digest;
    struct missing *next;
};

struct named_file {
    struct mb_str sha256;
    int64_t seq;
};

/* What judging an entry needs to know of those before it. */
struct mb_judge {
    struct mb_log_check *check;
    mb_crew *crew;
    bool newer; /* an entry of a version that we do not know was met: behind it we cannot tell what
                 * holds of keys and chains, and make no finding of it */
    struct mb_hash *leaves; /* of all entries, by seq */
    struct seat *seats;
    uint64_t seat_mask;
    uint8_t secret[16];
    uint64_t size; /* how many entries the log had at the beginning: there is room for as many */
    struct mb_edge edge;
    mb_stmt *nodes, *checkpoints;
    bool node_row, checkpoint_row;
    int64_t checkpoint_before;
    int64_t began; /* when this verifying did, by the machine's clock */
    uint64_t index_sum; /* over (sub, nth, seq, kind, iat) of all entries */
    struct missing *missing;
    struct mb_hash *erased;
    size_t erased_count, erased_room;
    struct named_file *files;
    size_t file_count, file_room;
    struct known_key *keys;
    size_t key_count;
};

/* In the order of the log. MB_NO where it is no use going on, MB_UNABLE where the database fails.
 * */
MB_CHECK enum mb_rc mb_judge_row(struct mb_judge *judge, struct mb_row *row, struct mb_error *err);
/* The files that it names (verify_files.c): noted, and in the end looked at. */
void mb_judge_keep_files(struct mb_judge *judge, const struct mb_row *row);
void mb_judge_files(struct mb_judge *judge);
/* Items with room for one more, in the arena. */
void *mb_judge_more(mb_arena *arena, void *items, size_t count, size_t *room, size_t size);
/* What can only be judged when all entries were seen. */
MB_CHECK enum mb_rc mb_judge_rest(struct mb_judge *judge, struct mb_error *err);

#endif
