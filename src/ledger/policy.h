/*
 * Whose word about a log the reader asks for: a trust file of C2SP tlog-policy.
 *
 *   log VKEY [URL]                    a log's key (any number; none: every log is taken)
 *   witness NAME VKEY [URL]           a witness's key
 *   group NAME any|all|K MEMBER ...   K of those named above; each name is a member at most once
 *   quorum NAME|none                  exactly one
 *
 * Divided by blanks or tabs; # begins a comment line. Only names of earlier lines may be used, so
 * that there is no circle. No key stands in it twice.
 */
#ifndef MB_POLICY_H
#define MB_POLICY_H

#include "note.h"

#define MB_POLICY_NAMES_MAX 256 /* witnesses and groups together */

struct mb_policy_witness {
    struct mb_str name;
    struct mb_vkey vkey;
    bool usable; /* false: a key of a type that this program cannot check; it never counts */
};

typedef struct mb_policy mb_policy;

/* MB_REFUSED with the line. Points into bytes. */
MB_CHECK enum mb_rc mb_policy_read(mb_arena *arena, struct mb_str bytes, mb_policy **out,
                                   struct mb_error *err);

size_t mb_policy_witness_count(const mb_policy *policy);
const struct mb_policy_witness *mb_policy_witness_at(const mb_policy *policy, size_t index);
bool mb_policy_asks(const mb_policy *policy); /* false: quorum none */
/* Is the note signed by a log that the file names, or does it name none? */
bool mb_policy_takes_log(const mb_policy *policy, const struct mb_note *note);
/* Do these witnesses (one truth a witness) make the quorum? */
bool mb_policy_reached(const mb_policy *policy, const bool *seen);

#endif
