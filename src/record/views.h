/*
 * Views: what the entries mean. Rebuildable tables (schema/views.sql, docs/views.md), brought up to
 * date when somebody asks, never while recording.
 */
#ifndef MB_VIEWS_H
#define MB_VIEWS_H

#include "session.h"

/* A database with the views as of `as_of` (see markerbed/show.h; NULL: now). The ledger's own file
 * where that is allowed to be written and now is asked for, else a private one in memory. *own is
 * true if the caller closes it. */
MB_CHECK enum mb_rc mb_views_at(mb_ledger *ledger, const char *as_of, mb_db **out, bool *own,
                                struct mb_error *err);
/* Replays everything into memory and compares with what is stored: MB_NO if a row differs, *where
 * (in the arena) says which view. MB_OK too where nothing is stored yet. */
MB_CHECK enum mb_rc mb_views_compare(mb_ledger *ledger, mb_arena *arena, const char **where,
                                     struct mb_error *err);

#endif
