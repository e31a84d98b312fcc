/* What is to be erased: chosen fields, and copies of what stands in them. */
#ifndef MB_FORGET_FIND_H
#define MB_FORGET_FIND_H

#include <markerbed/forget.h>

#include "session.h"

/* One field of one entry. */
struct mb_trace {
    int64_t seq;
    struct mb_hash leaf;
    const char *subject, *kind, *field;
    const mb_json *value;   /* as it is still stored */
    const mb_json *digests; /* of the field, and of the elements of a list salted one by one */
    const char *how;        /* a copy: "the same", "holds it"; else NULL */
    struct mb_trace *next;
};

struct mb_traces {
    struct mb_trace *first, **end;
    size_t count;
};
void mb_traces_start(struct mb_traces *traces);

/* Field `name` of an entry: MB_REFUSED if it is open, MB_NO if it is not there or erased. */
MB_CHECK enum mb_rc mb_trace_field(mb_arena *arena, const struct mb_entry *entry, const char *name,
                                   struct mb_traces *traces, struct mb_error *err);

/*
 * Copies of what stands in `chosen`, in all other entries: a text of four letters or more wherever
 * it stands in another field; a reference, day or whole table under the same name in an entry that
 * names the same subject. Choices and answers have no copies.
 */
MB_CHECK enum mb_rc mb_traces_find(mb_ledger *ledger, mb_arena *arena,
                                   const struct mb_traces *chosen, struct mb_traces *copies,
                                   struct mb_error *err);
/* True if any of the texts stands in these bytes. */
bool mb_traces_in(mb_arena *arena, const struct mb_traces *chosen, struct mb_str bytes);

/* Hashes of the files that these fields name, as texts in an array, each once. */
mb_json *mb_traces_files(mb_arena *arena, const struct mb_traces *traces);

#endif
