#include "remeasure.h"

#include <string.h>

#include "db.h"
#include "fileio.h"
#include "sha256.h"
#include "text.h"

struct remeasuring {
    mb_findings *findings;
    struct mb_remeasured *out;
    mb_bytes_fn *bytes;
    void *ctx;
    bool all_shown; /* a field that is not there was not recorded */
    size_t room;    /* how many outlines and regions may still be measured */
    /* What was measured last: entries often name the same outlines. */
    mb_arena *kept;
    struct mb_str kept_of;
    const struct mb_measured *measured;
};

/* A stranger's file may ask for no more than a few times what one drawing may hold. */
#define ROOM_OF_STRANGER (3u * MB_OUTLINE_REGIONS_MAX)

/* ---- one entry ---- */

/* The hash of the file, {NULL, 0} if the value names none. */
static struct mb_str file_of(const mb_json *value)
{
    struct mb_str sha256 = mb_json_str(mb_json_get(value, "file"));

    return sha256.len == MB_HEX_LEN(sizeof(struct mb_hash)) ? sha256 : (struct mb_str){ NULL, 0 };
}

static bool is_measured(const mb_json *row)
{
    const mb_json *how = mb_json_get(row, "how");

    return mb_json_text_is(how, mb_how_words[MB_HOW_OUTLINE])
           || mb_json_text_is(how, mb_how_words[MB_HOW_POINTS]);
}

static bool any_measured(const mb_json *rows)
{
    if (!mb_json_is(rows, MB_JSON_ARRAY))
        return false;
    MB_JSON_EACH(row, rows)
    {
        if (is_measured(row))
            return true;
    }
    return false;
}

/* The words of a column, if all rows have the same; forms without room for it take it from here. */
static const char *common_word(mb_arena *arena, const mb_json *rows, const char *column)
{
    struct mb_str word = { NULL, 0 };

    MB_JSON_EACH(row, rows)
    {
        struct mb_str here = mb_json_str(mb_json_get(row, column));

        if (word.at && here.at && !mb_str_equal(word, here))
            return NULL;
        word = here.at ? here : word;
    }
    return word.at ? mb_arena_copy(arena, word.at, word.len) : NULL;
}

static struct mb_outlines_given told_outside(mb_arena *arena, const mb_json *shares)
{
    static const char *const unseen[] = { "nothing" };

    return (struct mb_outlines_given){
        .view = common_word(arena, shares, "view"),
        .individual = common_word(arena, shares, "individual"),
        .element = common_word(arena, shares, "element"),
        .not_examined = unseen, /* has no part in any number */
        .not_examined_count = 1,
    };
}

static enum mb_rc measure_again(mb_arena *arena, struct mb_str bytes, const mb_json *shares,
                                size_t *room, const struct mb_measured **out,
                                struct mb_error *err)
{
    const struct mb_outlines_given given = told_outside(arena, shares);
    const struct mb_outlines *outlines;
    enum mb_rc rc = mb_outlines_read(arena, "the outlines", bytes, &given, &outlines, err);

    if (rc)
        return rc;
    if (outlines->region_count + outlines->part_count > *room)
        return mb_fail(err, MB_UNABLE, "there is more drawn than is measured of one file");
    *room -= outlines->region_count + outlines->part_count;
    return mb_measure(arena, outlines, out, err);
}

/* As measure_again, once for outlines that several entries in a row name. */
static enum mb_rc measure_kept(struct remeasuring *r, mb_arena *scratch, struct mb_str sha256,
                               struct mb_str bytes, const mb_json *shares,
                               const struct mb_measured **out, struct mb_error *err)
{
    const struct mb_outlines_given given = told_outside(scratch, shares);
    struct mb_str key = mb_str_of(mb_arena_printf(scratch, "%.*s\n%s\n%s\n%s",
                                                  MB_STR_ARG(sha256), given.view ? given.view : "",
                                                  given.individual ? given.individual : "",
                                                  given.element ? given.element : ""));
    enum mb_rc rc;

    if (!r->kept_of.at || !mb_str_equal(r->kept_of, key)) {
        if (r->kept)
            mb_arena_free(r->kept);
        r->kept = mb_arena_new();
        r->kept_of = (struct mb_str){ NULL, 0 };
        rc = measure_again(r->kept, mb_arena_str(r->kept, bytes), shares, &r->room, &r->measured,
                           err);
        if (rc)
            return rc;
        r->kept_of = mb_arena_str(r->kept, key);
    }
    *out = r->measured;
    return MB_OK;
}

/* Recorded rows; what is not shown agrees with whatever was measured. */
static const mb_json *rows_of(const struct remeasuring *r, const struct mb_told *told,
                              const char *name, const mb_json *measured)
{
    const mb_json *value = mb_told_field(told, name, NULL, NULL);

    if (!value && !r->all_shown)
        return mb_json_get(measured, name);
    return mb_json_is(value, MB_JSON_ARRAY) ? value : NULL;
}

static enum mb_rc compare(const struct remeasuring *r, mb_arena *arena, const struct mb_told *told,
                          const struct mb_measured *measured, struct mb_error *err)
{
    const mb_json *given = mb_measure_json(arena, measured);

    return mb_measure_compare(arena, measured, rows_of(r, told, "shares", given),
                              rows_of(r, told, "surfaces", given),
                              rows_of(r, told, "joins", given), err);
}

static void unchecked(struct remeasuring *r, const struct mb_told *told, const char *why)
{
    r->out->unchecked++;
    mb_find(r->findings, MB_F_SHARES_UNCHECKED, told->entry->sub, told->entry->seq,
            "The shares of entry %lld were not worked out again here: %s.",
            (long long)told->entry->seq, why);
}

/* MB_NO: not here. */
static enum mb_rc bytes_of(struct remeasuring *r, mb_arena *arena, struct mb_str sha256,
                           struct mb_str *out)
{
    char hex[MB_HEX_LEN(sizeof(struct mb_hash)) + 1];
    struct mb_hash hash;

    if (!sha256.at || !r->bytes(r->ctx, arena, sha256, out))
        return MB_NO;
    hash = mb_sha256_str(*out);
    mb_hex_write(hex, hash.b, sizeof hash.b);
    return mb_str_is(sha256, hex) ? MB_OK : MB_NO; /* a changed file is told of elsewhere */
}

static void remeasure(struct remeasuring *r, mb_arena *arena, const struct mb_told *told)
{
    const mb_json *shares = mb_told_field(told, "shares", NULL, NULL);
    const mb_json *outlines = mb_told_field(told, "outlines", NULL, NULL);
    const struct mb_measured *measured;
    struct mb_error err = { 0 };
    struct mb_str bytes;
    enum mb_rc rc;

    if (told->voided_by >= 0 || !mb_str_is(told->entry->kind, "condition")
        || (!any_measured(shares) && !(shares && file_of(outlines).at)))
        return;
    if (bytes_of(r, arena, file_of(outlines), &bytes)) {
        unchecked(r, told,
                  file_of(outlines).at ? "the outlines that it names are not at hand"
                                       : "it names no outlines or counts");
        return;
    }
    rc = measure_kept(r, arena, file_of(outlines), bytes, shares, &measured, &err);
    if (rc) {
        unchecked(r, told, err.text);
        return;
    }
    rc = compare(r, arena, told, measured, &err);
    if (rc == MB_OK) {
        r->out->agree++;
        return;
    }
    r->out->differ++;
    mb_find(r->findings, MB_F_SHARES_DIFFER, told->entry->sub, told->entry->seq,
            "The shares of entry %lld are not what its outlines give: %s.",
            (long long)told->entry->seq, err.text);
}

static void remeasure_story(struct remeasuring *r, const mb_story *story)
{
    for (size_t i = 0; story && i < mb_story_count(story); i++) {
        mb_arena *scratch = mb_arena_new();

        remeasure(r, scratch, mb_story_at(story, i));
        mb_arena_free(scratch);
    }
}

/* ---- a certificate ---- */

struct in_bundle {
    const struct mb_bundle *bundle;
    mb_bytes_fn *more;
    void *ctx;
};

static bool bytes_in_bundle(void *ctx, mb_arena *arena, struct mb_str sha256, struct mb_str *bytes)
{
    const struct in_bundle *in = ctx;

    for (size_t i = 0; i < in->bundle->file_count; i++)
        if (mb_str_equal(in->bundle->files[i].name, sha256)) {
            *bytes = in->bundle->files[i].bytes;
            return true;
        }
    return in->more && in->more(in->ctx, arena, sha256, bytes);
}

/* And of those of other ledgers that it carries: their files are in them, or in it. */
static void remeasure_check(struct remeasuring *r, struct in_bundle *in,
                            const struct mb_bundle_check *check)
{
    for (size_t i = 0; !check->newer && i < mb_stories_count(check->stories); i++)
        remeasure_story(r, mb_stories_of(check->stories, mb_stories_subject(check->stories, i)));
    for (const struct mb_bundle_check *inner = check->inside; inner; inner = inner->next) {
        struct in_bundle inside = { inner->bundle, bytes_in_bundle, in };

        r->ctx = &inside;
        remeasure_check(r, &inside, inner);
        r->ctx = in;
    }
}

void mb_remeasure_bundle(const struct mb_bundle_check *check, mb_bytes_fn *more, void *ctx,
                         mb_findings *findings, struct mb_remeasured *out)
{
    struct in_bundle in = { check->bundle, more, ctx };
    struct remeasuring r = { .findings = findings,
                             .out = out,
                             .bytes = bytes_in_bundle,
                             .ctx = &in,
                             .room = ROOM_OF_STRANGER };

    *out = (struct mb_remeasured){ 0 };
    remeasure_check(&r, &in, check);
    if (r.kept)
        mb_arena_free(r.kept);
}

const struct mb_measured *mb_remeasured_of(mb_arena *arena, const struct mb_bundle *bundle,
                                           const struct mb_told *told)
{
    const mb_json *shares = mb_told_field(told, "shares", NULL, NULL);
    struct mb_str sha256 = file_of(mb_told_field(told, "outlines", NULL, NULL)), bytes;
    struct in_bundle in = { bundle, NULL, NULL };
    const struct mb_measured *measured;
    size_t room = ROOM_OF_STRANGER;

    if (!shares || !sha256.at || !bytes_in_bundle(&in, arena, sha256, &bytes)
        || measure_again(arena, bytes, shares, &room, &measured, NULL))
        return NULL;
    return measured;
}

/* ---- a ledger ---- */

static bool bytes_in_folder(void *ctx, mb_arena *arena, struct mb_str sha256, struct mb_str *bytes)
{
    const char *path = mb_arena_printf(arena, "%s/files/%.2s/%.*s", (const char *)ctx, sha256.at,
                                       MB_STR_ARG(sha256));

    for (size_t i = 0; i < sha256.len; i++)
        if (!memchr("0123456789abcdef", sha256.at[i], 16))
            return false;
    return mb_file_exists(path)
           && mb_file_read(arena, path, MB_OUTLINE_BYTES_MAX, bytes, NULL) == MB_OK;
}

/* All that can change a condition of this subject. */
static enum mb_rc remeasure_subject(struct remeasuring *r, mb_log *log, struct mb_str sub,
                                    struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    mb_story *story = mb_story_new(arena);
    mb_stmt *stmt = NULL;
    bool row;
    enum mb_rc rc = mb_stmt_make(mb_log_db(log),
                                 "SELECT seq FROM line WHERE sub = ? AND kind IN ('condition',"
                                 " 'correction') ORDER BY seq",
                                 &stmt, err);

    if (!rc)
        mb_bind_text(stmt, 1, sub);
    while (!rc && !(rc = mb_stmt_step(stmt, &row, err)) && row) {
        struct mb_entry *entry = MB_NEW(arena, struct mb_entry);

        rc = mb_log_entry(log, arena, mb_col_int(stmt, 0), entry, err);
        if (!rc)
            mb_story_add(story, entry);
    }
    mb_stmt_free(stmt);
    if (!rc)
        remeasure_story(r, story);
    mb_arena_free(arena);
    return rc;
}

enum mb_rc mb_remeasure_log(mb_log *log, mb_findings *findings, struct mb_remeasured *out,
                            struct mb_error *err)
{
    union {
        const char *in;
        void *out;
    } folder = { .in = mb_log_folder(log) };
    struct remeasuring r = { .findings = findings,
                             .out = out,
                             .bytes = bytes_in_folder,
                             .ctx = folder.out,
                             .all_shown = true,
                             .room = SIZE_MAX };
    mb_stmt *stmt;
    bool row;
    enum mb_rc rc = mb_stmt_make(mb_log_db(log),
                                 "SELECT DISTINCT sub FROM line WHERE kind = 'condition'", &stmt,
                                 err);

    *out = (struct mb_remeasured){ 0 };
    while (!rc && !(rc = mb_stmt_step(stmt, &row, err)) && row) {
        mb_arena *scratch = mb_arena_new();

        rc = remeasure_subject(&r, log, mb_arena_str(scratch, mb_col_text(stmt, 0)), err);
        mb_arena_free(scratch);
    }
    mb_stmt_free(stmt);
    if (r.kept)
        mb_arena_free(r.kept);
    return rc;
}

/* ---- what may leave ---- */

bool mb_are_written_outlines(struct mb_str bytes)
{
    mb_arena *arena = mb_arena_new();
    const struct mb_outlines *outlines;
    struct mb_str written;
    bool are = bytes.len > 0 && bytes.len <= MB_OUTLINE_BYTES_MAX && bytes.at[0] == '{'
               && mb_outlines_read(arena, "", bytes, NULL, &outlines, NULL) == MB_OK
               && mb_outlines_write(arena, outlines, &written, NULL) == MB_OK
               && mb_str_equal(written, bytes);

    mb_arena_free(arena);
    return are;
}
