/* The second step of forgetting: the erasures are recorded and the disclosures go in one
 * transaction; then whatever else of the ledger's own files still holds them. */
#include <markerbed/forget.h>

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "attach.h"
#include "date.h"
#include "forget_may.h"
#include "forget_request.h"
#include "recorder.h"
#include "text.h"
#include "verify_log.h"
#include "views.h"

enum { SECONDS_A_DAY = 86400 };

struct doing {
    mb_ledger *ledger;
    mb_arena *arena;
    const struct mb_request *request;
    struct mb_asked asked;
    mb_json *erasures; /* numbers */
    int64_t fields, files;
    struct mb_error *err;
};

/* ---- may it be done ---- */

static enum mb_rc check_fields(struct doing *d, mb_db *views)
{
    enum mb_rc rc = mb_forget_claims(views, d->err);

    MB_JSON_EACH(one, mb_json_get(d->request->what, "fields"))
    {
        struct mb_trace trace = { .subject = mb_json_cstr(d->arena, mb_json_get(one, "subject")),
                                  .kind = mb_json_cstr(d->arena, mb_json_get(one, "kind")),
                                  .field = mb_json_cstr(d->arena, mb_json_get(one, "field")) };
        const char *why;

        if (rc)
            break;
        rc = mb_forget_rests(views, d->arena, &trace, &why, d->err);
        if (rc == MB_NO)
            rc = mb_fail(d->err, MB_REFUSED, "%s of %s is not erased: %s", trace.field,
                         trace.subject, why);
    }
    return rc;
}

static enum mb_rc check(struct doing *d)
{
    struct mb_views views = { NULL, false };
    enum mb_rc rc = mb_request_asked(d->ledger, d->arena, d->request, &d->asked, d->err);

    if (rc)
        return rc;
    if (d->asked.struck_out)
        return mb_fail(d->err, MB_REFUSED,
                       "request #%lld was struck out by a correction, and is not done",
                       (long long)d->request->note);
    if (mb_now() < d->asked.due)
        return mb_fail(d->err, MB_REFUSED,
                       "request #%lld was made at %s and can be done %lld days later, at %s, at the"
                       " earliest",
                       (long long)d->request->note, mb_moment_write(d->arena, d->asked.at),
                       (long long)d->asked.days, mb_moment_write(d->arena, d->asked.due));
    rc = mb_views_begin(d->ledger, NULL, &views, d->err);
    if (!rc)
        rc = check_fields(d, views.db);
    mb_views_end(&views);
    return rc;
}

/* ---- recording and erasing ---- */

static bool named_in(const mb_json *digests, const struct mb_hash *digest)
{
    char text[MB_HASH_B64U_LEN + 1];

    mb_b64u_write(text, digest->b, sizeof digest->b);
    MB_JSON_EACH(one, digests)
    {
        if (mb_json_text_is(one, text))
            return true;
    }
    return false;
}

/* Puts the rest in place of all; *gone tells how many were taken out. */
static enum mb_rc cut_tail(struct doing *d, int64_t seq, const mb_json *digests, int64_t *gone)
{
    const char *tail = "";
    struct mb_entry entry;
    mb_stmt *stmt = NULL;
    enum mb_rc rc = mb_log_entry(d->ledger->log, d->arena, seq, &entry, d->err);

    *gone = 0;
    for (size_t i = 0; !rc && i < entry.disclosure_count; i++) {
        const struct mb_disclosure *one = &entry.disclosures[i];

        if (named_in(digests, &one->digest))
            ++*gone;
        else
            tail = mb_arena_printf(d->arena, "%s%.*s~", tail, MB_STR_ARG(one->text));
    }
    if (rc || *gone == 0)
        return rc;
    rc = mb_stmt_make(mb_log_db(d->ledger->log), "UPDATE disclosures SET tail = ?2 WHERE seq = ?1",
                      &stmt, d->err);
    if (rc)
        return rc;
    mb_bind_int(stmt, 1, seq);
    mb_bind_text(stmt, 2, mb_str_of(tail));
    rc = mb_stmt_do(stmt, d->err);
    mb_stmt_free(stmt);
    return rc;
}

/* The digests asked for of one entry that still have their disclosures. */
static mb_json *still_there(struct doing *d, const struct mb_entry *entry, const mb_json *wanted)
{
    mb_json *list = mb_json_array(d->arena);

    for (size_t i = 0; i < entry->disclosure_count; i++)
        if (entry->disclosures[i].slot >= 0 && named_in(wanted, &entry->disclosures[i].digest))
            mb_json_add(list, mb_json_string_str(d->arena,
                                                 mb_b64u(d->arena, entry->disclosures[i].digest.b,
                                                         32)));
    return list;
}

static enum mb_rc record_erasure(struct doing *d, const struct mb_entry *entry, mb_json *digests)
{
    mb_arena *arena = d->arena;
    mb_json *target = mb_json_object(arena), *by = mb_json_object(arena);
    const mb_json *asked_by = mb_json_get(d->request->what, "askedBy");
    struct mb_entry erasure;
    enum mb_rc rc;

    mb_json_put(arena, target, "entry",
                mb_json_string_str(arena, mb_b64u(arena, entry->leaf.b, sizeof entry->leaf.b)));
    mb_json_put(arena, by, asked_by ? "ref" : "answer",
                asked_by ? mb_json_copy(arena, asked_by) : mb_json_string(arena, "not known"));
    struct mb_field fields[] = {
        mb_field_open("target", target),
        mb_field_open("digests", digests),
        mb_field_open("ground", mb_json_copy(arena, mb_json_get(d->request->what, "ground"))),
        { .name = "askedOn", .in = MB_PRIVATE,
          .value = mb_json_string(arena, mb_day_write(arena, (int32_t)(d->asked.at
                                                                       / SECONDS_A_DAY))) },
        { .name = "askedBy", .in = MB_PRIVATE, .value = by },
    };
    rc = mb_recorder_append(d->ledger, arena, "erasure",
                            mb_arena_copy(arena, entry->sub.at, entry->sub.len), fields,
                            sizeof fields / sizeof *fields, &erasure, d->err);
    if (!rc)
        mb_json_add(d->erasures, mb_json_integer(arena, erasure.seq));
    return rc;
}

/* All fields of one entry together: `first` is the first row of the request that names it. */
static enum mb_rc erase_entry(struct doing *d, const mb_json *rows, const mb_json *first)
{
    mb_json *wanted = mb_json_array(d->arena), *digests;
    int64_t seq = mb_json_int(mb_json_get(first, "seq"), -1), gone = 0;
    struct mb_entry entry;
    enum mb_rc rc = mb_log_entry(d->ledger->log, d->arena, seq, &entry, d->err);

    if (rc)
        return rc;
    MB_JSON_EACH(row, rows)
    {
        if (mb_json_int(mb_json_get(row, "seq"), -1) != seq)
            continue;
        d->fields++;
        MB_JSON_EACH(digest, mb_json_get(row, "digests"))
        {
            mb_json_add(wanted, mb_json_copy(d->arena, digest));
        }
    }
    digests = still_there(d, &entry, wanted);
    if (digests->count == 0)
        return MB_OK; /* a run before this one got so far */
    rc = record_erasure(d, &entry, digests);
    return rc ? rc : cut_tail(d, seq, digests, &gone);
}

static bool seen_before(const mb_json *rows, const mb_json *row)
{
    MB_JSON_EACH(other, rows)
    {
        if (other == row)
            return false;
        if (mb_json_equal(mb_json_get(other, "seq"), mb_json_get(row, "seq")))
            return true;
    }
    return false;
}

static enum mb_rc erase(struct doing *d)
{
    const mb_json *rows = mb_json_get(d->request->what, "fields");
    enum mb_rc rc = mb_session_begin(d->ledger, d->err);

    if (rc)
        return rc;
    mb_db_grant(mb_log_db(d->ledger->log), MB_MAY_APPEND | MB_MAY_VIEW | MB_MAY_FORGET);
    MB_JSON_EACH(row, rows)
    {
        if (!rc && !seen_before(rows, row))
            rc = erase_entry(d, rows, row);
    }
    mb_db_grant(mb_log_db(d->ledger->log), MB_MAY_APPEND | MB_MAY_VIEW);
    if (rc || d->erasures->count == 0) {
        mb_session_rollback(d->ledger);
        return rc;
    }
    return mb_session_commit(d->ledger, d->err);
}

/* ---- what else holds it ---- */

struct using {
    const mb_json *files;
    bool *used;
};

static void note_use(void *ctx, struct mb_str hex)
{
    struct using *u = ctx;
    size_t i = 0;

    MB_JSON_EACH(file, u->files)
    {
        if (mb_str_equal(file->text, hex))
            u->used[i] = true;
        i++;
    }
}

static enum mb_rc find_uses(void *ctx, const struct mb_entry *entry, struct mb_error *err)
{
    (void)err;
    for (size_t i = 0; i < entry->disclosure_count; i++)
        mb_value_files(entry->disclosures[i].value, note_use, ctx);
    return MB_OK;
}

/* Attached files that no entry names any more. */
static enum mb_rc remove_files(struct doing *d)
{
    struct using u = { .files = mb_json_get(d->request->what, "files") };
    size_t i = 0;
    enum mb_rc rc;

    if (!u.files || u.files->count == 0)
        return MB_OK;
    u.used = MB_ARRAY(d->arena, u.files->count, bool);
    rc = mb_log_each(d->ledger->log, 0, MB_NEVER, find_uses, &u, d->err);
    MB_JSON_EACH(file, u.files)
    {
        const char *path = mb_attach_path(d->arena, mb_log_folder(d->ledger->log),
                                          mb_json_cstr(d->arena, file));

        if (rc || u.used[i++])
            continue;
        if (unlink(path) == 0)
            d->files++;
        else if (errno != ENOENT)
            rc = mb_fail(d->err, MB_UNABLE, "%s could not be removed: %m", path);
    }
    return rc;
}

static enum mb_rc clear_away(struct doing *d)
{
    mb_db *db = mb_log_db(d->ledger->log);
    enum mb_rc rc = remove_files(d);

    if (rc)
        return rc;
    if (d->ledger->views && d->ledger->views != db)
        d->ledger->views = mb_db_close(d->ledger->views);
    mb_db_grant(db, MB_MAY_VIEW);
    rc = mb_views_drop(db, d->err);
    mb_db_grant(db, 0);
    return rc ? rc : mb_db_write_anew(db, d->err);
}

static enum mb_rc strike(struct doing *d, struct mb_request *requests)
{
    struct mb_request **at = &requests;

    while (*at && *at != d->request)
        at = &(*at)->next;
    if (*at)
        *at = (*at)->next;
    return mb_requests_write(d->ledger, d->arena, requests, d->err);
}

enum mb_rc mb_forget_do(mb_ledger *ledger, mb_arena *arena, int64_t request, const mb_json **out,
                        struct mb_error *err)
{
    struct doing d = { .ledger = ledger, .arena = arena, .erasures = mb_json_array(arena),
                       .err = err };
    mb_json *answer = mb_json_object(arena);
    struct mb_request *requests;
    enum mb_rc rc = mb_requests_read(ledger, arena, &requests, err);

    for (struct mb_request *r = rc ? NULL : requests; r; r = r->next)
        if (r->note == request)
            d.request = r;
    if (!rc && !d.request)
        rc = mb_fail(err, MB_REFUSED, "nothing was asked under #%lld, or it is done",
                     (long long)request);
    if (!rc)
        rc = check(&d);
    if (!rc)
        rc = erase(&d);
    if (!rc)
        rc = clear_away(&d);
    if (!rc)
        rc = strike(&d, requests);
    mb_json_put_int(arena, answer, "request", request);
    mb_json_put(arena, answer, "entries", d.erasures);
    mb_json_put_int(arena, answer, "fields", d.fields);
    mb_json_put_int(arena, answer, "files", d.files);
    if (!rc)
        *out = answer;
    return rc;
}
