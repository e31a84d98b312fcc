/*
 * Forgetting: what was recorded in chosen fields is erased for good; that it was there, and on what
 * ground it was erased, stays. The log, the tree, every certificate already given away and every
 * proof verify as before, for entries only ever held salted digests of those fields.
 *
 * Always in two steps, at least thirty days apart: asked, which is recorded as a note that is
 * signed like every entry and so cannot be dated back; and done. Refused, at either step,
 *   - while any claim is open that asks "do not erase", whatever it is about;
 *   - for what a permit's report rests on: reports, permits, and the place, day, collector and
 *     quantity of what was found under one.
 * Erasing under an inquiry is worse than anything an inquiry can find: ask counsel first.
 *
 * What was given away before - certificates, sheets, backups - still holds it.
 */
#ifndef MARKERBED_FORGET_H
#define MARKERBED_FORGET_H

#include <markerbed/ledger.h>

/* Days between asking and doing; the setting forgetAfterDays may be longer, never shorter. */
#define MB_FORGET_DAYS_MIN 30
#define MB_FORGET_DAYS_MAX 3650

struct mb_forget {
    const char *subject;       /* "party/P006", or a specimen's ID alone */
    const char *entry;         /* "#12" or a leaf hash; NULL: all entries of the subject */
    const char *const *fields; /* names; none of them open */
    size_t field_count;
    const char *ground;        /* a choice of kind erasure */
    const char *asked_by;      /* party/ID or ID; NULL: not known */
    const char *const *also;   /* "#14:text": copies, one by one */
    size_t also_count;
    bool copies;               /* all copies that are found */
    bool preview;              /* only look; nothing is recorded */
};

/* Step one. {"request":number of the note (not in a preview),"asked","due","days",
 *  "fields":[{"seq","subject","kind","field"}],
 *  "copies":[{"seq","subject","kind","field","how":"the same"|"holds it","taken":bool,
 *    "kept":why it stays?}],
 *  "files":[hash of attached files that will go],"defaults":bool (settings.json holds it too)} */
MB_CHECK enum mb_rc mb_forget_ask(mb_ledger *ledger, mb_arena *arena,
                                  const struct mb_forget *forget, const mb_json **out,
                                  struct mb_error *err);

/* What was asked for and is not done: [{"request","subject","asked","due","ready":bool,"ground",
 *  "fields":n,"struckOut":bool}] */
MB_CHECK enum mb_rc mb_forget_list(mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                                   struct mb_error *err);

/* Step two: one request by its number. {"request","entries":[numbers of the erasures],"fields":n,
 *  "files":n}. MB_REFUSED before its day. MB_UNABLE where it is recorded and erased, but another
 *  program still reads the ledger as it was: doing it again clears away the rest. */
MB_CHECK enum mb_rc mb_forget_do(mb_ledger *ledger, mb_arena *arena, int64_t request,
                                 const mb_json **out, struct mb_error *err);

/* Attached files that no entry names: a process was stopped between storing one and recording. They
 * are removed, or (preview) only listed. {"loose":[{"file","bytes"}],"bytes","removed":bool}.
 * MB_UNABLE, and nothing is removed, where an entry cannot be read. */
MB_CHECK enum mb_rc mb_forget_loose(mb_ledger *ledger, mb_arena *arena, bool preview,
                                    const mb_json **out, struct mb_error *err);

#endif
