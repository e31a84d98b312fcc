/* Which attached files travel inside a certificate. */
#ifndef MB_ENCLOSE_H
#define MB_ENCLOSE_H

#include "closure.h"

/*
 * {"<sha256>": base64, ...} of the files that shown fields name, or NULL if there are none. For an
 * institution every file goes. For others pictures without any metadata that could tell where or
 * by whom they were taken (picture.h), a cleaned copy or an original that has none, and outlines as
 * `measure` writes them for a record (remeasure.h), which say no place. What there is no room for
 * (in bytes, all together), or is no longer in the ledger, stays outside, named by its hash;
 * `warnings` says so. views_only: one picture of each specimen, and outlines; the other files
 * travel beside the certificate, and no word is made of it.
 */
mb_json *mb_enclose_files(mb_ledger *ledger, mb_arena *arena, const struct mb_closure *closure,
                          enum mb_audience audience, size_t room, bool views_only,
                          mb_json *warnings);

/* May an attached file of these bytes go to this audience? */
bool mb_enclose_may_go(enum mb_audience audience, struct mb_str bytes);

#endif
