/*
 * Who held a specimen and who owned it, as intervals of days.
 *
 * Transfers are taken in the order of their days. Whoever gives is believed to have had it: where
 * the record shows somebody else, that stay ends, and the giver gets one of which the beginning is
 * not known. Gaps and doubles are left as they are, for the audit to find.
 */
#include <stdlib.h>
#include <string.h>

#include "text.h"
#include "views_priv.h"

struct holding {
    const struct mb_tale *tale;
    struct mb_stay *stays;
    size_t count, room;
};

/* One thing that moves it, in the order of the days. */
struct event {
    size_t at; /* in the tale */
    int32_t day, order;
};

static int by_day(const void *a, const void *b)
{
    const struct event *x = a, *y = b;

    if (x->order != y->order)
        return x->order < y->order ? -1 : 1;
    return x->at < y->at ? -1 : x->at > y->at;
}

static struct mb_stay *open_stay(struct holding *h, struct mb_str party, struct mb_str label)
{
    struct mb_stay *stay;

    if (h->count == h->room) {
        size_t room = h->room ? 2 * h->room : 8;
        struct mb_stay *more = MB_ARRAY(h->tale->arena, room, struct mb_stay);

        if (h->count)
            memcpy(more, h->stays, h->count * sizeof *more);
        h->stays = more;
        h->room = room;
    }
    stay = &h->stays[h->count++];
    *stay = (struct mb_stay){ .party = party, .label = label, .share = 1, .whole = 1,
                              .seq_in = -1, .seq_out = -1 };
    return stay;
}

static void begin(struct mb_stay *stay, bool known, int32_t day, int64_t seq)
{
    stay->has_from = known;
    stay->from = day;
    stay->seq_in = seq;
}

static void end(struct mb_stay *stay, int32_t day, int64_t seq)
{
    stay->has_until = true;
    stay->until = day;
    stay->seq_out = seq;
}

/* The same person, as far as both sides say who it is; by the label where one does not. */
static bool is_same(const struct mb_stay *stay, struct mb_str party, struct mb_str label)
{
    if (stay->party.at && party.at)
        return mb_str_equal(stay->party, party);
    return stay->label.at && label.at && mb_str_equal(stay->label, label);
}

static struct mb_stay *open_of(struct holding *h, struct mb_str party, struct mb_str label)
{
    for (size_t i = h->count; i-- > 0;)
        if (!h->stays[i].has_until && is_same(&h->stays[i], party, label))
            return &h->stays[i];
    return NULL;
}

static bool end_all(struct holding *h, int32_t day, int64_t seq)
{
    bool any = false;

    for (size_t i = 0; i < h->count; i++)
        if (!h->stays[i].has_until) {
            end(&h->stays[i], day, seq);
            any = true;
        }
    return any;
}

static struct mb_str words(const struct holding *h, const struct mb_told *told, const char *name)
{
    const mb_json *value = mb_told_value(told, name);

    return value ? mb_words(h->tale->arena, value) : (struct mb_str){ NULL, 0 };
}

/* Of the transfers that stand, in the order of their days; how it began goes first, whatever day a
 * slip of the pen gave it. */
static struct event *events_of(const struct mb_tale *tale, bool (*wanted)(const struct mb_told *),
                               size_t *count)
{
    struct event *events = MB_ARRAY(tale->arena, tale->count + 1, struct event);

    *count = 0;
    for (size_t i = 0; i < tale->count; i++) {
        const struct mb_told *told = mb_tale_at(tale, i);
        int32_t day;

        if (told->voided_by >= 0 || !wanted(told))
            continue;
        day = mb_told_days_or(told).first;
        events[*count] =
            (struct event){ i, day, *count == 0 && mb_told_begins(told) ? INT32_MIN : day };
        ++*count;
    }
    qsort(events, *count, sizeof *events, by_day);
    return events;
}

/* ---- holders ---- */

static bool moves(const struct mb_told *told)
{
    return mb_str_is(told->entry->kind, "custody") || mb_told_begins(told);
}

/* The giver stops having it; true if the record had it there. */
static bool give(struct holding *h, struct mb_str party, struct mb_str label, int32_t day,
                 int64_t seq)
{
    struct mb_stay *stay = open_of(h, party, label);
    bool held = stay != NULL;

    end_all(h, day, seq);
    if (!held && (party.at || label.at)) {
        stay = open_stay(h, party, label);
        end(stay, day, seq);
    }
    return held;
}

static bool hand_over(struct holding *h, const struct mb_told *told, int32_t day)
{
    struct mb_str to = mb_told_ref(told, "to");
    struct mb_days received;
    int64_t seq = told->entry->seq;
    bool held =
        give(h, mb_told_ref(told, "from"), words(h, told, "fromLabel"), day, seq);

    if (!mb_value_days(mb_told_value(told, "received"), &received))
        received.first = day;
    begin(open_stay(h, to, words(h, told, "toLabel")), true, received.first, seq);
    return held;
}

/* Found, came in, came out of another, made: it is with us. */
static bool come_to_us(struct holding *h, const struct mb_told *told, int32_t day)
{
    struct mb_str us = MB_STR("us"), nobody = { NULL, 0 };
    int64_t seq = told->entry->seq;
    bool held = true;

    if (mb_str_is(told->entry->kind, "arrival"))
        held = give(h, mb_told_ref(told, "receivedFrom"), words(h, told, "fromLabel"), day, seq);
    else if (open_of(h, nobody, us))
        return true;
    else
        end_all(h, day, seq);
    begin(open_stay(h, nobody, us), true, day, seq);
    return held;
}

static void holders_of(const struct mb_tale *tale, const struct mb_account *account,
                       struct mb_held *out)
{
    struct holding h = { .tale = tale };
    size_t count;
    struct event *events = events_of(tale, moves, &count);

    for (size_t i = 0; i < count; i++) {
        const struct mb_told *told = mb_tale_at(tale, events[i].at);

        if (mb_str_is(told->entry->kind, "custody"))
            out->giver[events[i].at] = hand_over(&h, told, events[i].day);
        else
            come_to_us(&h, told, events[i].day);
    }
    if (account->emptied >= 0)
        end_all(&h, account->rows[account->emptied].days.first,
                account->rows[account->emptied].seq);
    out->holders = h.stays;
    out->holder_count = h.count;
}

/* ---- owners ---- */

static bool passes(const struct mb_told *told)
{
    return mb_str_is(told->entry->kind, "title");
}

static int64_t gcd(int64_t a, int64_t b)
{
    while (b) {
        int64_t rest = a % b;

        a = b;
        b = rest;
    }
    return a;
}

static bool read_whole(struct mb_str text, int64_t *out)
{
    *out = 0;
    for (size_t i = 0; i < text.len; i++) {
        if (text.at[i] < '0' || text.at[i] > '9')
            return false;
        *out = *out * 10 + (text.at[i] - '0');
    }
    return text.len > 0 && text.len <= 6 && *out > 0;
}

/* "1/2"; anything else is the whole. */
static void share_of(const mb_json *value, int64_t *share, int64_t *whole)
{
    struct mb_str above, below;

    if (!mb_json_is(value, MB_JSON_STRING) || !mb_str_cut(value->text, '/', &above, &below)
        || !read_whole(above, share) || !read_whole(below, whole))
        *share = *whole = 1;
}

/* What is left of a stay's share, in lowest terms: *rest is 0 if nothing is. False if it had less.
 * Shares are of six digits at most when they come in; a rest that would not fit counts as
 * nothing. */
static bool take_share(const struct mb_stay *from, int64_t share, int64_t whole, int64_t *rest,
                       int64_t *of)
{
    int64_t a, b, c, common;

    *rest = 0;
    if (__builtin_mul_overflow(from->share, whole, &a)
        || __builtin_mul_overflow(share, from->whole, &b)
        || __builtin_mul_overflow(from->whole, whole, &c))
        return true;
    if (a <= b)
        return a == b;
    common = gcd(a - b, c);
    *rest = (a - b) / common;
    *of = c / common;
    return true;
}

/* A part of it passes: the giver keeps the rest. */
static bool pass_part(struct holding *h, struct mb_str party, struct mb_str label, int64_t share,
                      int64_t whole, int32_t day, int64_t seq)
{
    struct mb_stay *stay = open_of(h, party, label), *rest;
    int64_t left, of;
    bool enough;

    if (!stay) {
        stay = open_stay(h, party, label);
        stay->share = share;
        stay->whole = whole;
        end(stay, day, seq);
        return false;
    }
    end(stay, day, seq);
    enough = take_share(stay, share, whole, &left, &of);
    if (left) {
        rest = open_stay(h, party, label);
        rest->share = left;
        rest->whole = of;
        begin(rest, true, day, seq);
    }
    return enough;
}

static bool pass(struct holding *h, const struct mb_told *told, int32_t day)
{
    struct mb_str from = mb_told_ref(told, "from"), label = words(h, told, "fromLabel");
    int64_t seq = told->entry->seq, share, whole;
    struct mb_stay *taker;
    bool owned;

    share_of(mb_told_value(told, "part"), &share, &whole);
    if (!from.at && (mb_str_is(label, "nobody before") || !label.at)) {
        owned = !h->count || !end_all(h, day, seq);
    } else if (share == whole) {
        owned = give(h, from, label, day, seq);
    } else {
        owned = pass_part(h, from, label, share, whole, day, seq);
    }
    taker = open_stay(h, mb_told_ref(told, "to"), words(h, told, "toLabel"));
    taker->share = share;
    taker->whole = whole;
    begin(taker, true, day, seq);
    return owned;
}

/* Whoever the first arrival says it belongs to. */
static void first_owner(struct holding *h)
{
    for (size_t i = 0; i < h->tale->count; i++) {
        const struct mb_told *told = mb_tale_at(h->tale, i);
        struct mb_str owner;

        if (!mb_tale_stands(h->tale, i, "arrival") || !mb_told_value(told, "owner"))
            continue;
        owner = mb_told_ref(told, "owner");
        if (!owner.at)
            open_stay(h, owner, MB_STR("not known"))->seq_in = told->entry->seq;
        else if (mb_str_equal(owner, mb_told_ref(told, "receivedFrom")))
            open_stay(h, owner, words(h, told, "fromLabel"))->seq_in = told->entry->seq;
        else
            open_stay(h, owner, (struct mb_str){ NULL, 0 })->seq_in = told->entry->seq;
        return;
    }
}

static void owners_of(const struct mb_tale *tale, struct mb_held *out)
{
    struct holding h = { .tale = tale };
    size_t count;
    struct event *events = events_of(tale, passes, &count);

    first_owner(&h);
    for (size_t i = 0; i < count; i++)
        out->giver[events[i].at] = pass(&h, mb_tale_at(tale, events[i].at), events[i].day);
    out->owners = h.stays;
    out->owner_count = h.count;
}

void mb_held_of(const struct mb_tale *tale, const struct mb_account *account, struct mb_held *out)
{
    *out = (struct mb_held){ 0 };
    out->giver = mb_arena_get(tale->arena, tale->count + 1);
    memset(out->giver, -1, tale->count + 1);
    holders_of(tale, account, out);
    owners_of(tale, out);
}

const char *mb_stay_part(mb_arena *arena, const struct mb_stay *stay)
{
    return stay->share == stay->whole
               ? "all"
               : mb_arena_printf(arena, "%lld/%lld", (long long)stay->share,
                                 (long long)stay->whole);
}
