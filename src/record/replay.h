/* Filling the views from the log: the only writer of the tables that schema/views.sql makes. */
#ifndef MB_REPLAY_H
#define MB_REPLAY_H

#include "log.h"

/* Makes the tables anew, empty. */
MB_CHECK enum mb_rc mb_replay_reset(mb_db *views, struct mb_error *err);
/* Brings them from where they are up to entry `to` (not included). The rows are the same whether
 * this is done at once or in steps. Inside a transaction of the caller's. */
MB_CHECK enum mb_rc mb_replay_to(mb_db *views, mb_log *log, int64_t to, struct mb_error *err);
/* How far they are: -1 where they were never made, or by another version of views.sql. */
int64_t mb_replay_stamp(mb_db *views);

#endif
