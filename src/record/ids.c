#include "ids.h"

#include <markerbed/record.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "date.h"
#include "kinds.h"
#include "text.h"

enum {
    DIGITS_MOST = 15,
    ROWS_MOST = 100000, /* IDs looked at for the end of a row */
    NEAR_ALIKE = 2000,  /* IDs compared that begin with the same half, */
    NEAR_ANY = 4000     /* and that only have the same prefix */
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* A row of IDs: "26-" and four digits. */
struct row {
    struct mb_str stem;
    size_t width;
};

static bool row_of(struct mb_str pattern, struct row *row)
{
    size_t at = pattern.len;

    while (at > 0 && (is_digit(pattern.at[at - 1]) || pattern.at[at - 1] == '#')
           && pattern.len - at < DIGITS_MOST)
        at--;
    *row = (struct row){ { pattern.at, at }, pattern.len - at };
    return row->width > 0;
}

static const char *first_pattern(mb_arena *arena, const char *prefix)
{
    static const char *const first[][2] = {
        { "party", "P###" },      { "site", "S###" },     { "horizon", "H###" },
        { "permission", "L###" }, { "field-day", "F###" }, { "dealing", "D###" },
        { "place", "B###" },
    };

    for (size_t i = 0; i < sizeof first / sizeof *first; i++)
        if (strcmp(prefix, first[i][0]) == 0)
            return first[i][1];
    return mb_arena_printf(arena, "%.2s-####", mb_moment_write(arena, mb_now()) + 2);
}

/* The ID recorded last under a prefix: the newest rows of the log are looked at. */
static enum mb_rc newest_id(mb_ledger *ledger, mb_arena *arena, const char *prefix,
                            const char **id, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = false;
    size_t len = strlen(prefix) + 1;
    enum mb_rc rc = mb_stmt_make(mb_log_db(ledger->log),
                                 "SELECT sub FROM line WHERE sub >= ?1 || '/' AND sub < ?1 || '0'"
                                 " AND nth = 0 ORDER BY seq DESC LIMIT 1",
                                 &stmt, err);

    *id = NULL;
    if (rc)
        return rc;
    mb_bind_text(stmt, 1, mb_str_of(prefix));
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row) {
        struct mb_str sub = mb_col_text(stmt, 0);

        *id = mb_arena_copy(arena, sub.at + len, sub.len - len);
    }
    mb_stmt_free(stmt);
    return rc;
}

static int64_t number_of(struct mb_str sub, size_t stem, size_t width)
{
    int64_t number = 0;

    if (sub.len != stem + width)
        return -1;
    for (size_t i = stem; i < sub.len; i++) {
        if (!is_digit(sub.at[i]))
            return -1;
        number = number * 10 + (sub.at[i] - '0');
    }
    return number;
}

/* The highest number of this width in the row, -1 if there is none. IDs are read from the end of
 * the row backwards; others between them ("26-0115-A") are passed over. */
static enum mb_rc highest(mb_ledger *ledger, mb_arena *arena, const char *stem, size_t width,
                          int64_t *number, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(mb_log_db(ledger->log),
                                 "SELECT sub FROM line WHERE sub >= ?1 AND sub < ?2 AND nth = 0"
                                 " ORDER BY sub DESC",
                                 &stmt, err);

    *number = -1;
    if (rc)
        return rc;
    mb_bind_text(stmt, 1, mb_str_of(mb_arena_printf(arena, "%s0", stem)));
    mb_bind_text(stmt, 2, mb_str_of(mb_arena_printf(arena, "%s:", stem)));
    for (int i = 0; !rc && *number < 0 && i < ROWS_MOST; i++) {
        rc = mb_stmt_step(stmt, &row, err);
        if (rc || !row)
            break;
        *number = number_of(mb_col_text(stmt, 0), strlen(stem), width);
    }
    mb_stmt_free(stmt);
    return rc;
}

static int64_t power_of_ten(size_t width)
{
    int64_t power = 1;

    while (width-- > 0)
        power *= 10;
    return power;
}

enum mb_rc mb_ids_next(mb_ledger *ledger, mb_arena *arena, const char *prefix,
                       const char *pattern, const char **id, struct mb_error *err)
{
    int64_t number = -1;
    struct row row;
    const char *stem;
    enum mb_rc rc = MB_OK;

    if (!pattern)
        rc = newest_id(ledger, arena, prefix, &pattern, err);
    if (rc)
        return rc;
    if (!pattern || !row_of(mb_str_of(pattern), &row))
        pattern = first_pattern(arena, prefix);
    if (!row_of(mb_str_of(pattern), &row))
        return mb_fail(err, MB_REFUSED,
                       "'%s' ends in no digit: write an ID of the row, like 26-0115, or 26-####",
                       pattern);
    stem = mb_arena_printf(arena, "%s/%.*s", prefix, MB_STR_ARG(row.stem));
    /* a row that is full goes on with one digit more: 999, 1000 */
    for (; row.width <= DIGITS_MOST; row.width++) {
        int64_t wider = -1;

        rc = highest(ledger, arena, stem, row.width, &wider, err);
        if (rc)
            return rc;
        if (wider < 0 && number >= 0)
            break;
        number = wider;
        if (number + 1 < power_of_ten(row.width))
            break;
    }
    number = number < 0 ? 1 : number + 1;
    *id = mb_arena_printf(arena, "%.*s%0*lld", MB_STR_ARG(row.stem), (int)row.width,
                          (long long)number);
    if (!mb_id_ok(mb_str_of(*id)))
        return mb_fail(err, MB_REFUSED,
                       "'%s' is no ID: 1-64 letters, digits, '.', '_' and '-', beginning with a"
                       " letter or digit",
                       *id);
    return MB_OK;
}

enum mb_rc mb_next_id(mb_ledger *ledger, mb_arena *arena, const char *prefix, const char *pattern,
                      const mb_json **out, struct mb_error *err)
{
    const char *const *prefixes;
    size_t count;
    const char *id = NULL;
    mb_json *answer;
    enum mb_rc rc = MB_REFUSED;

    mb_kinds_prefixes(&prefixes, &count);
    for (size_t i = 0; rc && i < count; i++)
        if (strcmp(prefixes[i], prefix) == 0)
            rc = MB_OK;
    if (rc)
        return mb_fail(err, MB_REFUSED, "there are no '%s' to number; there are: %s", prefix,
                       mb_kinds_join(arena, prefixes, count, count));
    if (pattern) {
        struct row row;

        if (!row_of(mb_str_of(pattern), &row))
            return mb_fail(err, MB_REFUSED,
                           "'%s' ends in no digit: write an ID of the row, like 26-0115, or"
                           " 26-####",
                           pattern);
    }
    rc = mb_ids_next(ledger, arena, prefix, pattern, &id, err);
    if (rc)
        return rc;
    answer = mb_json_object(arena);
    mb_json_put_text(arena, answer, "id", id);
    *out = answer;
    return MB_OK;
}

/* ---- near misses ---- */

struct ids {
    const char **at;
    size_t count, room;
};

static enum mb_rc gather(mb_ledger *ledger, mb_arena *arena, const char *from, const char *to,
                         size_t skip, size_t most, struct ids *ids, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(mb_log_db(ledger->log),
                                 "SELECT sub FROM line WHERE sub >= ?1 AND sub < ?2 AND nth = 0"
                                 " LIMIT ?3",
                                 &stmt, err);

    if (rc)
        return rc;
    mb_bind_text(stmt, 1, mb_str_of(from));
    mb_bind_text(stmt, 2, mb_str_of(to));
    mb_bind_int(stmt, 3, (int64_t)most);
    while (ids->count < ids->room) {
        struct mb_str sub;

        rc = mb_stmt_step(stmt, &row, err);
        if (rc || !row)
            break;
        sub = mb_col_text(stmt, 0);
        ids->at[ids->count++] = mb_arena_copy(arena, sub.at + skip, sub.len - skip);
    }
    mb_stmt_free(stmt);
    return rc;
}

enum mb_rc mb_ids_near(mb_ledger *ledger, mb_arena *arena, const char *prefix, struct mb_str id,
                       const char **near, struct mb_error *err)
{
    struct ids ids = { MB_ARRAY(arena, NEAR_ALIKE + NEAR_ANY, const char *), 0,
                       NEAR_ALIKE + NEAR_ANY };
    size_t skip = strlen(prefix) + 1, half = (id.len + 1) / 2;
    const char *alike = mb_arena_printf(arena, "%s/%.*s", prefix, (int)half, id.at);
    enum mb_rc rc = gather(ledger, arena, alike, mb_arena_printf(arena, "%s~", alike), skip,
                           NEAR_ALIKE, &ids, err);

    *near = NULL;
    if (!rc)
        rc = gather(ledger, arena, mb_arena_printf(arena, "%s/", prefix),
                    mb_arena_printf(arena, "%s0", prefix), skip, NEAR_ANY, &ids, err);
    if (rc)
        return rc;
    *near = mb_nearest(id, ids.at, ids.count);
    return MB_OK;
}

/* ---- IDs that tell ---- */

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (unsigned char)c >= 0x80;
}

static bool contains(struct mb_str text, struct mb_str word)
{
    for (size_t i = 0; i + word.len <= text.len; i++)
        if (strncasecmp(text.at + i, word.at, word.len) == 0)
            return true;
    return false;
}

struct mb_str mb_id_shares(struct mb_str id, struct mb_str name)
{
    size_t at = 0;

    while (at < name.len) {
        size_t end = at;

        while (end < name.len && is_letter(name.at[end]))
            end++;
        if (end - at >= MB_ID_WORD_MIN && contains(id, (struct mb_str){ name.at + at, end - at }))
            return (struct mb_str){ name.at + at, end - at };
        at = end + 1;
    }
    return (struct mb_str){ NULL, 0 };
}
