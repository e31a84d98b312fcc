/*
 * The account of the pieces under one number, in the order in which entries were recorded.
 *
 * Only `collecting` and `arrival` bring pieces into the ledger; a division hands them on, a joining
 * brings them together, a loss takes them away until they are recovered. A count says what is there
 * on its day: whatever happened up to then is in it, also where it was recorded later (such a row
 * does not count any more); what was recorded before and happened later stays beside it.
 * Common practice, no source.
 */
#include <string.h>

#include "text.h"
#include "views_priv.h"

/* Lots pooled from lots pooled from lots: past so many chains to read for one account, which no
 * house will ever reach, a part brings nothing. */
enum { CHAINS_MOST = 4000, ROWS_AN_ENTRY = 3 };

struct accounting {
    mb_log *log;
    const struct mb_tale *tale;
    struct mb_account *out;
    int64_t limit;
    int *chains; /* that may still be read */
    int64_t balance;
    struct mb_error *err;
};

bool mb_told_came_out(const struct mb_told *told)
{
    return mb_str_is(told->entry->kind, "descent")
           || (mb_str_is(told->entry->kind, "division") && mb_told_is(told, "side", "came out"));
}

static bool is_part(const struct mb_told *told)
{
    return mb_told_is(told, "side", "part");
}

bool mb_told_begins(const struct mb_told *told)
{
    struct mb_str kind = told->entry->kind;

    return mb_str_is(kind, "collecting") || mb_str_is(kind, "arrival")
           || mb_str_is(kind, "making") || mb_told_came_out(told)
           || (mb_str_is(kind, "joining") && !is_part(told));
}

/* ---- rows ---- */

/* Is it in a count that was recorded before and made after it? */
static bool in_a_count(const struct mb_account *account, struct mb_days days)
{
    for (size_t i = 0; i < account->count; i++)
        if (account->rows[i].how == MB_M_RECOUNT && days.last < account->rows[i].days.first)
            return true;
    return false;
}

static struct mb_movement *add(struct accounting *a, const struct mb_told *told, int64_t change,
                               enum mb_moved how, const char *why)
{
    struct mb_account *out = a->out;
    struct mb_movement *row = &out->rows[out->count];

    *row = (struct mb_movement){ .seq = told->entry->seq,
                                 .change = change,
                                 .days = mb_told_days_or(told),
                                 .how = how,
                                 .why = why };
    row->counts =
        how == MB_M_RECOUNT || how == MB_M_JOINED_INTO || !in_a_count(out, row->days);
    row->n = out->count && out->rows[out->count - 1].seq == row->seq
                 ? out->rows[out->count - 1].n + 1
                 : 0;
    if (row->counts)
        a->balance += change;
    row->balance = a->balance;
    if (a->balance < out->lowest)
        out->lowest = a->balance;
    out->count++;
    return row;
}

static const char *say(const struct accounting *a, const char *what, struct mb_str more)
{
    return more.len ? mb_arena_printf(a->tale->arena, "%s%.*s", what, MB_STR_ARG(more)) : what;
}

static struct mb_str words(const struct accounting *a, const struct mb_told *told,
                           const char *name)
{
    return mb_told_words(a->tale->arena, told, name);
}

/* ---- what adds ---- */

static void come(struct accounting *a, const struct mb_told *told, enum mb_moved how,
                 const char *why)
{
    int64_t pieces;

    if (!mb_value_count(mb_told_value(told, "objectQuantity"), &pieces))
        return;
    if (how == MB_M_CAME_IN && a->out->known && mb_told_is(told, "reason", "return")) {
        add(a, told, 0, MB_M_CAME_BACK, "came back");
        return;
    }
    a->out->known = true;
    add(a, told, pieces, how, why);
}

/* ---- joining ---- */

static enum mb_rc account_of(mb_log *log, const struct mb_tale *tale, int64_t limit,
                             int64_t before, int *chains, struct mb_account *out,
                             struct mb_error *err);

/* What a part held when the whole was recorded, after all corrections. */
static enum mb_rc held_by_part(struct accounting *a, struct mb_str part, int64_t seq,
                               int64_t *pieces)
{
    struct mb_account account;
    struct mb_tale tale;
    mb_arena *arena;
    enum mb_rc rc;

    if (--*a->chains < 0 || mb_str_equal(part, a->tale->sub))
        return MB_OK;
    arena = mb_arena_new();
    rc = mb_tale_read(a->log, arena, part, a->limit, &tale, a->err);
    if (!rc)
        rc = account_of(a->log, &tale, a->limit, seq, a->chains, &account, a->err);
    if (!rc)
        *pieces += account.now;
    if (*pieces > MB_COUNT_MOST)
        *pieces = MB_COUNT_MOST;
    mb_arena_free(arena);
    return rc;
}

static enum mb_rc join(struct accounting *a, const struct mb_told *told)
{
    const mb_json *parts = mb_told_value(told, "parts");
    int64_t pieces = 0;

    if (is_part(told)) {
        add(a, told, -a->balance, MB_M_JOINED_INTO,
            say(a, "joined into ", mb_told_ref(told, "whole")));
        return MB_OK;
    }
    if (!mb_told_is(told, "why", "lot pooled")) {
        /* several pieces make one */
        pieces = a->balance < 1 ? 1 - a->balance : 0;
        a->out->known = true;
        add(a, told, pieces, MB_M_JOINED_FROM, "joined from its parts into one piece");
        return MB_OK;
    }
    MB_JSON_EACH(part, parts)
    {
        enum mb_rc rc = MB_OK;

        if (mb_ref_of(part).at)
            rc = held_by_part(a, mb_ref_of(part), told->entry->seq, &pieces);
        if (rc)
            return rc;
    }
    a->out->known = true;
    add(a, told, pieces, MB_M_JOINED_FROM, "pooled from its parts");
    return MB_OK;
}

/* ---- division ---- */

static int64_t given_in(const struct mb_told *told)
{
    int64_t given = 0, one;

    if (mb_value_count(mb_told_value(told, "intoQuantity"), &given))
        return given;
    MB_JSON_EACH(row, mb_told_value(told, "into"))
    {
        if (mb_value_count(mb_json_get(row, "quantity"), &one))
            given += one;
    }
    return given;
}

static void divide(struct accounting *a, const struct mb_told *told)
{
    struct mb_divided *d = &a->out->divided[a->out->divided_count++];
    const struct mb_movement *row;

    *d = (struct mb_divided){ .seq = told->entry->seq,
                              .before = a->balance,
                              .given = given_in(told) };
    mb_value_count(mb_told_value(told, "consumed"), &d->consumed);
    row = add(a, told, -d->given, MB_M_GIVEN, say(a, "divided: ", words(a, told, "purpose")));
    if (d->consumed)
        add(a, told, -d->consumed, MB_M_CONSUMED, "destroyed in dividing");
    d->has_remainder = mb_value_count(mb_told_value(told, "remainder"), &d->remainder);
    if (mb_told_is(told, "remains", "no, used up")) {
        d->has_remainder = true;
        d->remainder = 0;
    }
    if (!d->has_remainder)
        return;
    d->difference = d->before - d->given - d->consumed - d->remainder;
    if (row->counts && d->difference && a->out->known)
        add(a, told, -d->difference, MB_M_UNACCOUNTED,
            d->difference > 0 ? "not accounted for" : "more than the account held");
}

/* ---- counts and losses ---- */

static bool recounted(const struct mb_told *told, int64_t *pieces)
{
    return mb_value_count(mb_told_value(told, "recount"), pieces)
           || (mb_told_is(told, "what", "pieces")
               && mb_value_count(mb_told_value(told, "value"), pieces));
}

static void recount(struct accounting *a, const struct mb_told *told, int64_t pieces)
{
    struct mb_days days = mb_told_days_or(told);
    int64_t then = 0; /* what the account says of that day */

    for (size_t i = 0; i < a->out->count; i++) {
        const struct mb_movement *row = &a->out->rows[i];

        if (row->counts && row->days.first <= days.last)
            then += row->change;
    }
    a->out->known = true;
    add(a, told, pieces - then, MB_M_RECOUNT, "counted again");
}

static void lose(struct accounting *a, const struct mb_told *told)
{
    bool back = mb_told_is(told, "nature", "recovered");
    int64_t pieces;

    if (mb_value_count(mb_told_value(told, "quantity"), &pieces))
        add(a, told, back ? pieces : -pieces, back ? MB_M_RECOVERED : MB_M_LOST,
            say(a, "", words(a, told, "nature")));
}

static enum mb_rc take(struct accounting *a, const struct mb_told *told)
{
    struct mb_str kind = told->entry->kind;
    int64_t pieces;

    if (mb_str_is(kind, "collecting"))
        come(a, told, MB_M_FOUND, "found");
    else if (mb_str_is(kind, "arrival"))
        come(a, told, MB_M_CAME_IN, "came in");
    else if (mb_told_came_out(told))
        come(a, told, MB_M_CAME_OUT, say(a, "came out of ", mb_told_ref(told, "parent")));
    else if (mb_str_is(kind, "division"))
        divide(a, told);
    else if (mb_str_is(kind, "joining"))
        return join(a, told);
    else if (mb_str_is(kind, "loss"))
        lose(a, told);
    else if (mb_str_is(kind, "measurement") && recounted(told, &pieces))
        recount(a, told, pieces);
    else if (mb_str_is(kind, "making") && !a->out->known) {
        a->out->known = true;
        add(a, told, 1, MB_M_MADE, "made here");
    }
    return MB_OK;
}

/* ---- the sum ---- */

static void sum_up(struct mb_account *out)
{
    out->emptied = -1;
    for (size_t i = 0; i < out->count; i++) {
        const struct mb_movement *row = &out->rows[i];

        if (!row->counts)
            continue;
        if (row->how <= MB_M_CAME_BACK)
            out->in += row->change;
        else if (row->how < MB_M_RECOUNT)
            out->out -= row->change;
        else
            out->counted += row->change;
        if (row->balance != 0)
            out->emptied = -1;
        else if (out->emptied < 0)
            out->emptied = (ptrdiff_t)i;
    }
    out->now = out->in - out->out + out->counted;
}

static enum mb_rc account_of(mb_log *log, const struct mb_tale *tale, int64_t limit,
                             int64_t before, int *chains, struct mb_account *out,
                             struct mb_error *err)
{
    struct accounting a = { log, tale, out, limit, chains, 0, err };
    enum mb_rc rc = MB_OK;

    *out = (struct mb_account){ .emptied = -1 };
    out->rows = MB_ARRAY(tale->arena, ROWS_AN_ENTRY * tale->count + 1, struct mb_movement);
    out->divided = MB_ARRAY(tale->arena, tale->count + 1, struct mb_divided);
    for (size_t i = 0; i < tale->count && !rc && tale->entries[i].seq < before; i++)
        if (mb_tale_stands(tale, i, NULL))
            rc = take(&a, mb_tale_at(tale, i));
    if (!rc)
        sum_up(out);
    return rc;
}

enum mb_rc mb_account_of(mb_log *log, const struct mb_tale *tale, int64_t before,
                         struct mb_account *out, struct mb_error *err)
{
    int chains = CHAINS_MOST;

    return account_of(log, tale, before, before, &chains, out, err);
}
