/* Asking to forget: what markerbed/forget.h promises of the first step. */
#include <markerbed/forget.h>

#include <string.h>

#include <markerbed/record.h>

#include "date.h"
#include "door.h"
#include "fileio.h"
#include "forget_may.h"
#include "forget_request.h"
#include "request.h"
#include "settings.h"
#include "text.h"

enum { SETTINGS_MOST = 1 << 20, SECONDS_A_DAY = 86400, DIGITS_MOST = 15 };

struct asking {
    mb_ledger *ledger;
    mb_arena *arena;
    const struct mb_forget *forget;
    const char *subject, *asked_by; /* as recorded; asked_by may be NULL */
    struct mb_traces chosen, copies;
    mb_json *out;
    struct mb_error *err;
};

/* ---- which fields ---- */

static bool read_number(const char *text, int64_t *seq)
{
    size_t len = strspn(text, "0123456789");

    *seq = 0;
    for (size_t i = 0; i < len; i++)
        *seq = *seq * 10 + (text[i] - '0');
    return len > 0 && len <= DIGITS_MOST && text[len] == '\0';
}

/* An entry of this subject by "#12" or its leaf hash; -1 for all. */
static enum mb_rc which_entry(struct asking *a, int64_t *seq)
{
    const char *entry = a->forget->entry;
    struct mb_hash leaf;
    enum mb_rc rc;

    *seq = -1;
    if (!entry || (entry[0] == '#' && read_number(entry + 1, seq)))
        return MB_OK;
    if (!mb_b64u_read_exact(mb_str_of(entry), leaf.b, sizeof leaf.b))
        return mb_fail(a->err, MB_REFUSED,
                       "'%s' names no entry: give its number like #12, or its leaf hash", entry);
    rc = mb_log_find_leaf(a->ledger->log, a->arena, mb_str_of(a->subject), &leaf, seq, a->err);
    return rc == MB_NO ? mb_fail(a->err, MB_REFUSED, "%s has no entry with that hash", a->subject)
                       : rc;
}

static enum mb_rc choose_in(struct asking *a, int64_t seq, bool *found)
{
    struct mb_entry entry;
    enum mb_rc rc = mb_log_entry(a->ledger->log, a->arena, seq, &entry, a->err);

    for (size_t i = 0; !rc && i < a->forget->field_count; i++) {
        rc = mb_trace_field(a->arena, &entry, a->forget->fields[i], &a->chosen, a->err);
        if (rc == MB_OK)
            found[i] = true;
        if (rc == MB_NO)
            rc = MB_OK;
    }
    return rc;
}

static enum mb_rc choose(struct asking *a)
{
    bool *found = MB_ARRAY(a->arena, a->forget->field_count + 1, bool);
    int64_t only, *seqs;
    size_t count, taken = 0;
    enum mb_rc rc = which_entry(a, &only);

    if (!rc)
        rc = mb_log_chain(a->ledger->log, a->arena, mb_str_of(a->subject), MB_NEVER, &seqs, &count,
                          a->err);
    for (size_t i = 0; !rc && i < count; i++)
        if (only < 0 || seqs[i] == only) {
            rc = choose_in(a, seqs[i], found);
            taken++;
        }
    if (rc)
        return rc;
    if (taken == 0)
        return mb_fail(a->err, MB_REFUSED, "entry #%lld is not one of %s", (long long)only,
                       a->subject);
    for (size_t i = 0; i < a->forget->field_count; i++)
        if (!found[i])
            return mb_fail(a->err, MB_REFUSED,
                           "%s has no field %s%s%s: nothing of that name is recorded there, or it"
                           " was erased",
                           a->subject, a->forget->fields[i], only < 0 ? "" : " in entry ",
                           only < 0 ? "" : a->forget->entry);
    return MB_OK;
}

/* ---- copies ---- */

static bool asked_for(const struct asking *a, const struct mb_trace *copy)
{
    const char *name =
        mb_arena_printf(a->arena, "#%lld:%s", (long long)copy->seq, copy->field);

    for (size_t i = 0; i < a->forget->also_count; i++)
        if (strcmp(a->forget->also[i], name) == 0)
            return true;
    return a->forget->copies;
}

static enum mb_rc check_also(const struct asking *a)
{
    for (size_t i = 0; i < a->forget->also_count; i++) {
        bool found = false;

        for (const struct mb_trace *t = a->copies.first; t && !found; t = t->next)
            found = strcmp(a->forget->also[i],
                           mb_arena_printf(a->arena, "#%lld:%s", (long long)t->seq, t->field))
                    == 0;
        if (!found)
            return mb_fail(a->err, MB_REFUSED,
                           "'%s' is no copy that was found; write them as --preview shows them,"
                           " like #14:text",
                           a->forget->also[i]);
    }
    return MB_OK;
}

static mb_json *tell_trace(struct asking *a, mb_json *list, const struct mb_trace *trace)
{
    mb_json *one = mb_json_add(list, mb_json_object(a->arena));

    mb_json_put_int(a->arena, one, "seq", trace->seq);
    mb_json_put_text(a->arena, one, "subject", trace->subject);
    mb_json_put_text(a->arena, one, "kind", trace->kind);
    mb_json_put_text(a->arena, one, "field", trace->field);
    return one;
}

/* What is left of the copies is what will be erased; all are told. */
static enum mb_rc sift_copies(struct asking *a, mb_db *views)
{
    mb_json *list = mb_json_array(a->arena);
    struct mb_trace *copy = a->copies.first, *next;
    enum mb_rc rc = check_also(a);

    mb_traces_start(&a->copies);
    for (; !rc && copy; copy = next) {
        mb_json *one = tell_trace(a, list, copy);
        const char *why = NULL;
        bool take = asked_for(a, copy);

        next = copy->next;
        copy->next = NULL;
        rc = mb_forget_rests(views, a->arena, copy, &why, a->err);
        if (rc == MB_NO)
            rc = MB_OK;
        take = take && !why;
        mb_json_put_text(a->arena, one, "how", copy->how);
        mb_json_put_bool(a->arena, one, "taken", take);
        if (why)
            mb_json_put_text(a->arena, one, "kept", why);
        if (take) {
            *a->copies.end = copy;
            a->copies.end = &copy->next;
            a->copies.count++;
        }
    }
    mb_json_put(a->arena, a->out, "copies", list);
    return rc;
}

/* ---- whether it may be ---- */

static enum mb_rc check_chosen(struct asking *a, mb_db *views)
{
    mb_json *list = mb_json_array(a->arena);
    enum mb_rc rc = mb_forget_claims(views, a->err);

    for (const struct mb_trace *t = a->chosen.first; !rc && t; t = t->next) {
        const char *why;

        tell_trace(a, list, t);
        rc = mb_forget_rests(views, a->arena, t, &why, a->err);
        if (rc == MB_NO)
            rc = mb_fail(a->err, MB_REFUSED, "%s of %s (entry #%lld) is not erased: %s", t->field,
                         t->subject, (long long)t->seq, why);
    }
    mb_json_put(a->arena, a->out, "fields", list);
    return rc;
}

static enum mb_rc look(struct asking *a)
{
    struct mb_views views = { NULL, false };
    enum mb_rc rc = choose(a);

    if (!rc)
        rc = mb_traces_find(a->ledger, a->arena, &a->chosen, &a->copies, a->err);
    if (!rc)
        rc = mb_views_begin(a->ledger, NULL, &views, a->err);
    if (!rc)
        rc = check_chosen(a, views.db);
    if (!rc)
        rc = sift_copies(a, views.db);
    mb_views_end(&views);
    return rc;
}

/* ---- writing it down ---- */

static void put_wanted(struct asking *a, mb_json *list, const struct mb_traces *traces)
{
    for (const struct mb_trace *t = traces->first; t; t = t->next) {
        mb_json *one = tell_trace(a, list, t);

        mb_json_put(a->arena, one, "entry",
                    mb_json_string_str(a->arena, mb_b64u(a->arena, t->leaf.b, sizeof t->leaf.b)));
        mb_json_put(a->arena, one, "digests", mb_json_copy(a->arena, t->digests));
    }
}

static enum mb_rc put_what(struct asking *a, mb_json *what)
{
    mb_json *fields = mb_json_array(a->arena), *files = mb_traces_files(a->arena, &a->chosen);
    int64_t days;
    enum mb_rc rc = mb_forget_days(a->ledger, a->arena, &days, a->err);

    if (rc)
        return rc;
    MB_JSON_EACH(file, mb_traces_files(a->arena, &a->copies))
    {
        mb_json_add(files, mb_json_copy(a->arena, file));
    }
    put_wanted(a, fields, &a->chosen);
    put_wanted(a, fields, &a->copies);
    if (a->asked_by)
        mb_json_put_text(a->arena, what, "askedBy", a->asked_by);
    mb_json_put_int(a->arena, what, "days", days);
    mb_json_put(a->arena, what, "fields", fields);
    mb_json_put(a->arena, what, "files", files);
    mb_json_put_text(a->arena, what, "ground", a->forget->ground);
    mb_json_put(a->arena, a->out, "files", mb_json_copy(a->arena, files));
    mb_json_put_int(a->arena, a->out, "days", days);
    return MB_OK;
}

static const char *words_of(struct asking *a, const mb_json *what)
{
    const char *words = "Asked to forget";
    size_t said = 0;

    MB_JSON_EACH(one, mb_json_get(what, "fields"))
    {
        if (said++ == 12)
            break;
        words = mb_arena_printf(a->arena, "%s%s %.*s of entry #%lld", words, said > 1 ? "," : "",
                                MB_STR_ARG(mb_json_str(mb_json_get(one, "field"))),
                                (long long)mb_json_int(mb_json_get(one, "seq"), 0));
    }
    return mb_arena_printf(a->arena,
                           "%s%s. Ground: %s. To be done after %lld days at the earliest."
                           " Request %.*s",
                           words, said > 12 ? " and more" : "", a->forget->ground,
                           (long long)mb_json_int(mb_json_get(what, "days"), 0),
                           MB_STR_ARG(mb_request_print(a->arena, what)));
}

static enum mb_rc write_down(struct asking *a, const mb_json *what)
{
    struct mb_typed typed = { .name = "text", .value_json = NULL };
    struct mb_recording note = { .kind = "note", .subject = a->subject, .typed = &typed,
                                 .count = 1 };
    struct mb_request *requests, **end = &requests, *mine = MB_NEW(a->arena, struct mb_request);
    const mb_json *noted = NULL;
    enum mb_rc rc = mb_requests_read(a->ledger, a->arena, &requests, a->err);

    typed.value_json = mb_json_string(a->arena, words_of(a, what));
    if (!rc)
        rc = mb_record(a->ledger, a->arena, &note, &noted, a->err);
    if (rc)
        return rc;
    *mine = (struct mb_request){ .note = mb_json_int(mb_json_get(noted, "seq"), -1),
                                 .leaf = mb_json_str(mb_json_get(noted, "leaf")),
                                 .what = what };
    while (*end)
        end = &(*end)->next;
    *end = mine;
    mb_json_put_int(a->arena, a->out, "request", mine->note);
    mb_json_put(a->arena, a->out, "asked",
                mb_json_string(a->arena, mb_moment_write(a->arena, mb_json_int(
                                             mb_json_get(noted, "iat"), 0))));
    mb_json_put_text(a->arena, a->out, "due",
                     mb_moment_write(a->arena,
                                     mb_json_int(mb_json_get(noted, "iat"), 0)
                                         + mb_json_int(mb_json_get(what, "days"), 0)
                                               * SECONDS_A_DAY));
    return mb_requests_write(a->ledger, a->arena, requests, a->err);
}

static enum mb_rc look_at_defaults(struct asking *a)
{
    const char *path = mb_settings_path(a->arena, mb_log_folder(a->ledger->log));
    struct mb_str bytes = { NULL, 0 };
    enum mb_rc rc = MB_OK;

    if (mb_file_exists(path))
        rc = mb_file_read(a->arena, path, SETTINGS_MOST, &bytes, a->err);
    mb_json_put_bool(a->arena, a->out, "defaults",
                     bytes.len > 0 && mb_traces_in(a->arena, &a->chosen, bytes));
    return rc;
}

static enum mb_rc find_subjects(struct asking *a)
{
    const struct mb_forget *forget = a->forget;
    struct mb_str prefix, id, found;
    enum mb_rc rc;

    if (!mb_str_cut(mb_str_of(forget->subject), '/', &prefix, &id))
        prefix = MB_STR("specimen");
    if (mb_str_is(prefix, "ledger") || mb_str_is(prefix, "key"))
        return mb_fail(a->err, MB_REFUSED, "what is recorded of keys and of the ledger itself is"
                                           " open, and cannot be erased");
    rc = mb_door_subject(a->ledger, a->arena, mb_arena_copy(a->arena, prefix.at, prefix.len),
                         mb_str_of(forget->subject), &found, a->err);
    if (rc)
        return rc;
    a->subject = mb_arena_copy(a->arena, found.at, found.len);
    if (!forget->asked_by)
        return MB_OK;
    rc = mb_door_subject(a->ledger, a->arena, "party", mb_str_of(forget->asked_by), &found, a->err);
    if (!rc)
        a->asked_by = mb_arena_copy(a->arena, found.at, found.len);
    return rc;
}

enum mb_rc mb_forget_ask(mb_ledger *ledger, mb_arena *arena, const struct mb_forget *forget,
                         const mb_json **out, struct mb_error *err)
{
    struct asking a = { .ledger = ledger, .arena = arena, .forget = forget,
                        .out = mb_json_object(arena), .err = err };
    mb_json *what = mb_json_object(arena);
    enum mb_rc rc;

    if (forget->field_count == 0)
        return mb_fail(err, MB_REFUSED, "say with --field what is to be erased");
    mb_traces_start(&a.chosen);
    mb_traces_start(&a.copies);
    rc = mb_request_reason(arena, "erasure", "ground", NULL, forget->ground, "erase", err);
    if (!rc)
        rc = mb_door_open(ledger, err);
    if (!rc)
        rc = find_subjects(&a);
    if (!rc)
        rc = look(&a);
    if (!rc)
        rc = look_at_defaults(&a);
    if (!rc)
        rc = put_what(&a, what);
    if (!rc && !forget->preview)
        rc = write_down(&a, what);
    if (!rc)
        *out = a.out;
    return rc;
}

enum mb_rc mb_forget_list(mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                          struct mb_error *err)
{
    mb_json *list = mb_json_array(arena);
    struct mb_request *requests;
    int64_t now = mb_now();
    enum mb_rc rc = mb_requests_read(ledger, arena, &requests, err);

    for (; !rc && requests; requests = requests->next) {
        mb_json *one = mb_json_add(list, mb_json_object(arena));
        struct mb_asked asked;

        rc = mb_request_asked(ledger, arena, requests, &asked, err);
        if (rc)
            break;
        mb_json_put_int(arena, one, "request", requests->note);
        mb_json_put_text(arena, one, "subject", asked.subject);
        mb_json_put_text(arena, one, "asked", mb_moment_write(arena, asked.at));
        mb_json_put_text(arena, one, "due", mb_moment_write(arena, asked.due));
        mb_json_put_bool(arena, one, "ready", now >= asked.due && !asked.struck_out);
        mb_json_put_bool(arena, one, "struckOut", asked.struck_out);
        mb_json_put(arena, one, "ground",
                    mb_json_copy(arena, mb_json_get(requests->what, "ground")));
        mb_json_put_int(arena, one, "fields", mb_json_get(requests->what, "fields")->count);
    }
    if (!rc)
        *out = list;
    return rc;
}
