/* Asking for the other side's signature, and recording it; giving it is signing.c. */
#include <markerbed/countersigning.h>

#include <stdlib.h>
#include <string.h>

#include "bundle.h"
#include "countersign.h"
#include "handover_entry.h"
#include "date.h"
#include "fileio.h"
#include "recorder.h"
#include "sentence.h"
#include "session.h"
#include "text.h"

bool mb_is_countersignature(struct mb_str bytes)
{
    /* {" in base64url: of a JWS whose header is an object */
    return mb_str_starts(mb_str_trim(bytes), "eyJ");
}

bool mb_is_handover(const struct mb_entry *entry)
{
    return mb_str_is(entry->kind, "custody") || mb_str_is(entry->kind, "title");
}

bool mb_entry_is_named(const struct mb_entry *entry, const char *name)
{
    struct mb_hash leaf;
    char *end;

    if (mb_b64u_read_exact(mb_str_of(name), leaf.b, sizeof leaf.b))
        return mb_hash_equal(&leaf, &entry->leaf);
    if (*name == '#')
        name++;
    return *name >= '0' && *name <= '9' && strtoll(name, &end, 10) == entry->seq && *end == '\0';
}

struct mb_str mb_handover_line(mb_arena *arena, const struct mb_entry *entry)
{
    mb_story *story = mb_story_new(arena);

    mb_story_add(story, entry);
    return mb_sentence(arena, mb_story_at(story, 0), -1, NULL);
}

/* ---- the request ---- */

static enum mb_rc find_entry(mb_ledger *ledger, mb_arena *arena, struct mb_str subject,
                             const char *name, struct mb_entry *out, struct mb_error *err)
{
    int64_t *seqs;
    size_t count;
    enum mb_rc rc = mb_log_chain(ledger->log, arena, subject, MB_NEVER, &seqs, &count, err);

    while (!rc && count-- > 0) {
        rc = mb_log_entry(ledger->log, arena, seqs[count], out, err);
        if (!rc && (name ? mb_entry_is_named(out, name) : mb_is_handover(out)))
            return MB_OK;
    }
    if (rc)
        return rc;
    return name ? mb_fail(err, MB_REFUSED, "%.*s has no entry %s", MB_STR_ARG(subject), name)
                : mb_fail(err, MB_REFUSED,
                          "%.*s was never handed over and never changed its owner, as far as it is"
                          " recorded: record custody or title first",
                          MB_STR_ARG(subject));
}

static struct mb_str shown_to_all_but_us(mb_arena *arena, const struct mb_entry *entry)
{
    char *text = mb_arena_printf(arena, "%.*s~", MB_STR_ARG(entry->jws));

    for (size_t i = 0; i < entry->disclosure_count; i++) {
        const struct mb_disclosure *d = &entry->disclosures[i];

        if (d->slot >= 0 && mb_audience_sees(MB_INSTITUTION, entry->slots[d->slot].in))
            text = mb_arena_printf(arena, "%s%.*s~", text, MB_STR_ARG(d->text));
    }
    return mb_str_of(text);
}

enum mb_rc mb_countersign_request(mb_ledger *ledger, mb_arena *arena, const char *specimen,
                                  const char *entry, const mb_json **out, struct mb_error *err)
{
    mb_json *file = mb_json_object(arena), *result = mb_json_object(arena);
    struct mb_entry found;
    struct mb_str subject;
    enum mb_rc rc =
        mb_door_subject(ledger, arena, "specimen", mb_str_of(specimen), &subject, err);

    if (!rc)
        rc = find_entry(ledger, arena, subject, entry, &found, err);
    if (rc)
        return rc;
    mb_json_put_text(arena, file, "format", MB_HANDOVER_FORMAT);
    mb_json_put(arena, file, "origin", mb_json_string_str(arena, mb_log_origin(ledger->log)));
    mb_json_put(arena, file, "entry",
                mb_json_string_str(arena, shown_to_all_but_us(arena, &found)));
    mb_json_put(arena, result, "file", mb_json_string_str(arena, mb_json_write(arena, file)));
    mb_json_put(arena, result, "subject", mb_json_string_str(arena, subject));
    mb_json_put_int(arena, result, "seq", found.seq);
    mb_json_put(arena, result, "kind", mb_json_string_str(arena, found.kind));
    mb_json_put(arena, result, "line",
                mb_json_string_str(arena, mb_handover_line(arena, &found)));
    *out = result;
    return MB_OK;
}

/* ---- recording ---- */

static enum mb_rc entry_of_leaf(mb_ledger *ledger, mb_arena *arena, const struct mb_hash *leaf,
                                struct mb_entry *out, struct mb_error *err)
{
    mb_stmt *stmt;
    int64_t seq = -1;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(mb_log_db(ledger->log), "SELECT seq FROM log WHERE leaf = ?1",
                                 &stmt, err);

    if (rc)
        return rc;
    mb_bind_blob(stmt, 1, leaf->b, sizeof leaf->b);
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        seq = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    if (!rc && seq < 0)
        rc = mb_fail(err, MB_REFUSED, "it is over no entry of this ledger");
    return rc ? rc : mb_log_entry(ledger->log, arena, seq, out, err);
}

/* The entry that records this very signature, -1 if none does. */
static enum mb_rc find_recorded(mb_ledger *ledger, mb_arena *arena, struct mb_str subject,
                                struct mb_str jws, int64_t *seq, struct mb_error *err)
{
    int64_t *seqs;
    size_t count;
    enum mb_rc rc = mb_log_chain(ledger->log, arena, subject, MB_NEVER, &seqs, &count, err);

    *seq = -1;
    for (size_t i = 0; !rc && i < count; i++) {
        struct mb_entry entry;

        rc = mb_log_entry(ledger->log, arena, seqs[i], &entry, err);
        if (!rc && mb_str_is(entry.kind, "countersign")
            && mb_str_equal(mb_json_str(mb_entry_open(&entry, "jws")), jws))
            *seq = entry.seq;
    }
    return rc;
}

static enum mb_rc append(mb_ledger *ledger, mb_arena *arena, struct mb_str jws,
                         const struct mb_countersign *what, const struct mb_entry *over,
                         const struct mb_typed *typed, size_t count, const mb_json **out,
                         struct mb_error *err)
{
    struct mb_typed *all = MB_ARRAY(arena, count + 5, struct mb_typed);
    struct mb_recording recording = { .kind = "countersign",
                                      .subject = mb_arena_copy(arena, over->sub.at, over->sub.len),
                                      .typed = all };

    all[recording.count++] = (struct mb_typed){
        "whichEntry", mb_arena_printf(arena, "#%lld", (long long)over->seq), NULL
    };
    all[recording.count++] = (struct mb_typed){ "how", "key", NULL };
    all[recording.count++] = (struct mb_typed){ "jws", mb_arena_copy(arena, jws.at, jws.len),
                                                NULL };
    all[recording.count++] =
        (struct mb_typed){ "role", mb_arena_copy(arena, what->role.at, what->role.len), NULL };
    all[recording.count++] = (struct mb_typed){
        "signedOn", mb_arena_copy(arena, mb_moment_write(arena, what->iat), 10), NULL
    };
    for (size_t i = 0; i < count; i++) {
        for (size_t j = 0; j < 4; j++)
            if (strcmp(typed[i].name, all[j].name) == 0)
                return mb_fail(err, MB_REFUSED, "field %s: what was signed says it", all[j].name);
        all[recording.count++] = typed[i];
    }
    return mb_record(ledger, arena, &recording, out, err);
}

/* Sound, over an entry of ours, by a key that is not. */
static enum mb_rc examine(mb_ledger *ledger, mb_arena *arena, struct mb_str jws,
                          struct mb_countersign *what, struct mb_entry *over,
                          struct mb_error *err)
{
    const mb_keyring *ring;
    enum mb_rc rc = mb_countersign_read(arena, jws, what, err);

    if (rc) {
        mb_fail_where(err, "the countersignature");
        return rc == MB_UNABLE ? rc : MB_REFUSED;
    }
    rc = entry_of_leaf(ledger, arena, &what->over, over, err);
    if (!rc && !mb_is_specimen(over->sub))
        rc = mb_fail(err, MB_REFUSED, "it is over an entry of %.*s; only those of specimens are"
                     " countersigned", MB_STR_ARG(over->sub));
    if (!rc)
        rc = mb_session_keys(ledger, &ring, err);
    if (!rc && mb_keyring_find(ring, mb_str_of(what->kid)))
        rc = mb_fail(err, MB_REFUSED,
                     "it is signed with a key of this ledger (%s), which is not the other side",
                     what->kid);
    return rc;
}

enum mb_rc mb_countersign_record(mb_ledger *ledger, mb_arena *arena, const char *path,
                                 const struct mb_typed *typed, size_t count, const mb_json **out,
                                 struct mb_error *err)
{
    struct mb_countersign what;
    struct mb_entry over;
    struct mb_str jws;
    const mb_json *recorded = NULL;
    mb_json *result;
    int64_t seq = -1;
    enum mb_rc rc = mb_file_read(arena, path, MB_COUNTERSIGN_MAX + 16, &jws, err);

    if (rc)
        return rc;
    jws = mb_str_trim(jws);
    rc = examine(ledger, arena, jws, &what, &over, err);
    if (!rc)
        rc = find_recorded(ledger, arena, over.sub, jws, &seq, err);
    if (!rc && seq < 0)
        rc = append(ledger, arena, jws, &what, &over, typed, count, &recorded, err);
    if (rc)
        return rc;
    result = recorded ? mb_json_copy(arena, recorded) : mb_json_object(arena);
    if (seq >= 0)
        mb_json_put_int(arena, result, "already", seq);
    mb_json_put_int(arena, result, "over", over.seq);
    mb_json_put(arena, result, "overKind", mb_json_string_str(arena, over.kind));
    mb_json_put(arena, result, "subject", mb_json_string_str(arena, over.sub));
    mb_json_put(arena, result, "role", mb_json_string_str(arena, what.role));
    mb_json_put_text(arena, result, "kid", what.kid);
    *out = result;
    return MB_OK;
}
