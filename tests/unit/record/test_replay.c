/*
 * What the views say depends on the entries alone: not on how often they were brought up to date,
 * not on where they stand, not on what was asked before. Fields after corrections are held against
 * a second reading of docs/format.md section 5, written here from that page.
 */
#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <markerbed/show.h>

#include "outside.h"
#include "plain_db.h"
#include "random_story.h"
#include "session.h"
#include "sha256.h"
#include "text.h"
#include "views.h"
#include "workbench.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static void must(enum mb_rc rc, const struct mb_error *err)
{
    cr_assert_eq(rc, MB_OK, "%s", err->text);
}

/* ---- all that the views hold, as text ---- */

static const char *cell(mb_arena *arena, mb_stmt *stmt, int at)
{
    struct mb_str text;

    switch (mb_col_type(stmt, at)) {
    case MB_COL_INT:
        return mb_arena_printf(arena, "%lld", (long long)mb_col_int(stmt, at));
    case MB_COL_DOUBLE:
        return mb_arena_printf(arena, "%.17g", mb_col_double(stmt, at));
    case MB_COL_TEXT:
        text = mb_col_text(stmt, at);
        return mb_arena_printf(arena, "'%.*s'", MB_STR_ARG(text));
    case MB_COL_BLOB:
        return "blob";
    default:
        return "null";
    }
}

static char *rows_of(mb_arena *arena, mb_db *db, const char *sql)
{
    char *out = mb_arena_text(arena, "");
    struct mb_error err = { 0 };
    size_t room = 0, len = 0;
    mb_stmt *stmt;
    bool row;

    must(mb_stmt_make(db, sql, &stmt, &err), &err);
    while (mb_stmt_step(stmt, &row, &err) == MB_OK && row)
        for (int i = 0; i < mb_col_count(stmt); i++) {
            const char *text = cell(arena, stmt, i);
            size_t more = strlen(text);

            if (len + more + 2 > room) {
                char *larger = mb_arena_get(arena, room = 2 * (room + more + 1024));

                memcpy(larger, out, len);
                out = larger;
            }
            memcpy(out + len, text, more);
            len += more;
            out[len++] = i + 1 == mb_col_count(stmt) ? '\n' : '|';
            out[len] = '\0';
        }
    mb_stmt_free(stmt);
    return out;
}

/* Every row of the table, in an order of their own. */
static const char *all_rows(mb_arena *arena, mb_db *db, struct mb_str name)
{
    const char *all = mb_arena_printf(arena, "SELECT %s * FROM %.*s",
                                      mb_str_is(name, "v_search") ? "rowid," : "",
                                      MB_STR_ARG(name));
    const char *order = " ORDER BY 1";
    struct mb_error err = { 0 };
    mb_stmt *stmt;

    must(mb_stmt_make(db, all, &stmt, &err), &err);
    for (int i = 2; i <= mb_col_count(stmt); i++)
        order = mb_arena_printf(arena, "%s, %d", order, i);
    mb_stmt_free(stmt);
    return mb_arena_printf(arena, "SELECT * FROM (%s)%s", all, order);
}

/* "table: rows, hash" a line, of every table and view, the search and its shadow left to itself. */
static const char *digest_of(mb_arena *arena, mb_db *db)
{
    struct mb_str names = mb_str_of(rows_of(
        arena, db,
        "SELECT name FROM sqlite_schema WHERE type IN ('table', 'view') AND name GLOB 'v_*'"
        " AND name NOT GLOB 'v_search_*' AND name <> 'v_stamp' ORDER BY name"));
    const char *out = "";

    while (names.len) {
        struct mb_str name;
        struct mb_hash hash;
        size_t count = 0;
        const char *rows;

        mb_str_cut(names, '\n', &name, &names);
        name.at++; /* of its quotation marks */
        name.len -= 2;
        rows = rows_of(arena, db, all_rows(arena, db, name));
        for (const char *c = rows; *c; c++)
            count += *c == '\n';
        hash = mb_sha256(rows, strlen(rows));
        out = mb_arena_printf(arena, "%s%.*s: %zu, %02x%02x%02x%02x\n", out, MB_STR_ARG(name),
                              count, hash.b[0], hash.b[1], hash.b[2], hash.b[3]);
    }
    return out;
}

static const char *digest_as_of(mb_arena *arena, mb_ledger *ledger, const char *as_of)
{
    mb_arena *scratch = mb_arena_new();
    struct mb_views views = { NULL, false };
    struct mb_error err = { 0 };
    const char *out;

    must(mb_views_begin(ledger, as_of, &views, &err), &err);
    out = mb_arena_text(arena, digest_of(scratch, views.db));
    mb_views_end(&views);
    mb_arena_free(scratch);
    return out;
}

/* ---- random stories ---- */

struct pair {
    struct temp_ledger t;
    struct random_story story;
    mb_ledger *ledger; /* the same folder, as one opens it to ask */
};

static void pair_begin(struct pair *p, uint64_t seed)
{
    struct mb_error err = { 0 };

    must(mb_start(&err), &err);
    temp_ledger_new(&p->t);
    random_story_begin(&p->story, &p->t, seed);
    must(mb_ledger_open(p->t.arena, p->t.folder, MB_READ, &p->ledger, &err), &err);
}

static void pair_end(struct pair *p)
{
    mb_ledger_close(p->ledger);
    temp_ledger_done(&p->t);
    mb_stop();
}

static void act(struct pair *p)
{
    temp_ledger_begin(&p->t);
    random_story_act(&p->story);
    temp_ledger_commit(&p->t);
}

static int64_t size_of(struct pair *p)
{
    struct mb_error err = { 0 };
    int64_t size;

    must(mb_log_size(p->t.log, &size, &err), &err);
    return size;
}

static void expect_as_replayed(struct pair *p, const char *what)
{
    struct mb_error err = { 0 };
    const char *where = "";
    enum mb_rc rc = mb_views_compare(p->ledger, p->t.arena, &where, &err);

    cr_expect_eq(rc, MB_OK, "%s: %s %s", what, where, err.text);
}

#ifdef MB_ARENA_EACH
enum { ACTS = 40, SEEDS = 2, SIZE_MOST = 4 * ACTS + 8 };
#else
enum { ACTS = 120, SEEDS = 5, SIZE_MOST = 4 * ACTS + 8 };
#endif

Test(replay, rows_are_the_same_one_by_one_at_once_and_anew, .timeout = 120)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        const char *then[SIZE_MOST] = { NULL }, *by_steps;
        struct mb_error err = { 0 };
        struct pair p;

        pair_begin(&p, seed);
        for (int i = 0; i < ACTS; i++) {
            act(&p);
            if (i % 3) /* sometimes several acts at a time */
                then[size_of(&p)] = digest_as_of(p.t.arena, p.ledger, NULL);
        }
        by_steps = digest_as_of(p.t.arena, p.ledger, NULL);
        expect_as_replayed(&p, "one by one");
        must(mb_views_rebuild(p.ledger, &err), &err);
        cr_expect_str_eq(digest_as_of(p.t.arena, p.ledger, NULL), by_steps, "seed %llu, anew",
                         (unsigned long long)seed);
        /* looked at from later, each moment is as it was */
        for (int64_t size = 1; size < SIZE_MOST; size++) {
            char as_of[24];

            if (!then[size])
                continue;
            snprintf(as_of, sizeof as_of, "#%lld", (long long)size - 1);
            cr_expect_str_eq(digest_as_of(p.t.arena, p.ledger, as_of), then[size],
                             "seed %llu, as of %s", (unsigned long long)seed, as_of);
        }
        pair_end(&p);
    }
}

/* A large step takes another way through the log than a small one. */
Test(replay, rows_are_the_same_after_a_long_time, .timeout = 120)
{
    struct mb_error err = { 0 };
    const char *at_once;
    struct pair p;

    pair_begin(&p, 77);
    temp_ledger_begin(&p.t);
    for (int i = 0; i < 12 * ACTS; i++)
        random_story_act(&p.story);
    temp_ledger_commit(&p.t);
    at_once = digest_as_of(p.t.arena, p.ledger, NULL);
    must(mb_views_rebuild(p.ledger, &err), &err);
    cr_expect_str_eq(digest_as_of(p.t.arena, p.ledger, NULL), at_once);
    temp_ledger_begin(&p.t);
    for (int i = 0; i < 12 * ACTS; i++)
        random_story_act(&p.story);
    temp_ledger_commit(&p.t);
    expect_as_replayed(&p, "a second large step");
    pair_end(&p);
}

/* ---- fields, by a second reading of the format ---- */

struct model {
    struct pair *p;
    struct mb_entry *entries;
    bool *voided;
    int64_t *target; /* of corrections that may count: seq, -1 */
    int64_t count;
};

static bool is_own(struct mb_str name)
{
    static const char *const own[] = { "target", "action", "changesFacts", "why", "movedTo",
                                       "explanation", "explanationForSale",
                                       "explanationForScience", "explanationForLand", "batch" };

    for (size_t i = 0; i < COUNT(own); i++)
        if (mb_str_is(name, own[i]))
            return true;
    return false;
}

static bool may_be_corrected(struct mb_str kind, bool by_void)
{
    static const char *const never[] = { "founding", "checkpoint-key", "key-enrolment",
                                         "key-retirement", "certificate", "withdrawal",
                                         "countersign", "division", "joining", "erasure" };

    for (size_t i = 0; i < COUNT(never); i++)
        if (mb_str_is(kind, never[i]))
            return false;
    return by_void || !mb_str_is(kind, "correction");
}

static bool is_void(const struct mb_entry *e)
{
    return mb_str_starts(mb_json_str(mb_entry_open(e, "action")), "void");
}

static void read_model(struct model *m, struct pair *p)
{
    mb_arena *arena = p->t.arena;
    struct mb_error err = { 0 };

    m->p = p;
    m->count = size_of(p);
    m->entries = MB_ARRAY(arena, (size_t)m->count, struct mb_entry);
    m->voided = MB_ARRAY(arena, (size_t)m->count, bool);
    m->target = MB_ARRAY(arena, (size_t)m->count, int64_t);
    for (int64_t i = 0; i < m->count; i++) {
        const struct mb_entry *e = &m->entries[i];
        struct mb_hash leaf;

        must(mb_log_entry(p->t.log, arena, i, &m->entries[i], &err), &err);
        m->target[i] = -1;
        if (!mb_str_is(e->kind, "correction")
            || !mb_b64u_read_exact(mb_json_str(mb_json_get(mb_entry_open(e, "target"), "entry")),
                                   leaf.b, 32))
            continue;
        for (int64_t j = 0; j < i; j++)
            if (mb_hash_equal(&m->entries[j].leaf, &leaf)
                && mb_str_equal(m->entries[j].sub, e->sub)
                && may_be_corrected(m->entries[j].kind, is_void(e)))
                m->target[i] = j;
    }
    /* a voided correction voids nothing; only later ones can void it */
    for (int64_t i = m->count; i-- > 0;)
        if (m->target[i] >= 0 && !m->voided[i] && is_void(&m->entries[i]))
            m->voided[m->target[i]] = true;
}

/* What field `name` of entry `seq` says, NULL if nothing; *from is the entry that says it. */
static const mb_json *said(const struct model *m, int64_t seq, const char *name, int64_t *from)
{
    for (int64_t i = m->count; i-- > seq;) {
        const mb_json *value;

        *from = i;
        value = mb_entry_field(&m->entries[i], name, NULL);
        if (i == seq)
            return value;
        if (m->target[i] == seq && !m->voided[i] && !is_void(&m->entries[i]) && value
            && !is_own(mb_str_of(name)))
            return mb_json_is(value, MB_JSON_NULL) ? NULL : value;
    }
    return NULL;
}

static const char *plain(mb_arena *arena, const mb_json *value)
{
    struct mb_str ref = mb_ref_of(value), text = mb_json_str(value);
    struct mb_str answer = mb_json_str(mb_json_get(value, "answer"));

    if (ref.at || text.at || answer.at)
        return mb_arena_printf(arena, "%.*s",
                               MB_STR_ARG(ref.at ? ref : text.at ? text : answer));
    return value->type == MB_JSON_INTEGER
               ? mb_arena_printf(arena, "%lld", (long long)value->integer)
               : NULL; /* lists and the like are told in words of the program's own */
}

Test(replay, corrected_fields_stand_where_they_belong, .timeout = 120)
{
    static const char *const names[] = { "objectQuantity", "eventDate", "date", "toLabel", "name",
                                         "site", "quantity", "owner", "remarks", "siteName",
                                         "newValidUntil", "verbatimIdentification", "target",
                                         "why", "action" };
    size_t checked = 0, corrected = 0, gone = 0;

    for (uint64_t seed = 20; seed < 20 + SEEDS; seed++) {
        struct mb_views views = { NULL, false };
        struct mb_error err = { 0 };
        struct model m;
        struct pair p;

        pair_begin(&p, seed);
        temp_ledger_begin(&p.t);
        for (int i = 0; i < 200; i++)
            random_story_act(&p.story);
        temp_ledger_commit(&p.t);
        read_model(&m, &p);
        must(mb_views_begin(p.ledger, NULL, &views, &err), &err);
        for (int64_t seq = 0; seq < m.count; seq++) {
            const char *voided = rows_of(p.t.arena, views.db,
                                         mb_arena_printf(p.t.arena,
                                                         "SELECT voided_by IS NOT NULL FROM"
                                                         " v_entry WHERE seq = %lld",
                                                         (long long)seq));

            cr_expect_eq(voided[0] == '1', m.voided[seq], "seed %llu: entry %lld voided",
                         (unsigned long long)seed, (long long)seq);
            for (size_t n = 0; n < COUNT(names); n++) {
                int64_t from;
                const mb_json *value = said(&m, seq, names[n], &from);
                const char *want = value ? plain(p.t.arena, value) : "";
                const char *row = rows_of(
                    p.t.arena, views.db,
                    mb_arena_printf(p.t.arena,
                                    "SELECT value, from_seq, corrected FROM v_field WHERE seq ="
                                    " %lld AND name = '%s'",
                                    (long long)seq, names[n]));

                /* of a correction, v_field has only what is about the correction itself */
                if (mb_str_is(m.entries[seq].kind, "correction") && !is_own(mb_str_of(names[n])))
                    want = "";
                else if (value && want)
                    want = mb_arena_printf(p.t.arena, "'%s'|%lld|%d\n", want, (long long)from,
                                           from != seq);
                if (!want)
                    continue;
                cr_expect_str_eq(row, want, "seed %llu: entry %lld (%.*s), %s",
                                 (unsigned long long)seed, (long long)seq,
                                 MB_STR_ARG(m.entries[seq].kind), names[n]);
                checked += *want != '\0';
                corrected += *want && from != seq;
                gone += !value && mb_entry_field(&m.entries[seq], names[n], NULL);
            }
        }
        mb_views_end(&views);
        pair_end(&p);
    }
    cr_expect_gt(checked, 200 * SEEDS);
    cr_expect_gt(corrected, 5 * SEEDS, "%zu corrected fields were met", corrected);
    cr_expect_gt(gone, 0);
}

/* ---- damage ---- */

static const struct {
    const char *what, *sql, *where; /* where: among what is named; NULL: it holds */
} damages[] = {
    { "a row changed", "UPDATE v_entry SET line = 'nothing' WHERE seq = 5", "v_entry" },
    { "a row gone", "DELETE FROM v_subject WHERE sub = (SELECT min(sub) FROM v_subject)",
      "v_subject" },
    { "a row too many", "INSERT INTO v_subject VALUES ('specimen/X', 'specimen', 1, 1, 1, NULL)",
      "v_subject" },
    { "a field changed", "UPDATE v_field SET value = value || '.' WHERE seq = 5", "v_field" },
    { "NULL in place of a text", "UPDATE v_entry SET event_date = NULL WHERE seq = (SELECT max(seq)"
                                 " FROM v_entry WHERE event_date IS NOT NULL)",
      "v_entry" },
    { "another table", "CREATE TABLE v_more (x)", "v_*" },
    { "a table gone", "DROP TABLE v_took", "v_*" },
    { "an index gone", "DROP INDEX v_entry_sub", "v_*" },
    { "a view changed",
      "DROP VIEW v_late; CREATE VIEW v_late (seq, sub, kind, event_day, recorded_day, days,"
      " made_from) AS SELECT 1, 2, 3, 4, 5, 6, 7",
      "v_*" },
    { "the search changed", "UPDATE v_search SET words = 'nothing' WHERE rowid = (SELECT"
                            " max(rowid) FROM v_search)",
      "v_search" },
    { "the search emptied", "DELETE FROM v_search", "v_search" },
    { "the stamp of another log", "UPDATE v_stamp SET leaf = zeroblob(32)", NULL },
    { "the stamp of another schema", "UPDATE v_stamp SET schema = 'x'", NULL },
    { "the stamp gone", "DELETE FROM v_stamp", NULL },
    { "nothing", "SELECT 1", NULL },
};

Test(replay, what_was_changed_from_outside_is_found_and_mended, .timeout = 120)
{
    for (size_t i = 0; i < COUNT(damages); i++) {
        struct mb_error err = { 0 };
        const char *before, *where = "";
        struct sqlite3 *db;
        struct pair p;
        enum mb_rc rc;

        pair_begin(&p, 3);
        for (int n = 0; n < 30; n++)
            act(&p);
        before = digest_as_of(p.t.arena, p.ledger, NULL);
        p.ledger = mb_ledger_close(p.ledger);
        db = plain_open(p.t.folder);
        cr_assert(plain_run(db, damages[i].sql), "%s", damages[i].what);
        plain_close(db);
        must(mb_ledger_open(p.t.arena, p.t.folder, MB_READ, &p.ledger, &err), &err);
        rc = mb_views_compare(p.ledger, p.t.arena, &where, &err);
        if (damages[i].where) {
            cr_expect_eq(rc, MB_NO, "%s: %d %s", damages[i].what, rc, err.text);
            cr_expect_str_eq(where, damages[i].where, "%s", damages[i].what);
            must(mb_views_rebuild(p.ledger, &err), &err);
        } else {
            cr_expect_eq(rc, MB_OK, "%s: %s", damages[i].what, where);
        }
        cr_expect_str_eq(digest_as_of(p.t.arena, p.ledger, NULL), before, "%s", damages[i].what);
        expect_as_replayed(&p, damages[i].what);
        pair_end(&p);
    }
}

/* ---- where nothing may be written ---- */

/* As a user who may only read: the answer comes out of memory, and nothing in the folder changes.
 * */
Test(replay, a_folder_that_may_only_be_read_answers_out_of_memory)
{
    struct mb_error err = { 0 };
    struct mb_str before, after;
    const char *stored;
    struct pair p;
    int status;
    pid_t reader;

    pair_begin(&p, 9);
    for (int n = 0; n < 20; n++)
        act(&p);
    stored = digest_as_of(p.t.arena, p.ledger, NULL);
    act(&p); /* the stored views are behind by one act */
    p.ledger = mb_ledger_close(p.ledger);
    p.t.log = mb_log_close(p.t.log);
    cr_assert_eq(outside_run(p.t.arena, &before,
                             "chmod -R a+rX '%s' && chmod a-w '%s' '%s'/* && cd '%s' &&"
                             " sha256sum ledger.db && ls",
                             p.t.folder, p.t.folder, p.t.folder, p.t.folder),
                 0);
    reader = fork();
    if (reader == 0) {
        const char *now;
        bool own;
        mb_db *db;

        if (geteuid() == 0 && (setgid(65534) || setuid(65534)))
            _exit(9);
        if (mb_ledger_open(p.t.arena, p.t.folder, MB_READ, &p.ledger, &err))
            _exit(2);
        if (mb_views_at(p.ledger, NULL, &db, &own, &err) || !own)
            _exit(3);
        now = digest_of(p.t.arena, db);
        mb_db_close(db);
        if (strcmp(now, stored) == 0)
            _exit(4);
        if (strcmp(now, digest_as_of(p.t.arena, p.ledger, NULL)) != 0)
            _exit(5);
        if (mb_views_rebuild(p.ledger, &err) != MB_UNABLE)
            _exit(6);
        _exit(strstr(err.text, "cannot be written; the views stay as they are") ? 0 : 7);
    }
    cr_assert_eq(waitpid(reader, &status, 0), reader);
    cr_expect(WIFEXITED(status) && WEXITSTATUS(status) == 0, "%d",
              WIFEXITED(status) ? WEXITSTATUS(status) : -1);
    cr_assert_eq(outside_run(p.t.arena, &after, "cd '%s' && sha256sum ledger.db && ls",
                             p.t.folder),
                 0);
    cr_expect(mb_str_equal(before, after), "%.*s\n%.*s", MB_STR_ARG(before), MB_STR_ARG(after));
    outside_run(p.t.arena, NULL, "chmod -R u+w '%s'", p.t.folder);
    outside_end();
    pair_end(&p);
}

/* ---- as of a day ---- */

Test(replay, a_day_looks_back_to_its_end_in_utc)
{
    static const struct {
        int64_t clock;
        const char *text;
    } notes[] = {
        { 1780358399, "one" },   /* 2026-06-01T23:59:59Z */
        { 1780358400, "two" },   /* 2026-06-02T00:00:00Z */
        { 1780444799, "three" }, /* 2026-06-02T23:59:59Z */
        { 1780531200, "four" },  /* 2026-06-04T00:00:00Z */
    };
    static const struct {
        const char *as_of;
        int64_t notes;
        const char *refused;
    } looks[] = {
        { NULL, 4, NULL },         { "2026-06-01", 1, NULL }, { "2026-06-02", 3, NULL },
        { "2026-06-03", 3, NULL }, { "2026-06-04", 4, NULL }, { "2026-06", 4, NULL },
        { "2026", 4, NULL },       { "2026-05", -1, NULL },   { "2027-01-01", 4, NULL },
        { "yesterday", 0, "is neither a day" },
        { "#", 0, "is neither a day" },
        { "#-1", 0, "is neither a day" },
        { "#+1", 0, "is neither a day" },
        { "#1x", 0, "is neither a day" },
        { "2026-02-30", 0, "is neither a day" },
        { "#99999999", 0, "there is no entry #99999999; the last one is #" },
        { "#99999999999999999999", 0, "is neither a day" },
    };
    struct workbench b;

    workbench_house(&b);
    for (size_t i = 0; i < COUNT(notes); i++) {
        workbench_now = notes[i].clock;
        workbench_must(&b, "note", "party/P001",
                       mb_arena_printf(b.arena, "text=%s", notes[i].text), NULL);
    }
    for (size_t i = 0; i < COUNT(looks); i++) {
        struct mb_views views = { NULL, false };
        struct mb_error err = { 0 };
        enum mb_rc rc = mb_views_begin(b.ledger, looks[i].as_of, &views, &err);
        const char *count;

        if (looks[i].refused) {
            cr_expect_eq(rc, MB_REFUSED, "%s", looks[i].as_of);
            cr_expect(strstr(err.text, looks[i].refused), "%s: %s", looks[i].as_of, err.text);
            continue;
        }
        must(rc, &err);
        count = rows_of(b.arena, views.db,
                        "SELECT count(*) - (SELECT count(*) = 0 FROM v_entry) FROM v_entry"
                        " WHERE kind = 'note'");
        cr_expect_eq(strtoll(count, NULL, 10), looks[i].notes, "%s: %s",
                     looks[i].as_of ? looks[i].as_of : "now", count);
        mb_views_end(&views);
    }
    workbench_done(&b);
}
