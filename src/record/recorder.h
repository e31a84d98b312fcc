/* Appending with the signer's rights looked after. For the floors above, which make some entries
 * themselves (certificates, withdrawals, countersignatures). */
#ifndef MB_RECORDER_H
#define MB_RECORDER_H

#include "door.h"
#include "session.h"

/*
 * Appends one entry inside a group that mb_session_begin opened. The fields are taken as they are:
 * the door is for what people type. MB_REFUSED where the open key may not record this kind. The
 * entry (may be NULL) lives in the arena.
 */
MB_CHECK enum mb_rc mb_recorder_append(mb_ledger *ledger, mb_arena *arena, const char *kind,
                                       const char *sub, const struct mb_field *fields,
                                       size_t count, struct mb_entry *out, struct mb_error *err);

/* Appends what the door let through, with its files, and with what belongs to it on other subjects
 * (pairs.c). *also: [{"subject","seq"}]. */
MB_CHECK enum mb_rc mb_recorder_checked(mb_ledger *ledger, mb_arena *arena,
                                        const struct mb_checked *checked, struct mb_entry *out,
                                        mb_json *also, struct mb_error *err);

/* A field of class open. */
struct mb_field mb_field_open(const char *name, const mb_json *value);

/* What mb_record answers, without its checkpoint. */
mb_json *mb_recorder_answer(mb_arena *arena, const struct mb_checked *checked,
                            const struct mb_entry *entry, mb_json *also);

#endif
