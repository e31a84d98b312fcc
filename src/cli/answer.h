/* One question of record --ask and its answer. */
#ifndef MB_ANSWER_H
#define MB_ANSWER_H

#include "talk.h"

enum answered { ANSWER_GIVEN, ANSWER_NONE, ANSWER_BACK, ANSWER_ENDED };

/* Asks until the answer can be right: choices by their words or the beginning of them, dates that
 * exist, numbers that are some. "?" gives help, nothing typed takes the default, "<" goes back.
 * Rows are asked column by column; *json is set for them, else *text. */
enum answered answer_ask(struct talk *talk, const mb_json *question, const char **text,
                         const mb_json **json);

#endif
