/* record --ask: the questions of a kind, one field at a time, for a person who knows no syntax. */
#ifndef MB_ASKING_H
#define MB_ASKING_H

#include "typing.h"

/* Fills in what is not typed yet; asks for kind and subject too where they are NULL. `all` asks
 * what is seldom needed as well. Ends with what would be recorded and the question whether to.
 * MB_REFUSED where the answer is no or the answers end. */
MB_CHECK enum mb_rc asking_talk(struct call *call, struct typing *typing, bool all,
                                struct mb_error *err);

#endif
