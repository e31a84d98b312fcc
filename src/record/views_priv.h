/*
 * What the parts of the replay share.
 *
 * The rows of a subject follow from that subject's own chain, and from a few things that others
 * hand on: labels of people, places and layers (for sentences and search), what a piece hands on to
 * those that came out of it, and what parts held when they were joined. A subject is replayed as a
 * whole whenever an entry of its chain is new or something handed on to it has changed; so it
 * makes no difference whether entries are replayed one by one or all at once.
 *
 *   views.c           the door: which database, how far, one catching-up at a time
 *   views_replay.c    which subjects are to be replayed, in which order
 *   views_alone.c     a few subjects alone
 *   views_shape.c     making and dropping the tables
 *   views_entries.c   rows that every entry has: v_entry, v_field, v_search ...
 *   views_rows.c      rows by kind, as views_tables.c lists them
 *   views_account.c   the pieces of a specimen
 *   views_held.c      who held it and who owned it
 *   views_links.c     how specimens hang together
 *   views_specimen.c  v_specimen, and what it hands on
 *   views_compare.c   stored rows against a replay
 */
#ifndef MB_VIEWS_PRIV_H
#define MB_VIEWS_PRIV_H

#include "sentence.h"
#include "tale.h"
#include "views.h"
#include "views_tables.h"

/* ---- writing rows (views_put.c) ---- */

enum mb_view_sql {
    V_SUBJECT_GET,
    V_SUBJECT_PUT,
    V_LABEL_PUT,
    V_ENTRY_PUT,
    V_ENTRY_DROP,
    V_FIELD_PUT,
    V_FIELD_DROP,
    V_CORRECTION_PUT,
    V_CORRECTION_DROP,
    V_CHANGE_PUT,
    V_CHANGE_DROP,
    V_MENTION_PUT,
    V_MENTION_DROP,
    V_MENTION_BY,
    V_SEARCH_PUT,
    V_SEARCH_DROP,
    V_KEY_GET,
    V_KEY_PUT,
    V_QUANTITY_PUT,
    V_QUANTITY_DROP,
    V_DIVISION_PUT,
    V_DIVISION_DROP,
    V_LINK_PUT,
    V_LINK_DROP,
    V_CHILDREN,
    V_HOLDER_PUT,
    V_HOLDER_DROP,
    V_OWNER_PUT,
    V_OWNER_DROP,
    V_SPECIMEN_PUT,
    V_SPECIMEN_DROP,
    V_SPECIMEN_FACTS,
    V_HANDED_ON,
    V_WORK_PUT,
    V_WORK_NEXT,
    V_WORK_DROP,
    V_STAMP_GET,
    V_STAMP_PUT,
    V_SQL_COUNT
};

enum { MB_VIEW_NAMES = 512 };

struct mb_view_name {
    struct mb_str sub, label;
};

/*
 * One replay into one database. The first failure sticks: putting does nothing behind it, and `rc`
 * is looked at where a caller can do something about it.
 */
struct mb_views_run {
    mb_log *log;    /* where entries come from */
    mb_db *db;      /* where rows go */
    int64_t before; /* entries 0..before-1 are told of */
    enum mb_rc rc;
    struct mb_error *err;
    mb_arena *arena; /* of the subject in hand */
    mb_stmt *stmts[V_SQL_COUNT];
    mb_stmt *put[MB_VIEW_TABLES_MOST], *drop[MB_VIEW_TABLES_MOST]; /* of views_tables.c */
    mb_stmt *now; /* the row being put */
    int at;
    /* labels met lately */
    mb_arena *names_arena;
    struct mb_view_name names[MB_VIEW_NAMES];
    bool erased; /* something was erased since the search index was last made small */
};

void mb_views_run_begin(struct mb_views_run *run, mb_log *log, mb_db *db, struct mb_error *err);
void mb_views_run_end(struct mb_views_run *run);
bool mb_run_failed(struct mb_views_run *run, enum mb_rc rc); /* notes a failure; true after any */

/* A statement of the list above; NULL after a failure. */
mb_stmt *mb_run_stmt(struct mb_views_run *run, enum mb_view_sql which);
mb_stmt *mb_run_stmt_of(struct mb_views_run *run, mb_stmt **kept, const char *sql);
/* Begins a row, binds its values in order, stores it. */
void mb_put(struct mb_views_run *run, enum mb_view_sql which);
void mb_put_stmt(struct mb_views_run *run, mb_stmt *stmt);
void mb_put_int(struct mb_views_run *run, int64_t value);
void mb_put_if(struct mb_views_run *run, bool known, int64_t value);
void mb_put_seq(struct mb_views_run *run, int64_t seq); /* NULL for -1 */
void mb_put_text(struct mb_views_run *run, struct mb_str value); /* .at NULL: NULL */
void mb_put_word(struct mb_views_run *run, const char *value);
void mb_put_real(struct mb_views_run *run, double value); /* NaN: NULL */
void mb_put_null(struct mb_views_run *run);
void mb_put_end(struct mb_views_run *run);
void mb_drop(struct mb_views_run *run, enum mb_view_sql which, struct mb_str sub);
void mb_drop_seq(struct mb_views_run *run, enum mb_view_sql which, int64_t seq);
/* Steps to the next row; false at the end and after a failure. */
bool mb_run_row(struct mb_views_run *run, mb_stmt *stmt);

/* ---- pieces (views_account.c) ---- */

enum mb_moved {
    MB_M_FOUND,
    MB_M_CAME_IN,
    MB_M_CAME_OUT,
    MB_M_MADE,
    MB_M_JOINED_FROM,
    MB_M_CAME_BACK,
    MB_M_GIVEN,
    MB_M_CONSUMED,
    MB_M_LOST,
    MB_M_RECOVERED,
    MB_M_JOINED_INTO,
    MB_M_RECOUNT,
    MB_M_UNACCOUNTED
};

struct mb_movement {
    int64_t seq, change, balance;
    int n;
    struct mb_days days;
    enum mb_moved how;
    bool counts; /* false: already in a count made later */
    const char *why;
};

struct mb_divided {
    int64_t seq, before, given, consumed, remainder, difference;
    bool has_remainder;
};

struct mb_account {
    struct mb_movement *rows;
    size_t count;
    struct mb_divided *divided;
    size_t divided_count;
    bool known; /* how many there were at first is known */
    int64_t in, out, counted, now, lowest;
    ptrdiff_t emptied; /* index of the row behind which nothing was left, -1 */
};

/* The account of a chain. Where it needs other chains, these are read up to entry `before`. */
MB_CHECK enum mb_rc mb_account_of(mb_log *log, const struct mb_tale *tale, int64_t before,
                                  struct mb_account *out, struct mb_error *err);
/* Is this the first word of a specimen: found, came in, came out of another ...? */
bool mb_told_begins(const struct mb_told *told);
/* `division` on the new piece, or `descent`. */
bool mb_told_came_out(const struct mb_told *told);

/* ---- holders and owners (views_held.c) ---- */

struct mb_stay {
    struct mb_str party, label;
    int64_t share, whole; /* of the ownership */
    bool has_from, has_until;
    int32_t from, until;
    int64_t seq_in, seq_out; /* -1 */
};

struct mb_held {
    struct mb_stay *holders, *owners;
    size_t holder_count, owner_count;
    signed char *giver; /* by entry of the tale: 1 it gave what it had, 0 not, -1 no transfer */
};

void mb_held_of(const struct mb_tale *tale, const struct mb_account *account,
                struct mb_held *out);
const char *mb_stay_part(mb_arena *arena, const struct mb_stay *stay); /* "all", "1/2" */

/* ---- rows by kind (views_rows.c, views_tables.c) ---- */

/* held may be NULL where the subject is no specimen. */
void mb_rows_put(struct mb_views_run *run, const struct mb_tale *tale, const struct mb_held *held);
void mb_rows_drop(struct mb_views_run *run, const struct mb_tale *tale);

/* ---- the rest ---- */

void mb_entries_put(struct mb_views_run *run, const struct mb_tale *tale, struct mb_str label);
void mb_entries_drop(struct mb_views_run *run, const struct mb_tale *tale);
void mb_keys_put(struct mb_views_run *run, const struct mb_tale *tale);
struct mb_str mb_run_label(struct mb_views_run *run, struct mb_str sub); /* kept for a while */

/* Gives the specimen's label. */
struct mb_str mb_specimen_put(struct mb_views_run *run, const struct mb_tale *tale,
                              const struct mb_account *account, const struct mb_held *held);
void mb_links_put(struct mb_views_run *run, const struct mb_tale *tale); /* views_links.c */
void mb_specimen_drop(struct mb_views_run *run, const struct mb_tale *tale);
/* What pieces that come out of it take over, as one text; {NULL, 0} if there is no row yet. */
struct mb_str mb_specimen_handed_on(struct mb_views_run *run, struct mb_str sub);

/* ---- the tables (views_shape.c) ---- */

/* Makes what the views need where it is not there, and drops all where the schema is another. */
MB_CHECK enum mb_rc mb_views_shape(mb_db *db, struct mb_error *err);
/* The indexes that are made behind a large replay, where they are not there. */
MB_CHECK enum mb_rc mb_views_index(mb_db *db, struct mb_error *err);
/* Of how many entries the stored views tell: 0 where they are not whole, or of another log.
 * current: of all of them. */
MB_CHECK enum mb_rc mb_views_current(mb_log *log, mb_db *db, bool *current, int64_t *entries,
                                     struct mb_error *err);
/* A private database, in memory where it is small. */
MB_CHECK enum mb_rc mb_views_private(int64_t entries, mb_db **out, struct mb_error *err);

/* ---- catching up (views_replay.c, views_alone.c) ---- */

/* Puts a subject into the work, where it has entries; the arena is for what is read meanwhile. */
void mb_run_subject(struct mb_views_run *run, mb_arena *arena, struct mb_str sub);
/* Replays the next subject of the work; false where there is none, or after a failure. */
bool mb_run_next(struct mb_views_run *run);
/* Replays up to `before`; MB_NEVER: to the end of the log, whatever is added meanwhile. Commits
 * now and then. */
MB_CHECK enum mb_rc mb_views_catch_up(mb_log *log, mb_db *db, int64_t before,
                                      struct mb_error *err);
/* Replays these subjects alone, and what they need, into an empty database. */
MB_CHECK enum mb_rc mb_views_catch_some(mb_log *log, mb_db *db, int64_t before,
                                        const struct mb_str *subs, size_t count,
                                        struct mb_error *err);

#endif
