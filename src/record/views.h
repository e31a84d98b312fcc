/*
 * Views: what the entries mean. Rebuildable tables (schema/views.sql, docs/views.md), brought up to
 * date when somebody asks, never while recording.
 */
#ifndef MB_VIEWS_H
#define MB_VIEWS_H

#include "session.h"

/* A database with the views as of `as_of` (see markerbed/show.h; NULL: now). The ledger's own file
 * where that is allowed to be written and now is asked for, else a private one in memory (in a
 * temporary file where it is large). *own is true if the caller closes it. Nothing may be written
 * through it. */
MB_CHECK enum mb_rc mb_views_at(mb_ledger *ledger, const char *as_of, mb_db **out, bool *own,
                                struct mb_error *err);

/* The same for several questions that must tell of one moment: between begin and end no other
 * process changes what is seen. */
struct mb_views {
    mb_db *db;
    bool own;
};
MB_CHECK enum mb_rc mb_views_begin(mb_ledger *ledger, const char *as_of, struct mb_views *out,
                                   struct mb_error *err);
/* Only what is needed to tell the story of one subject: quicker where `as_of` is not NULL. */
MB_CHECK enum mb_rc mb_views_begin_for(mb_ledger *ledger, const char *as_of,
                                       struct mb_str subject, struct mb_views *out,
                                       struct mb_error *err);
void mb_views_end(struct mb_views *views);

/* How many entries there were: "#12" is 13, a date all that was recorded by its end (UTC), NULL all
 * of now. MB_REFUSED if it is neither. */
MB_CHECK enum mb_rc mb_views_before(mb_ledger *ledger, const char *as_of, int64_t *before,
                                    struct mb_error *err);

/* Replays everything into a private database and compares with what is stored: MB_NO if a row
 * differs, *where (in the arena) says which view. MB_OK too where nothing is stored yet. */
MB_CHECK enum mb_rc mb_views_compare(mb_ledger *ledger, mb_arena *arena, const char **where,
                                     struct mb_error *err);

/* Drops them; whoever asks next replays them. The caller has MB_MAY_VIEW. */
MB_CHECK enum mb_rc mb_views_drop(mb_db *db, struct mb_error *err);

#endif
