/*
 * What was just written is read by our own reader before it may be committed: an entry that the
 * reader refuses would stand in the log for ever, and nothing could be recorded behind it. In bulk
 * a second thread does this beside the writer; a group ends with mb_second_end and its answer.
 */
#ifndef MB_SECOND_READER_H
#define MB_SECOND_READER_H

#include "entry.h"

typedef struct mb_second mb_second;

mb_second *mb_second_new(void);
mb_second *mb_second_free(mb_second *second); /* waits; accepts NULL, returns NULL */

/* Hands over one entry; its texts are copied. The first few of a group are read at once, so that a
 * single entry needs no thread. A refusal may come with a later call, or at the end. */
MB_CHECK enum mb_rc mb_second_read(mb_second *second, struct mb_str jws, struct mb_str tail,
                                   struct mb_error *err);
/* All that was handed over has been read; the next group begins. */
MB_CHECK enum mb_rc mb_second_end(mb_second *second, struct mb_error *err);
/* Gives up the group. */
void mb_second_forget(mb_second *second);

#endif
