/*
 * What a person need not type again, and which is no statement about anything:
 * LEDGER/settings.json, beside the log and no part of it. Losing the file loses convenience and
 * nothing else.
 *
 *   {"format":"markerbed-settings/1",
 *    "recorders":{KID:"party/P001"},           whose key it is, where no enrolment says so
 *    "everybody":{"purpose":"commercial"},     defaults of all who use this folder
 *    "keys":{KID:{"fieldDay":"FD-12"}}}        one person's own, which go first
 *
 * Values are kept as they were typed and pass the door like anything typed.
 */
#ifndef MB_SETTINGS_H
#define MB_SETTINGS_H

#include "session.h"

/* The file's content; an object without members where there is no file. */
MB_CHECK enum mb_rc mb_settings_read(const mb_ledger *ledger, mb_arena *arena,
                                     const mb_json **out, struct mb_error *err);
/* A default as this person would have it; {NULL, 0} if there is none. */
struct mb_str mb_settings_of(const mb_ledger *ledger, const mb_json *settings, struct mb_str name);
/* party/ID of the key's holder by the settings alone, {NULL, 0} if they do not say. In the ledger's
 * arena. */
MB_CHECK enum mb_rc mb_settings_recorder(mb_ledger *ledger, const char *kid, struct mb_str *out,
                                         struct mb_error *err);
/* Writes the file of a ledger just founded, with the holder of its founding key. */
MB_CHECK enum mb_rc mb_settings_found(mb_arena *arena, const char *folder, const char *kid,
                                      const char *recorder, struct mb_error *err);
/* A page that checks certificates, to which the codes on sheets lead: the default of this name. */
#define MB_CHECK_ADDRESS "checkAddress"
enum { MB_ADDRESS_MAX = 100 };
/* http or https, without "#", blanks and what an address has to escape. */
bool mb_address_ok(struct mb_str address);
const char *mb_settings_path(mb_arena *arena, const char *folder);

#endif
