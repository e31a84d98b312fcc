/*
 * Entries are read in order and each gets its rows. A subject that was corrected in the span is
 * told again from its whole chain, so that its rows are what its story says now; that also makes
 * the result the same for one step or many.
 */
#include "replay.h"

#include <string.h>

#include "asset.h"
#include "buf.h"
#include "date.h"
#include "plain.h"
#include "sha256.h"
#include "story.h"
#include "text.h"

#define ARENA_ENTRIES 256 /* entries read before their memory is used again */
#define SEARCH_MAX (1u << 20)

struct replay {
    mb_db *db;
    mb_log *log;
    int64_t to;
    mb_stmt *put_entry, *put_field, *put_search;
    mb_stmt *drop_entry, *drop_fields, *drop_search;
    mb_arena *kept; /* for the list of corrected subjects */
    struct mb_str *corrected;
    size_t corrected_count, corrected_room;
};

static const char *schema_digest(char out[MB_HASH_B64U_LEN + 1])
{
    const struct mb_asset *schema = mb_asset_find("views.sql");
    struct mb_hash hash = mb_sha256(schema->data, schema->size);

    mb_b64u_write(out, hash.b, sizeof hash.b);
    return out;
}

int64_t mb_replay_stamp(mb_db *views)
{
    char digest[MB_HASH_B64U_LEN + 1];
    int64_t stamp = -1;
    bool row = false;
    mb_stmt *stmt;

    if (mb_stmt_make(views, "SELECT entries, schema FROM v_stamp", &stmt, NULL))
        return -1;
    if (!mb_stmt_step(stmt, &row, NULL) && row
        && mb_str_is(mb_col_text(stmt, 1), schema_digest(digest)))
        stamp = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    return stamp;
}

/* Views first: a table that a view reads may go at any time, a virtual table takes its shadows. */
static enum mb_rc drop_all(mb_db *views, struct mb_error *err)
{
    static const char list[] =
        "SELECT type, name FROM sqlite_schema WHERE name LIKE 'v\\_%' ESCAPE '\\'"
        " AND (type = 'view' OR (type = 'table' AND name NOT LIKE 'v\\_search\\_%' ESCAPE '\\'))"
        " ORDER BY type DESC, name";
    mb_arena *arena = mb_arena_new();
    char *script = mb_arena_text(arena, "");
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(views, list, &stmt, err);

    if (!rc) {
        while (!(rc = mb_stmt_step(stmt, &row, err)) && row)
            script = mb_arena_printf(arena, "%sDROP %.*s \"%.*s\";", script,
                                     MB_STR_ARG(mb_col_text(stmt, 0)),
                                     MB_STR_ARG(mb_col_text(stmt, 1)));
        mb_stmt_free(stmt);
    }
    if (!rc)
        rc = mb_db_run(views, script, err);
    mb_arena_free(arena);
    return rc;
}

enum mb_rc mb_replay_reset(mb_db *views, struct mb_error *err)
{
    char digest[MB_HASH_B64U_LEN + 1];
    mb_stmt *stmt;
    enum mb_rc rc = drop_all(views, err);

    if (!rc)
        rc = mb_db_run(views, mb_asset_find("views.sql")->data, err);
    if (!rc)
        rc = mb_stmt_make(views, "INSERT INTO v_stamp (entries, schema) VALUES (0, ?1)", &stmt,
                          err);
    if (rc)
        return rc;
    mb_bind_text(stmt, 1, mb_str_of(schema_digest(digest)));
    rc = mb_stmt_do(stmt, err);
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc prepare(struct replay *r, struct mb_error *err)
{
    static const char *const sql[] = {
        "INSERT INTO v_entry (seq, iat, recorded_at, sub, nth, kind, kid, leaf, day, day_first,"
        " day_last, voided_by, line) VALUES (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13)",
        "INSERT INTO v_field (seq, name, value, json, class, from_seq)"
        " VALUES (?1,?2,?3,?4,?5,?6)",
        "INSERT INTO v_search (rowid, sub, text) VALUES (?1,?2,?3)",
        "DELETE FROM v_entry WHERE seq = ?1",
        "DELETE FROM v_field WHERE seq = ?1",
        "DELETE FROM v_search WHERE rowid = ?1",
    };
    mb_stmt **const stmts[] = { &r->put_entry,  &r->put_field,   &r->put_search,
                                &r->drop_entry, &r->drop_fields, &r->drop_search };
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < sizeof sql / sizeof *sql; i++)
        rc = mb_stmt_make(r->db, sql[i], stmts[i], err);
    return rc;
}

static void finish(struct replay *r)
{
    r->put_entry = mb_stmt_free(r->put_entry);
    r->put_field = mb_stmt_free(r->put_field);
    r->put_search = mb_stmt_free(r->put_search);
    r->drop_entry = mb_stmt_free(r->drop_entry);
    r->drop_fields = mb_stmt_free(r->drop_fields);
    r->drop_search = mb_stmt_free(r->drop_search);
    r->kept = mb_arena_free(r->kept);
}

/* ---- the rows of one entry ---- */

struct telling {
    struct replay *r;
    mb_arena *arena;
    const struct mb_told *told;
    struct mb_buf words; /* for the search */
    struct mb_error *err;
    enum mb_rc rc;
};

static void put_field(struct telling *t, struct mb_str name, const mb_json *value,
                      enum mb_class in, int64_t from)
{
    struct mb_str json = mb_json_write(t->arena, value);
    const char *plain = mb_plain_value(t->arena, value);

    if (t->rc || !value)
        return;
    mb_bind_int(t->r->put_field, 1, t->told->entry->seq);
    mb_bind_text(t->r->put_field, 2, name);
    mb_bind_text(t->r->put_field, 3, mb_str_of(plain));
    mb_bind_text(t->r->put_field, 4, json);
    mb_bind_text(t->r->put_field, 5, mb_str_of(mb_class_name[in]));
    mb_bind_int(t->r->put_field, 6, from);
    t->rc = mb_stmt_do(t->r->put_field, t->err);
    if (in != MB_OPEN || t->told->entry->seq > 0) {
        mb_buf_add_text(&t->words, plain);
        mb_buf_add_char(&t->words, '\n');
    }
}

/* An entry's own fields, with what corrections put in their place. */
static void tell_field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct telling *t = ctx;
    char *text = mb_arena_copy(t->arena, name.at, name.len);
    int64_t from;

    (void)value;
    if (mb_str_is(t->told->entry->kind, "correction") && !mb_correction_own(name))
        return; /* told where it belongs: in the entry that it corrects */
    value = mb_told_field(t->told, text, &from, &in);
    if (value)
        put_field(t, name, value, in, from);
}

/* Fields that only a correction brought. */
static void tell_added(struct telling *t)
{
    for (const struct mb_replacement *c = t->told->changes; c; c = c->next) {
        char *text = mb_arena_copy(t->arena, c->name.at, c->name.len);
        bool newest = true;

        for (const struct mb_replacement *d = t->told->changes; d != c; d = d->next)
            newest = newest && !mb_str_equal(d->name, c->name);
        if (newest && !mb_json_is(c->value, MB_JSON_NULL)
            && !mb_entry_field(t->told->entry, text, NULL))
            put_field(t, c->name, c->value, c->in, c->seq);
    }
}

static enum mb_rc put_entry(struct telling *t)
{
    const struct mb_entry *entry = t->told->entry;
    struct mb_str leaf = mb_b64u(t->arena, entry->leaf.b, sizeof entry->leaf.b);
    mb_stmt *stmt = t->r->put_entry;
    struct mb_days days;
    const char *day = mb_plain_day(t->arena, t->told, &days);

    mb_bind_int(stmt, 1, entry->seq);
    mb_bind_int(stmt, 2, entry->iat);
    mb_bind_text(stmt, 3, mb_str_of(mb_moment_write(t->arena, entry->iat)));
    mb_bind_text(stmt, 4, entry->sub);
    mb_bind_int(stmt, 5, entry->nth);
    mb_bind_text(stmt, 6, entry->kind);
    mb_bind_text(stmt, 7, entry->kid);
    mb_bind_text(stmt, 8, leaf);
    mb_bind_text(stmt, 9, mb_str_of(day));
    if (day) {
        mb_bind_int(stmt, 10, days.first);
        mb_bind_int(stmt, 11, days.last);
    } else {
        mb_bind_null(stmt, 10);
        mb_bind_null(stmt, 11);
    }
    if (t->told->voided_by >= 0)
        mb_bind_int(stmt, 12, t->told->voided_by);
    else
        mb_bind_null(stmt, 12);
    mb_bind_text(stmt, 13, mb_str_of(mb_plain_line(t->arena, t->told)));
    return mb_stmt_do(stmt, t->err);
}

static enum mb_rc put_rows(struct replay *r, mb_arena *arena, const struct mb_told *told,
                           struct mb_error *err)
{
    struct telling t = { .r = r, .arena = arena, .told = told, .err = err };

    mb_buf_init(&t.words, SEARCH_MAX);
    t.rc = put_entry(&t);
    mb_entry_fields(told->entry, tell_field, &t);
    tell_added(&t);
    if (!t.rc) {
        mb_bind_int(r->put_search, 1, told->entry->seq);
        mb_bind_text(r->put_search, 2, told->entry->sub);
        mb_bind_text(r->put_search, 3, mb_buf_str(&t.words));
        t.rc = mb_stmt_do(r->put_search, err);
    }
    mb_buf_done(&t.words);
    return t.rc;
}

static enum mb_rc drop_rows(struct replay *r, int64_t seq, struct mb_error *err)
{
    mb_stmt *const stmts[] = { r->drop_entry, r->drop_fields, r->drop_search };
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < 3; i++) {
        mb_bind_int(stmts[i], 1, seq);
        rc = mb_stmt_do(stmts[i], err);
    }
    return rc;
}

/* ---- corrected subjects ---- */

static void note_corrected(struct replay *r, struct mb_str subject)
{
    for (size_t i = 0; i < r->corrected_count; i++)
        if (mb_str_equal(r->corrected[i], subject))
            return;
    if (r->corrected_count == r->corrected_room) {
        size_t room = r->corrected_room ? r->corrected_room * 2 : 16;
        struct mb_str *more = MB_ARRAY(r->kept, room, struct mb_str);

        if (r->corrected_count)
            memcpy(more, r->corrected, r->corrected_count * sizeof *more);
        r->corrected = more;
        r->corrected_room = room;
    }
    r->corrected[r->corrected_count++] = mb_arena_str(r->kept, subject);
}

static enum mb_rc tell_again(struct replay *r, mb_arena *arena, struct mb_str subject,
                             struct mb_error *err)
{
    mb_story *story = mb_story_new(arena);
    int64_t *seqs;
    size_t count;
    enum mb_rc rc = mb_log_chain(r->log, arena, subject, r->to, &seqs, &count, err);

    for (size_t i = 0; !rc && i < count; i++) {
        struct mb_entry *entry = MB_NEW(arena, struct mb_entry);

        rc = mb_log_entry(r->log, arena, seqs[i], entry, err);
        if (!rc)
            mb_story_add(story, entry);
    }
    for (size_t i = 0; !rc && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);

        rc = drop_rows(r, told->entry->seq, err);
        if (!rc)
            rc = put_rows(r, arena, told, err);
    }
    return rc;
}

/* ---- the whole ---- */

static enum mb_rc read_span(struct replay *r, mb_log_scan *scan, mb_arena *arena,
                            struct mb_error *err)
{
    struct mb_str leaf, jws, tail;
    int64_t seq;
    bool row;
    enum mb_rc rc;

    for (size_t n = 0;; n++) {
        struct mb_entry entry;
        struct mb_told told = { .entry = &entry, .voided_by = -1 };

        if (n % ARENA_ENTRIES == 0)
            mb_arena_reset(arena);
        rc = mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, err);
        if (rc || !row)
            return rc;
        rc = mb_entry_read(arena, jws, &entry, err);
        if (!rc)
            rc = mb_entry_disclose(arena, &entry, tail, err);
        if (!rc)
            rc = put_rows(r, arena, &told, err);
        if (rc)
            return rc;
        if (mb_str_is(entry.kind, "correction"))
            note_corrected(r, entry.sub);
    }
}

static enum mb_rc stamp(struct replay *r, struct mb_error *err)
{
    mb_stmt *stmt;
    enum mb_rc rc = mb_stmt_make(r->db, "UPDATE v_stamp SET entries = ?1", &stmt, err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, r->to);
    rc = mb_stmt_do(stmt, err);
    mb_stmt_free(stmt);
    return rc;
}

enum mb_rc mb_replay_to(mb_db *views, mb_log *log, int64_t to, struct mb_error *err)
{
    struct replay r = { .db = views, .log = log, .to = to };
    int64_t from = mb_replay_stamp(views);
    mb_arena *arena;
    mb_log_scan *scan;
    enum mb_rc rc = MB_OK;

    if (from < 0 || from > to) {
        from = 0;
        rc = mb_replay_reset(views, err);
    }
    if (rc || from == to)
        return rc;
    arena = mb_arena_new();
    r.kept = mb_arena_new();
    rc = prepare(&r, err);
    if (!rc)
        rc = mb_log_scan_open(log, from, to, &scan, err);
    if (!rc) {
        rc = read_span(&r, scan, arena, err);
        mb_log_scan_close(scan);
    }
    for (size_t i = 0; !rc && i < r.corrected_count; i++) {
        mb_arena_reset(arena);
        rc = tell_again(&r, arena, r.corrected[i], err);
    }
    if (!rc)
        rc = stamp(&r, err);
    finish(&r);
    mb_arena_free(arena);
    return rc;
}
