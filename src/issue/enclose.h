/* Which attached files travel inside a certificate. */
#ifndef MB_ENCLOSE_H
#define MB_ENCLOSE_H

#include "closure.h"

/*
 * {"<sha256>": base64, ...} of the files that shown fields name, or NULL if there are none. For an
 * institution every file goes. For others only pictures without any metadata that could tell where
 * or by whom they were taken (picture.h): a cleaned copy, or an original that has none. What is too
 * large stays outside, named by its hash.
 */
MB_CHECK enum mb_rc mb_enclose_files(mb_ledger *ledger, mb_arena *arena,
                                     const struct mb_closure *closure, enum mb_audience audience,
                                     mb_json **out, struct mb_error *err);

#endif
