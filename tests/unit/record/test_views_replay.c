/* That views are the same however they came about, and that it is noticed where they are not. */
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "buf.h"
#include "dice.h"
#include "plain_db.h"
#include "viewing.h"

static struct viewing v;

static void set_up(void)
{
    viewing_new(&v);
}

static void tear_down(void)
{
    viewing_done(&v);
}

TestSuite(views_replay, .init = set_up, .fini = tear_down, .timeout = 300);

/* ---- all rows of all views as one text ---- */

static void dump_rows(mb_db *db, const char *sql, struct mb_buf *out)
{
    mb_stmt *stmt;
    bool row = true;

    cr_assert_eq(mb_stmt_make(db, sql, &stmt, &v.err), MB_OK, "%s", v.err.text);
    while (!mb_stmt_step(stmt, &row, &v.err) && row) {
        for (int i = 0; i < mb_col_count(stmt); i++) {
            mb_buf_printf(out, "%d:", mb_col_type(stmt, i));
            mb_buf_add_str(out, mb_col_text(stmt, i));
            mb_buf_add_char(out, '|');
        }
        mb_buf_add_char(out, '\n');
    }
    mb_stmt_free(stmt);
}

/* Tables are read in the order of their keys. */
static struct mb_str dump(const char *as_of)
{
    MB_BUF_AUTO struct mb_buf out = { 0 };
    struct mb_views views;
    mb_stmt *stmt;
    bool row = true;

    mb_buf_init(&out, 64 << 20);
    cr_assert_eq(mb_views_begin(v.ledger, as_of, &views, &v.err), MB_OK, "%s", v.err.text);
    cr_assert_eq(mb_stmt_make(views.db,
                              "SELECT name FROM sqlite_schema WHERE type = 'table'"
                              " AND name GLOB 'v_*' AND name NOT GLOB 'v_search_*'"
                              " AND name NOT IN ('v_stamp', 'v_work') ORDER BY name",
                              &stmt, &v.err),
                 MB_OK, "%s", v.err.text);
    while (!mb_stmt_step(stmt, &row, &v.err) && row) {
        struct mb_str name = mb_arena_str(v.t.arena, mb_col_text(stmt, 0));
        bool search = mb_str_is(name, "v_search");

        mb_buf_printf(&out, "== %.*s\n", MB_STR_ARG(name));
        dump_rows(views.db,
                  mb_arena_printf(v.t.arena, "SELECT %s* FROM %.*s%s", search ? "rowid, " : "",
                                  MB_STR_ARG(name), search ? " ORDER BY rowid" : ""),
                  &out);
    }
    mb_stmt_free(stmt);
    mb_views_end(&views);
    cr_assert(mb_buf_ok(&out));
    return mb_arena_str(v.t.arena, mb_buf_str(&out));
}

static void same(struct mb_str a, struct mb_str b, const char *what)
{
    size_t at = 0, from;

    while (at < a.len && at < b.len && a.at[at] == b.at[at])
        at++;
    if (at == a.len && at == b.len)
        return;
    from = at > 300 ? at - 300 : 0;
    cr_assert_fail("%s:\n...%.*s\n--- against\n...%.*s", what,
                   (int)(a.len - from > 600 ? 600 : a.len - from), a.at + from,
                   (int)(b.len - from > 600 ? 600 : b.len - from), b.at + from);
}

/* ---- chance ---- */

enum { ENTRIES_MOST = 400, PIECES = 9, PEOPLE = 4, PLACES = 3 };

struct house {
    struct dice dice;
    struct mb_entry entries[ENTRIES_MOST]; /* of pieces, people and places */
    size_t count;
};

static size_t roll(struct house *h, size_t sides)
{
    return dice_roll(&h->dice, sides);
}

static const char *print(const char *format, ...) MB_PRINTF(1, 2);
static const char *print(const char *format, ...)
{
    va_list args;
    const char *text;

    va_start(args, format);
    text = mb_arena_vprintf(v.t.arena, format, args);
    va_end(args);
    return text;
}

static const char *piece(struct house *h)
{
    return print("specimen/P%zu", roll(h, PIECES));
}

static const char *person(struct house *h)
{
    return print("{\"ref\":\"party/P%zu\"}", roll(h, PEOPLE));
}

static const char *label(struct house *h)
{
    static const char *const labels[] = { "us", "client", "museum", "dealer" };

    return labels[roll(h, 4)];
}

static const char *day(struct house *h)
{
    return print("2026-0%zu-1%zu", roll(h, 9) + 1, roll(h, 10));
}

static const char *word(struct house *h)
{
    static const char *const words[] = { "crinoid", "fish, big", "tooth", "ammonite", "Zahn" };

    return words[roll(h, 5)];
}

static struct mb_entry put(struct house *h, const char *sub, const char *kind, const char *fields)
{
    struct mb_entry entry = temp_ledger_put_by(&v.t, v.t.owner, sub, kind, fields);

    if (h->count < ENTRIES_MOST)
        h->entries[h->count++] = entry;
    return entry;
}

static void put_find(struct house *h)
{
    put(h, piece(h), "collecting",
        print("{\"open\":{\"objectForm\":\"lot\"},\"sale\":{\"eventDate\":\"%s\",\"recordedBy\":"
              "[%s,%s],\"site\":{\"ref\":\"site/S%zu\"},\"objectQuantity\":%zu,"
              "\"verbatimIdentification\":\"%s\"}}",
              day(h), person(h), person(h), roll(h, PLACES), roll(h, 50), word(h)));
}

static void put_arrival(struct house *h)
{
    put(h, piece(h), "arrival",
        print("{\"open\":{\"objectForm\":\"single\"},\"sale\":{\"receivedOn\":\"%s\",\"fromLabel\":"
              "\"%s\",\"reason\":\"%s\",\"objectQuantity\":%zu},\"science\":{\"receivedFrom\":%s},"
              "\"private\":{\"owner\":%s}}",
              day(h), label(h), roll(h, 2) ? "return" : "gift", roll(h, 5), person(h), person(h)));
}

static void put_division(struct house *h)
{
    const char *from = piece(h), *to = piece(h), *on = day(h);
    size_t pieces = roll(h, 20);
    struct mb_entry division;

    division = put(h, from, "division",
                   print("{\"open\":{\"side\":\"divided\"},\"sale\":{\"date\":\"%s\",\"purpose\":"
                         "\"sorted\",\"into*\":[{\"specimen\":{\"ref\":\"%s\"},\"form\":\"lot\","
                         "\"quantity\":%zu}],\"consumed\":%zu%s}}",
                         on, to, pieces, roll(h, 3),
                         roll(h, 2) ? print(",\"remainder\":%zu", roll(h, 30)) : ""));
    put(h, to, "division",
        print("{\"open\":{\"side\":\"came out\",\"objectForm\":\"lot\",\"outOf\":{\"entry\":\"%s\"}"
              "},\"sale\":{\"date\":\"%s\",\"objectQuantity\":%zu,\"parent\":{\"ref\":\"%s\"}}}",
              viewing_leaf(&v, &division), on, pieces, from));
}

static void put_joining(struct house *h)
{
    const char *whole = piece(h), *part = piece(h), *on = day(h);
    const char *why = roll(h, 2) ? "lot pooled" : "refit";
    struct mb_entry joining;

    joining = put(h, whole, "joining",
                  print("{\"open\":{\"side\":\"whole\"},\"sale\":{\"date\":\"%s\",\"why\":\"%s\","
                        "\"parts*\":[{\"ref\":\"%s\"}]}}",
                        on, why, part));
    if (roll(h, 4)) /* a forger may leave this out */
        put(h, part, "joining",
            print("{\"open\":{\"side\":\"part\",\"joins\":{\"entry\":\"%s\"}},\"sale\":{\"date\":"
                  "\"%s\",\"why\":\"%s\",\"whole\":{\"ref\":\"%s\"}}}",
                  viewing_leaf(&v, &joining), on, why, whole));
}

static void put_loss(struct house *h)
{
    static const char *const natures[] = { "stolen", "missing", "destroyed", "recovered" };

    put(h, piece(h), "loss",
        print("{\"open\":{\"nature\":\"%s\"},\"sale\":{\"date\":\"%s\",\"quantity\":%zu}}",
              natures[roll(h, 4)], day(h), roll(h, 6)));
}

static void put_count(struct house *h)
{
    size_t pieces = roll(h, 60);

    put(h, piece(h), "measurement",
        print("{\"sale\":{\"what\":\"pieces\",\"value\":\"%zu\",\"on\":\"%s\",\"recount\":%zu}}",
              pieces, day(h), pieces));
}

static void put_custody(struct house *h)
{
    put(h, piece(h), "custody",
        print("{\"sale\":{\"fromLabel\":\"%s\",\"toLabel\":\"%s\",\"handedOver\":\"%s\","
              "\"received\":\"%s\"},\"science\":{\"from\":%s,\"to\":%s}}",
              label(h), label(h), day(h), day(h), person(h), person(h)));
}

static void put_title(struct house *h)
{
    put(h, piece(h), "title",
        print("{\"sale\":{\"fromLabel\":\"%s\",\"toLabel\":\"%s\",\"date\":\"%s\",\"manner\":"
              "\"sale\"},\"science\":{\"from\":%s,\"to\":%s,\"part\":\"1/%zu\"}}",
              label(h), label(h), day(h), person(h), person(h), roll(h, 3) + 1));
}

static void put_name(struct house *h)
{
    put(h, piece(h), "identification",
        print("{\"open\":{\"vernacularName\":\"%s\",\"isAcceptedIdentification\":\"%s\"},"
              "\"sale\":{\"identifiedBy\":[%s],\"dateIdentified\":\"%s\"}}",
              word(h), roll(h, 3) ? "yes" : "no", person(h), day(h)));
}

static void put_party(struct house *h)
{
    put(h, print("party/P%zu", roll(h, PEOPLE)), "party",
        print("{\"science\":{\"name\":\"%s %zu\"},\"private\":{\"namedTo\":\"anyone\"}}", word(h),
              roll(h, 9)));
}

static void put_site(struct house *h)
{
    put(h, print("site/S%zu", roll(h, PLACES)), "site",
        print("{\"open\":{\"countryCode\":\"US\"},\"science\":{\"siteName\":\"%s draw\"},"
              "\"sale\":{\"county\":\"%s\"}}",
              word(h), word(h)));
}

static void put_placement(struct house *h)
{
    put(h, print("place/T%zu", roll(h, 2)), "placement",
        print("{\"private\":{\"placeName\":\"tank\",\"date\":\"%s\",\"what*\":[{\"ref\":\"%s\"},"
              "{\"ref\":\"%s\"}],\"movedBy\":%s}}",
              day(h), piece(h), piece(h), person(h)));
}

static void put_claim(struct house *h)
{
    put(h, piece(h), "claim",
        print("{\"open\":{\"nature\":\"ownership\",\"status\":\"%s\",\"hold\":\"do not sell\"},"
              "\"sale\":{\"date\":\"%s\"}}",
              roll(h, 2) ? "open" : "settled", day(h)));
}

/* A correction of some entry of some chain; now and then of another correction. */
static void put_correction(struct house *h)
{
    const struct mb_entry *target;
    const char *sub, *fields = "";
    bool voids = roll(h, 3) == 0;

    if (!h->count)
        return;
    target = &h->entries[roll(h, h->count)];
    sub = mb_arena_copy(v.t.arena, target->sub.at, target->sub.len);
    if (!voids)
        fields = print(",\"sale\":{\"objectQuantity\":%zu,\"date\":\"%s\",\"county\":null,"
                       "\"site\":{\"ref\":\"site/S%zu\"}},\"science\":{\"name\":\"%s\"}",
                       roll(h, 40), day(h), roll(h, PLACES), word(h));
    put(h, sub, "correction",
        print("{\"open\":{\"target\":{\"entry\":\"%s\"},\"action\":\"%s\",\"why\":\"typing\","
              "\"changesFacts\":\"yes\"}%s}",
              viewing_leaf(&v, target), voids ? "void (double)" : "change fields", fields));
}

static void put_anything(struct house *h)
{
    static void (*const puts[])(struct house *) = {
        put_find,    put_find,    put_arrival, put_division, put_division,  put_joining,
        put_loss,    put_count,   put_custody, put_title,    put_name,      put_party,
        put_site,    put_claim,   put_placement, put_correction, put_correction, put_correction,
    };

    puts[roll(h, sizeof puts / sizeof *puts)](h);
}

/* ---- the tests ---- */

/* One by one, in groups, all at once, and as of a moment gone by. */
static void same_however(uint64_t seed)
{
    struct house h = { .dice = { seed } };
    struct mb_str then[8];
    int64_t sizes[8];
    int moments = 0;

    for (int turn = 0; turn < 24; turn++) {
        size_t entries = 1 + roll(&h, 6);

        temp_ledger_begin(&v.t);
        for (size_t i = 0; i < entries; i++)
            put_anything(&h);
        temp_ledger_commit(&v.t);
        if (turn % 3 == 0) {
            then[moments] = dump(NULL);
            cr_assert_eq(mb_log_size(v.t.log, &sizes[moments], &v.err), MB_OK);
            moments++;
        } else {
            viewing_ask(&v, "SELECT 1"); /* catches up */
        }
    }
    viewing_whole(&v);
    for (int i = 0; i < moments; i++)
        same(dump(print("#%lld", (long long)sizes[i] - 1)), then[i], "as of a moment gone by");
    then[0] = dump(NULL);
    cr_assert_eq(mb_views_rebuild(v.ledger, &v.err), MB_OK, "%s", v.err.text);
    same(dump(NULL), then[0], "made again");
}

Test(views_replay, views_are_the_same_however_they_came_about_1)
{
    same_however(1);
}

Test(views_replay, views_are_the_same_however_they_came_about_2)
{
    same_however(2);
}

Test(views_replay, views_are_the_same_however_they_came_about_many)
{
    for (uint64_t seed = 100; seed < 112; seed++) {
        tear_down();
        set_up();
        same_however(seed);
    }
}

/* Only the subject and what it needs is replayed where a moment gone by is asked for. */
Test(views_replay, a_story_told_by_itself_is_the_same_as_out_of_all)
{
    struct house h = { .dice = { 77 } };
    int64_t size;

    temp_ledger_begin(&v.t);
    for (int i = 0; i < 120; i++)
        put_anything(&h);
    temp_ledger_commit(&v.t);
    cr_assert_eq(mb_log_size(v.t.log, &size, &v.err), MB_OK);
    for (int i = 0; i < PIECES; i++) {
        const char *sub = print("specimen/P%d", i), *last = print("#%lld", (long long)size - 1);
        const mb_json *all, *alone;

        cr_assert_eq(mb_show(v.ledger, v.t.arena, sub, NULL, &all, &v.err), MB_OK, "%s",
                     v.err.text);
        cr_assert_eq(mb_show(v.ledger, v.t.arena, sub, last, &alone, &v.err), MB_OK, "%s",
                     v.err.text);
        same(mb_json_write(v.t.arena, alone), mb_json_write(v.t.arena, all), sub);
    }
}

static const char *const tampering[] = {
    "UPDATE v_specimen SET holder_label = 'museum' WHERE id = 'P1'",
    "DELETE FROM v_entry WHERE seq = 4",
    "INSERT INTO v_mention VALUES ('specimen/P1', 'party/NOBODY')",
    "UPDATE v_field SET value = value || ' ' WHERE seq = 4 AND name = 'objectForm'",
    "UPDATE v_find SET quantity = quantity + 1",
    "UPDATE v_search SET words = 'nothing'",
    "DROP INDEX v_entry_sub",
    "DROP VIEW v_late",
    "DROP TABLE v_title",
    "CREATE TABLE v_more (x)",
};

Test(views_replay, a_changed_row_is_found_and_a_rebuild_mends_it)
{
    viewing_add(&v, "specimen/P0", "note", "{\"private\":{\"text\":\"one\"}}");
    viewing_add(&v, "specimen/P1", "collecting",
                "{\"open\":{\"objectForm\":\"lot\"},\"sale\":{\"objectQuantity\":3}}");
    viewing_whole(&v);
    for (size_t i = 0; i < sizeof tampering / sizeof *tampering; i++) {
        const char *where = NULL;
        struct sqlite3 *db;

        viewing_ask(&v, "SELECT 1");
        db = plain_open(v.t.folder);
        cr_assert(plain_run(db, tampering[i]), "%s", tampering[i]);
        plain_close(db);
        cr_assert_eq(mb_views_compare(v.ledger, v.t.arena, &where, &v.err), MB_NO, "%s",
                     tampering[i]);
        cr_assert(where && strstr(where, "v_"), "%s", tampering[i]);
        cr_assert_eq(mb_views_rebuild(v.ledger, &v.err), MB_OK, "%s: %s", tampering[i],
                     v.err.text);
        viewing_whole(&v);
    }
}

Test(views_replay, nothing_stored_is_nothing_wrong)
{
    viewing_whole(&v);
}

Test(views_replay, another_schema_is_replayed_anew)
{
    struct sqlite3 *db;

    viewing_add(&v, "specimen/P1", "note", "{\"private\":{\"text\":\"one\"}}");
    viewing_ask(&v, "SELECT 1");
    db = plain_open(v.t.folder);
    cr_assert(plain_run(db, "UPDATE v_stamp SET schema = 'older'; DROP TABLE v_entry;"
                            "CREATE TABLE v_gone (x); CREATE VIEW v_gone_too AS SELECT 1"));
    plain_close(db);
    SAYS(&v, "SELECT count(*) FROM v_entry", "4");
    SAYS(&v, "SELECT count(*) FROM sqlite_schema WHERE name GLOB 'v_gone*'", "0");
    viewing_whole(&v);
}

Test(views_replay, a_replay_that_was_cut_off_is_gone_on_with)
{
    struct sqlite3 *db;

    viewing_add(&v, "specimen/P1", "note", "{\"private\":{\"text\":\"one\"}}");
    viewing_add(&v, "party/P1", "party", "{\"science\":{\"name\":\"Ottoline Harrow\"}}");
    viewing_ask(&v, "SELECT 1");
    /* as if it had been: rows are missing, and the work to make them is still to be done */
    db = plain_open(v.t.folder);
    cr_assert(plain_run(db, "DELETE FROM v_entry WHERE sub LIKE 's%';"
                            "UPDATE v_subject SET entries = 0 WHERE sub LIKE 's%';"
                            "DELETE FROM v_field; DELETE FROM v_mention; DELETE FROM v_search;"
                            "DELETE FROM v_subject; DELETE FROM v_entry; DELETE FROM v_party;"
                            "INSERT INTO v_work SELECT 2, 0, 'ledger';"
                            "INSERT INTO v_work SELECT DISTINCT 2, nth + 1, sub FROM line"
                            " WHERE sub <> 'ledger'"));
    plain_close(db);
    SAYS(&v, "SELECT count(*) FROM v_entry", "5");
    SAYS(&v, "SELECT count(*) FROM v_work", "0");
    cr_assert_eq(mb_views_rebuild(v.ledger, &v.err), MB_OK);
    viewing_whole(&v);
}

Test(views_replay, a_damaged_index_of_subjects_is_mended_by_a_rebuild)
{
    struct sqlite3 *db;

    viewing_add(&v, "specimen/P1", "note", "{\"private\":{\"text\":\"one\"}}");
    viewing_add(&v, "specimen/P1", "note", "{\"private\":{\"text\":\"two\"}}");
    db = plain_open(v.t.folder);
    cr_assert(plain_run(db, "DELETE FROM line WHERE sub = 'specimen/P1' AND nth = 0;"
                            "UPDATE line SET kind = 'nothing' WHERE seq = 0;"
                            "INSERT INTO line VALUES ('specimen/P9', 0, 77, 'note', 0)"));
    plain_close(db);
    cr_assert_eq(mb_views_rebuild(v.ledger, &v.err), MB_OK, "%s", v.err.text);
    SAYS(&v, "SELECT seq, kind FROM line WHERE sub IN ('ledger', 'specimen/P1', 'specimen/P9')"
             " ORDER BY seq", "0|founding; 3|note; 4|note");
    SAYS(&v, "SELECT count(*) FROM v_entry WHERE sub = 'specimen/P1'", "2");
    viewing_whole(&v);
}

Test(views_replay, an_older_copy_put_in_place_is_noticed)
{
    struct sqlite3 *db;

    viewing_add(&v, "specimen/P1", "note", "{\"private\":{\"text\":\"one\"}}");
    viewing_ask(&v, "SELECT 1");
    db = plain_open(v.t.folder);
    cr_assert(plain_run(db, "UPDATE v_stamp SET leaf = zeroblob(32);"
                            "UPDATE v_entry SET line = 'of another log'"));
    plain_close(db);
    SAYS(&v, "SELECT count(*) FROM v_entry WHERE line = 'of another log'", "0");
    viewing_whole(&v);
}

Test(views_replay, what_is_being_recorded_is_seen_by_the_one_who_records)
{
    mb_ledger *ledger;
    const mb_json *answer;

    /* the ledger that this test reads through has a log of its own; here both are one */
    cr_assert_eq(mb_ledger_open(v.t.arena, v.t.folder, MB_WRITE, &ledger, &v.err), MB_OK);
    cr_assert_eq(mb_log_begin(ledger->log, &v.err), MB_OK, "%s", v.err.text);
    {
        size_t count;
        struct mb_append append = { .sub = "specimen/P1", .kind = "note" };

        append.fields = temp_fields(v.t.arena, "{\"private\":{\"text\":\"one\"}}", &count);
        append.count = count;
        cr_assert_eq(mb_log_append(ledger->log, v.t.arena, &append, v.t.owner, NULL, &v.err),
                     MB_OK, "%s", v.err.text);
    }
    cr_assert_eq(mb_query(ledger, v.t.arena, MB_STR("SELECT line FROM v_entry WHERE seq = 3"), NULL,
                          &answer, &v.err),
                 MB_OK, "%s", v.err.text);
    cr_assert_str_eq(viewing_rows(&v, answer), "Note: one");
    cr_assert_eq(mb_views_rebuild(ledger, &v.err), MB_REFUSED);
    mb_log_rollback(ledger->log);
    SAYS(&v, "SELECT count(*) FROM v_entry", "3");
    mb_ledger_close(ledger);
}

/* Without a right to write there, views are made in memory; they say the same. */
Test(views_replay, a_folder_that_cannot_be_written_is_read_all_the_same)
{
    struct mb_str before;
    mb_db *db;
    bool own;

    if (geteuid() == 0)
        cr_skip_test("root may write anywhere, so this cannot be tried as root");
    viewing_add(&v, "specimen/P1", "note", "{\"private\":{\"text\":\"one\"}}");
    before = dump(NULL);
    viewing_add(&v, "specimen/P1", "note", "{\"private\":{\"text\":\"two\"}}");
    v.ledger = mb_ledger_close(v.ledger);
    cr_assert_eq(chmod(v.t.folder, 0555), 0);
    cr_assert_eq(mb_ledger_open(v.t.arena, v.t.folder, MB_READ, &v.ledger, &v.err), MB_OK);
    cr_assert_eq(mb_views_at(v.ledger, NULL, &db, &own, &v.err), MB_OK, "%s", v.err.text);
    cr_assert(own);
    mb_db_close(db);
    same(dump("#3"), before, "in memory");
    chmod(v.t.folder, 0755);
}

/* What was erased is gone from the views and from the search. */
Test(views_replay, what_was_erased_is_found_no_more)
{
    const mb_json *hits;
    struct mb_entry note;
    struct sqlite3 *db;

    note = viewing_add(&v, "specimen/P1", "note", "{\"private\":{\"text\":\"quetzalcoatlus\"}}");
    cr_assert_eq(mb_find_words(v.ledger, v.t.arena, "quetzalcoatlus", 5, NULL, &hits, &v.err),
                 MB_OK);
    cr_assert_eq(hits->count, 1);
    db = plain_open(v.t.folder);
    plain_unguard(db);
    cr_assert(plain_run(db, print("UPDATE disclosures SET tail = '' WHERE seq = %lld",
                                  (long long)note.seq)));
    plain_close(db);
    viewing_add(&v, "specimen/P1", "erasure",
                print("{\"open\":{\"target\":{\"entry\":\"%s\"},\"digests\":[],\"ground\":"
                      "\"recorded by mistake\"}}",
                      viewing_leaf(&v, &note)));
    cr_assert_eq(mb_find_words(v.ledger, v.t.arena, "quetzalcoatlus", 5, NULL, &hits, &v.err),
                 MB_OK);
    cr_assert_eq(hits->count, 0);
    SAYS(&v, "SELECT count(*) FROM v_field WHERE value LIKE '%quetz%'", "0");
    SAYS(&v, "SELECT count(*) FROM v_search_data WHERE instr(block, CAST('quetz' AS BLOB))", "0");
    SAYS(&v, "SELECT line FROM v_entry WHERE kind = 'erasure'",
         "Fields of entry #3 erased (recorded by mistake)");
    viewing_whole(&v);
}

/* A reader of another process, which asks until it has seen all entries. Never less than before,
 * and never an entry without its fields. */
static int read_along(const char *folder, int64_t entries)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { 0 };
    mb_ledger *ledger;
    int64_t seen = 0;
    int fault = mb_ledger_open(arena, folder, MB_READ, &ledger, &err) ? 1 : 0;

    while (!fault && seen < entries) {
        const mb_json *answer, *row;

        if (mb_query(ledger, arena,
                     MB_STR("SELECT (SELECT count(*) FROM v_entry), (SELECT count(DISTINCT seq)"
                            " FROM v_field), (SELECT max(seq) + 1 FROM v_entry)"),
                     NULL, &answer, &err))
            fault = 2;
        row = fault ? NULL : mb_json_at(mb_json_get(answer, "rows"), 0);
        if (row && (mb_json_int(mb_json_at(row, 0), -1) < seen
                    || !mb_json_equal(mb_json_at(row, 0), mb_json_at(row, 1))
                    || !mb_json_equal(mb_json_at(row, 0), mb_json_at(row, 2))))
            fault = 3;
        if (row)
            seen = mb_json_int(mb_json_at(row, 0), -1);
    }
    if (!fault)
        mb_ledger_close(ledger);
    mb_arena_free(arena);
    return fault;
}

Test(views_replay, several_processes_may_read_while_one_records)
{
    enum { READERS = 2, GROUPS = 60 };
    struct house h = { .dice = { 5 } };
    pid_t readers[READERS];
    int64_t size;

    for (int i = 0; i < READERS; i++) {
        readers[i] = fork();
        cr_assert_geq(readers[i], 0);
        if (readers[i] == 0)
            _exit(read_along(v.t.folder, 3 + GROUPS));
    }
    for (int i = 0; i < GROUPS; i++) {
        temp_ledger_begin(&v.t);
        put_find(&h);
        temp_ledger_commit(&v.t);
    }
    cr_assert_eq(mb_log_size(v.t.log, &size, &v.err), MB_OK);
    cr_assert_eq(size, 3 + GROUPS);
    for (int i = 0; i < READERS; i++) {
        int status;

        cr_assert_eq(waitpid(readers[i], &status, 0), readers[i]);
        cr_assert(WIFEXITED(status) && WEXITSTATUS(status) == 0, "reader %d: %d", i,
                  WEXITSTATUS(status));
    }
    viewing_whole(&v);
}
