/* Entries of one ledger without a ledger: written, signed and read again in memory, with some of
 * their fields not shown. */
#ifndef MB_CHAIN_H
#define MB_CHAIN_H

#include "entry.h"

struct chain {
    mb_arena *arena;
    mb_secret *secret;
    int64_t seq;
};

void chain_begin(struct chain *c);
void chain_end(struct chain *c);
/* Fields as temp_fields reads them. `hidden` names the fields that are not shown, with blanks
 * between; "*" is all of them, NULL none. */
const struct mb_entry *chain_add(struct chain *c, const char *sub, const char *kind,
                                 const char *fields, const char *hidden);
/* A correction of `target` on the same subject: "change fields", "void: double" ... */
const struct mb_entry *chain_correct(struct chain *c, const struct mb_entry *target,
                                     const char *action, const char *fields, const char *hidden);
/* Its leaf hash, in base64url. */
const char *chain_leaf(struct chain *c, const struct mb_entry *entry);

#endif
