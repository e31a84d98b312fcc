/*
 * Recording: one entry, or many that stand or fall together.
 *
 * Values come as a person writes them; the door turns them into what is signed, fills in what the
 * field-day, the dealing, the last entry or the person's own defaults already say, and refuses
 * nonsense in one sentence with what is allowed. What people really do is recorded.
 */
#ifndef MARKERBED_RECORD_H
#define MARKERBED_RECORD_H

#include <markerbed/ledger.h>

/* One value as typed: "name=value". A list is divided by " | "; rows by " | " with columns
 * "column:value; column:value"; a decimal with a unit is "12.50 kg"; an answer is its words
 * ("not known"). value_json, where not NULL, is taken instead of the text. */
struct mb_typed {
    const char *name;
    const char *value;
    const mb_json *value_json;
};

struct mb_recording {
    const char *kind;
    const char *subject; /* "specimen/26-0115" */
    const struct mb_typed *typed;
    size_t count;
    const char *const *attach; /* "field=path" or path alone (goes to the field `photos`) */
    size_t attach_count;
    const char *where; /* "finds.csv: line 12", put before sentences; may be NULL */
};

/* {"seq","leaf","subject","kind","nth","iat","fields":{name:value as recorded},
 *  "filled":{name:value},"warnings":["..."],
 *  "cautions"?:[{"hazard","title","for":["..."],"guard","limit"?,"source","memory"?}],
 *  "cautionWords"?:["..."]}: the usual cautions of methods and materials, of work at the bench.
 * Commits, and signs a checkpoint if the key may. */
MB_CHECK enum mb_rc mb_record(mb_ledger *ledger, mb_arena *arena, const struct mb_recording *what,
                              const mb_json **out, struct mb_error *err);

/* Many: begin, any number of mb_batch_add, then end (commit) or cancel. Each added entry carries
 * the batch's name in its field `batch`. A faulty add leaves the batch as it was. */
typedef struct mb_batch mb_batch;
MB_CHECK enum mb_rc mb_batch_begin(mb_ledger *ledger, mb_arena *arena, const char *name,
                                   mb_batch **out, struct mb_error *err);
/* Takes what a scratch arena made; *out (may be NULL) as mb_record's, in that arena. */
MB_CHECK enum mb_rc mb_batch_add(mb_batch *batch, mb_arena *scratch,
                                 const struct mb_recording *what, const mb_json **out,
                                 struct mb_error *err);
MB_CHECK enum mb_rc mb_batch_end(mb_batch *batch, struct mb_error *err);
void mb_batch_cancel(mb_batch *batch);
/* Checks an entry as mb_batch_add would, against what is recorded and added so far, and adds
 * nothing. */
MB_CHECK enum mb_rc mb_batch_try(mb_batch *batch, mb_arena *scratch,
                                 const struct mb_recording *what, const mb_json **out,
                                 struct mb_error *err);

/* Voids every entry of a batch ("did not happen") by corrections. {"voided":n,"entries":[...]} */
MB_CHECK enum mb_rc mb_batch_undo(mb_ledger *ledger, mb_arena *arena, const char *batch,
                                  const char *why, const mb_json **out, struct mb_error *err);

/* What to ask for this kind and subject, in order, for forms and for --ask: the schema of the kind
 * with what would be filled in. [{"name","title","help","type","required","choices"?,"answers"?,
 * "units"?,"default"?,"example"?,"class"}] */
MB_CHECK enum mb_rc mb_record_questions(mb_ledger *ledger, mb_arena *arena, const char *kind,
                                        const char *subject, bool all, const mb_json **out,
                                        struct mb_error *err);
/* All kinds as data: the files of schema/kinds. [{"kind","title","subject",...}] */
MB_CHECK enum mb_rc mb_kinds(mb_arena *arena, const mb_json **out, struct mb_error *err);

/* A person's own defaults, kept in the ledger's folder beside the log ("setting.X" of a kind). */
MB_CHECK enum mb_rc mb_setting(mb_ledger *ledger, mb_arena *arena, const char *name,
                               const char *value, struct mb_error *err);

/* The next free number of a row like "26-0115": {"id"} */
MB_CHECK enum mb_rc mb_next_id(mb_ledger *ledger, mb_arena *arena, const char *prefix,
                               const char *pattern, const mb_json **out, struct mb_error *err);

#endif
