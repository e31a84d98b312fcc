#include "recorder.h"

#include <string.h>

#include "cautions.h"
#include "checking.h"
#include "fresh_files.h"
#include "pairs.h"
#include "text.h"

enum { RIGHTS_TOLD = 12 };

/* ---- rights ---- */

static enum mb_rc no_right(mb_arena *arena, const mb_ledger *ledger,
                           const struct mb_ring_key *key, const char *kind, struct mb_error *err)
{
    const char **may = MB_ARRAY(arena, (key && key->may ? key->may->count : 0) + 1, const char *);
    size_t count = 0;

    MB_JSON_EACH(right, key ? key->may : NULL)
    {
        may[count++] = mb_json_cstr(arena, right);
    }
    return mb_fail(err, MB_REFUSED,
                   "the key '%.*s' may not record a %s; it may: %s (somebody whose key may enrol"
                   " can add a key that may)",
                   MB_STR_ARG(ledger->signer.label), kind,
                   mb_kinds_join(arena, may, count, RIGHTS_TOLD));
}

/* A key may always retire itself. */
static bool retires_itself(const mb_ledger *ledger, const char *kind, const char *sub)
{
    return strcmp(kind, "key-retirement") == 0 && strncmp(sub, "key/", 4) == 0
           && strcmp(sub + 4, ledger->signer.kid) == 0;
}

static enum mb_rc check_right(mb_ledger *ledger, mb_arena *arena, const char *kind,
                              const char *sub, struct mb_error *err)
{
    const struct mb_kind *form = mb_kind_find(mb_str_of(kind));
    signed char *asked = form && ledger->door ? &ledger->door->rights[form->index] : NULL;
    const struct mb_ring_key *key;
    const mb_keyring *ring;
    enum mb_rc rc;

    if (asked && *asked)
        return MB_OK;
    rc = mb_session_keys(ledger, &ring, err);
    if (rc)
        return rc;
    key = mb_keyring_find(ring, mb_str_of(ledger->signer.kid));
    if (!mb_keyring_may(ring, key, mb_str_of(kind), mb_log_next_seq(ledger->log))
        && !retires_itself(ledger, kind, sub))
        return no_right(arena, ledger, key, kind, err);
    /* what a key may do changes only by entries about keys, and those are rare */
    if (asked && strncmp(sub, "key/", 4) != 0 && strcmp(sub, "ledger") != 0)
        *asked = 1;
    return MB_OK;
}

/* ---- appending ---- */

enum mb_rc mb_recorder_append(mb_ledger *ledger, mb_arena *arena, const char *kind,
                              const char *sub, const struct mb_field *fields, size_t count,
                              struct mb_entry *out, struct mb_error *err)
{
    struct mb_append append = { .sub = sub, .kind = kind, .fields = fields, .count = count };
    enum mb_rc rc = check_right(ledger, arena, kind, sub, err);

    if (!rc)
        rc = mb_log_append(ledger->log, arena, &append, ledger->person, out, err);
    if (!rc)
        mb_subjects_changed(ledger->door, mb_str_of(sub));
    if (!rc && strncmp(sub, "key/", 4) == 0 && ledger->door)
        memset(ledger->door->rights, 0, mb_kinds_count());
    return rc;
}

struct mb_field mb_field_open(const char *name, const mb_json *value)
{
    return (struct mb_field){ .name = name, .in = MB_OPEN, .value = value };
}

static enum mb_rc store_files(mb_ledger *ledger, const struct mb_checked *checked,
                              struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    for (const struct mb_attached *f = checked->files; !rc && f; f = f->next)
        rc = mb_fresh_store(ledger, f, err);
    return rc;
}

enum mb_rc mb_recorder_checked(mb_ledger *ledger, mb_arena *arena,
                               const struct mb_checked *checked, struct mb_entry *out,
                               mb_json *also, struct mb_error *err)
{
    struct mb_entry entry;
    enum mb_rc rc = store_files(ledger, checked, err);

    if (!rc)
        rc = mb_recorder_append(ledger, arena, checked->kind->name.at, checked->subject,
                                checked->fields, checked->count, &entry, err);
    if (!rc)
        mb_fresh_keep(ledger, checked->files);
    if (!rc)
        rc = mb_pairs_append(ledger, arena, checked, &entry, also, err);
    if (!rc && out)
        *out = entry;
    return rc;
}

static void put_cautions(mb_arena *arena, mb_json *answer, const mb_json *cautions)
{
    mb_json *list = mb_json_put(arena, answer, "cautions", mb_json_copy(arena, cautions));
    mb_json *words = mb_json_put(arena, answer, "cautionWords", mb_json_array(arena));

    MB_JSON_EACH(one, list)
    {
        mb_json_add_text(arena, words, mb_caution_words(arena, one));
    }
    mb_json_add_text(arena, words, mb_cautions_sentence);
}

mb_json *mb_recorder_answer(mb_arena *arena, const struct mb_checked *checked,
                            const struct mb_entry *entry, mb_json *also)
{
    mb_json *answer = mb_json_object(arena), *fields = mb_json_object(arena);

    if (entry) {
        mb_json_put_int(arena, answer, "seq", entry->seq);
        mb_json_put(arena, answer, "leaf",
                    mb_json_string_str(arena, mb_b64u(arena, entry->leaf.b, sizeof entry->leaf.b)));
        mb_json_put_int(arena, answer, "nth", entry->nth);
        mb_json_put_int(arena, answer, "iat", entry->iat);
    }
    mb_json_put_text(arena, answer, "subject", checked->subject);
    mb_json_put_text(arena, answer, "kind", checked->kind->name.at);
    mb_json_put(arena, answer, "filled", mb_json_copy(arena, checked->filled));
    for (size_t i = 0; i < checked->count; i++)
        mb_json_put(arena, fields, checked->fields[i].name,
                    mb_json_copy(arena, checked->fields[i].value));
    mb_json_put(arena, answer, "fields", fields);
    mb_json_put(arena, answer, "warnings", checked->warnings);
    if (checked->cautions)
        put_cautions(arena, answer, checked->cautions);
    if (also && also->count)
        mb_json_put(arena, answer, "also", also);
    return answer;
}

/* ---- one entry ---- */

static enum mb_rc check_all(mb_ledger *ledger, mb_arena *arena, const struct mb_recording *what,
                            struct mb_checked *checked, struct mb_error *err)
{
    struct mb_door_way way = { NULL, false };
    enum mb_rc rc = mb_door_check(ledger, arena, what, way, checked, err);

    if (rc)
        return rc;
    rc = mb_pairs_check(ledger, arena, checked, err);
    if (rc && what->where)
        mb_fail_where(err, "%s", what->where);
    return rc;
}

static bool takes_files(const struct mb_kind_field *field)
{
    if (field->type == MB_V_FILE || (field->of && field->of->type == MB_V_FILE))
        return true;
    for (size_t i = 0; i < field->column_count; i++)
        if (field->columns[i].type == MB_V_FILE)
            return true;
    return false;
}

/* Could the entry bring files? Of a correction the fields are another kind's, so it could. */
static bool brings_files(const struct mb_recording *what)
{
    const struct mb_kind *kind = mb_kind_find(mb_str_of(what->kind));

    if (what->attach_count)
        return true;
    for (size_t i = 0; kind && i < what->count; i++) {
        const struct mb_kind_field *field = mb_kind_field(kind, mb_str_of(what->typed[i].name));

        if (field ? takes_files(field) : mb_str_is(kind->name, "correction"))
            return true;
    }
    return false;
}

/* Copying a photograph takes longer than an entry: with the ledger not yet held. What the door says
 * then is only a promise, so it is asked again inside the group. */
static enum mb_rc store_before(mb_ledger *ledger, mb_arena *arena,
                               const struct mb_recording *what, struct mb_error *err)
{
    struct mb_checked checked;
    enum mb_rc rc = mb_door_open(ledger, err);

    if (!rc)
        rc = check_all(ledger, arena, what, &checked, err);
    return rc ? rc : store_files(ledger, &checked, err);
}

enum mb_rc mb_record(mb_ledger *ledger, mb_arena *arena, const struct mb_recording *what,
                     const mb_json **out, struct mb_error *err)
{
    mb_json *also = mb_json_array(arena);
    struct mb_checked checked;
    struct mb_entry entry;
    enum mb_rc rc = MB_OK;

    if (ledger->person && brings_files(what))
        rc = store_before(ledger, arena, what, err);
    if (!rc)
        rc = mb_session_begin(ledger, err);
    if (rc)
        return rc;
    rc = check_all(ledger, arena, what, &checked, err);
    if (!rc)
        rc = mb_recorder_checked(ledger, arena, &checked, &entry, also, err);
    if (rc) {
        mb_session_rollback(ledger);
        return rc;
    }
    rc = mb_session_commit(ledger, err);
    if (!rc)
        *out = mb_recorder_answer(arena, &checked, &entry, also);
    return rc;
}
