/* Asking a person, on a terminal or through a pipe: a prompt on standard output (on standard error
 * with --json, so that the result stays clean), an answer from standard input. */
#ifndef MB_TALK_H
#define MB_TALK_H

#include "command.h"

struct talk {
    const struct call *call;
    struct screen screen;
    bool ended; /* there was no more answer to read */
};

void talk_begin(struct talk *talk, const struct call *call);
/* The answer without blanks around it; "" and ended at the end of input. */
const char *talk_ask(struct talk *talk, const char *prompt);
/* "yes" or "no" until one is given; nothing typed means `fallback`, the end of input no. */
bool talk_yes(struct talk *talk, const char *prompt, bool fallback);

#endif
