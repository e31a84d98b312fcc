/* Passphrases: from a file, or asked for on the terminal without showing what is typed. Never from
 * the command line, which every user of the machine can read. */
#ifndef MB_PASSPHRASE_H
#define MB_PASSPHRASE_H

#include "command.h"

/* The first line of the file that `option` names, or the environment variable; *out.at is NULL
 * where neither is there. */
MB_CHECK enum mb_rc passphrase_from_file(const struct call *call, const char *option,
                                         const char *variable, struct mb_str *out,
                                         struct mb_error *err);
/* Asks on the terminal. MB_REFUSED where there is none: the sentence names the other ways, the
 * option and the variable (NULL: there is none). */
MB_CHECK enum mb_rc passphrase_ask(const struct call *call, const char *prompt, const char *option,
                                   const char *variable, struct mb_str *out, struct mb_error *err);
/* A new one: from a file, or asked for twice. `what` says of what. */
MB_CHECK enum mb_rc passphrase_new(const struct call *call, const char *what, const char *option,
                                   const char *variable, struct mb_str *out, struct mb_error *err);
/* Overwrites it. */
void passphrase_wipe(struct mb_str passphrase);

/* Opens the key that this call signs with; a mistyped passphrase may be typed again. */
MB_CHECK enum mb_rc passphrase_unlock(const struct call *call, struct mb_error *err);

#endif
