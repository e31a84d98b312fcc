/* v_specimen, v_quantity, v_division, v_holder and v_owner of one specimen. */
#include <string.h>

#include "text.h"
#include "views_priv.h"

/* What a piece knows of itself, or took over from what it came out of. */
struct facts {
    struct mb_str what, material_class, site, horizon, permission, field_day, event_date,
        recorded_by;
};

enum { FACTS = sizeof(struct facts) / sizeof(struct mb_str) };

static struct mb_str *fact(struct facts *facts, size_t at)
{
    return (struct mb_str *)facts + at;
}

static const struct mb_str nothing = { NULL, 0 };

/* ---- what it came out of ---- */

/* The facts of another specimen as replayed, if it began before this one did. */
static bool facts_of(struct mb_views_run *run, struct mb_str sub, int64_t first_seq,
                     struct facts *out)
{
    mb_stmt *stmt = mb_run_stmt(run, V_SPECIMEN_FACTS);
    bool found = false;

    *out = (struct facts){ .what = nothing };
    if (!stmt || !sub.at)
        return false;
    mb_bind_text(stmt, 1, sub);
    if (mb_run_row(run, stmt)) {
        found = mb_col_int(stmt, 0) < first_seq;
        for (int i = 0; i < FACTS && found; i++)
            if (mb_col_type(stmt, i + 1) == MB_COL_TEXT)
                *fact(out, (size_t)i) = mb_arena_str(run->arena, mb_col_text(stmt, i + 1));
        mb_stmt_reset(stmt);
    }
    return found;
}

static bool same(struct mb_str a, struct mb_str b)
{
    return a.at && b.at && mb_str_equal(a, b);
}

/* Of parts that were joined, what all of them have in common. */
static void common_facts(struct mb_views_run *run, const mb_json *parts, int64_t first_seq,
                         struct facts *out)
{
    bool first = true;

    MB_JSON_EACH(part, parts)
    {
        struct facts one;

        facts_of(run, mb_ref_of(part), first_seq, &one);
        if (first)
            *out = one;
        for (size_t i = 0; i < FACTS; i++)
            if (!same(*fact(out, i), *fact(&one, i)))
                *fact(out, i) = nothing;
        first = false;
    }
}

/* ---- its own word ---- */

static const struct mb_told *beginning(const struct mb_tale *tale)
{
    for (size_t i = 0; i < tale->count; i++)
        if (mb_tale_stands(tale, i, NULL) && mb_told_begins(mb_tale_at(tale, i)))
            return mb_tale_at(tale, i);
    return NULL;
}

/* The first value of a field among the standing entries that begin something. */
static struct mb_str begun_words(const struct mb_tale *tale, const char *name)
{
    for (size_t i = 0; i < tale->count; i++) {
        const mb_json *value;

        if (!mb_tale_stands(tale, i, NULL) || !mb_told_begins(mb_tale_at(tale, i)))
            continue;
        value = mb_told_value(mb_tale_at(tale, i), name);
        if (value)
            return mb_words(tale->arena, value);
    }
    return nothing;
}

/* The newest identification that is accepted; the newest of all if none is. */
static const struct mb_told *identified(const struct mb_tale *tale)
{
    const struct mb_told *newest = NULL;

    for (size_t i = tale->count; i-- > 0;) {
        const struct mb_told *told = mb_tale_at(tale, i);

        if (!mb_tale_stands(tale, i, "identification"))
            continue;
        if (!mb_told_is(told, "isAcceptedIdentification", "no"))
            return told;
        newest = newest ? newest : told;
    }
    return newest;
}

static struct mb_str said(const struct mb_tale *tale, const struct mb_told *told, const char *name)
{
    const mb_json *value = told ? mb_told_value(told, name) : NULL;

    return !value || mb_value_is_answer(value) ? nothing : mb_words(tale->arena, value);
}

/* In few words: the name, then the group, then what people called it. */
static struct mb_str in_few_words(const struct mb_tale *tale, const struct mb_told *name)
{
    static const char *const begun[] = { "verbatimIdentification", "statedIdentification",
                                         "what" };
    struct mb_str group = said(tale, name, "vernacularName");
    struct mb_str taxon = said(tale, name, "scientificName");
    struct mb_str own = said(tale, name, "verbatimIdentification");

    if (group.at && taxon.at)
        return mb_str_of(mb_arena_printf(tale->arena, "%.*s (%.*s)", MB_STR_ARG(group),
                                         MB_STR_ARG(taxon)));
    if (group.at || taxon.at || own.at)
        return group.at ? group : taxon.at ? taxon : own;
    for (size_t i = 0; i < sizeof begun / sizeof *begun; i++) {
        const struct mb_told *first = beginning(tale);

        own = said(tale, first, begun[i]);
        if (own.at)
            return own;
    }
    return nothing;
}

static void own_facts(const struct mb_tale *tale, struct facts *out)
{
    struct mb_str stated = begun_words(tale, "statedSite");

    *out = (struct facts){
        .what = in_few_words(tale, identified(tale)),
        .material_class = begun_words(tale, "materialClass"),
        .site = begun_words(tale, "site"),
        .horizon = begun_words(tale, "horizon"),
        .permission = begun_words(tale, "permission"),
        .field_day = begun_words(tale, "fieldDay"),
        .event_date = begun_words(tale, "eventDate"),
        .recorded_by = begun_words(tale, "recordedBy"),
    };
    if (!out->site.at)
        out->site = stated;
}

static void all_facts(struct mb_views_run *run, const struct mb_tale *tale,
                      const struct mb_told *first, struct facts *out)
{
    struct facts from = { .what = nothing };
    int64_t first_seq = tale->entries[0].seq;

    own_facts(tale, out);
    if (first && mb_told_came_out(first))
        facts_of(run, mb_told_ref(first, "parent"), first_seq, &from);
    else if (first && mb_str_is(first->entry->kind, "joining"))
        common_facts(run, mb_told_value(first, "parts"), first_seq, &from);
    for (size_t i = 0; i < FACTS; i++)
        if (!fact(out, i)->at)
            *fact(out, i) = *fact(&from, i);
}

/* ---- state ---- */

static const struct mb_stay *last_open(const struct mb_stay *stays, size_t count)
{
    for (size_t i = count; i-- > 0;)
        if (!stays[i].has_until)
            return &stays[i];
    return NULL;
}

static const char *emptied_as(const struct mb_account *account)
{
    const struct mb_movement *row = &account->rows[account->emptied];

    switch (row->how) {
    case MB_M_LOST:
        return row->why;
    case MB_M_JOINED_INTO:
        return "joined into another";
    case MB_M_GIVEN:
    case MB_M_CONSUMED:
    case MB_M_UNACCOUNTED:
        return "divided up";
    default:
        return "nothing left";
    }
}

static const char *status_of(const struct mb_told *first, const struct mb_account *account,
                             const struct mb_held *held)
{
    const struct mb_stay *holder = last_open(held->holders, held->holder_count);

    if (!first)
        return "struck out";
    if (account->known && account->emptied >= 0)
        return emptied_as(account);
    if (!holder)
        return "not known";
    return mb_str_is(holder->label, "us") ? "with us" : "with others";
}

static void put_stay(struct mb_views_run *run, const struct mb_stay *stay)
{
    mb_put_text(run, stay ? stay->party : nothing);
    mb_put_text(run, stay ? stay->label : nothing);
}

static size_t count_of(const struct mb_tale *tale, const char *kind)
{
    size_t count = 0;

    for (size_t i = 0; i < tale->count; i++)
        count += mb_tale_stands(tale, i, kind);
    return count;
}

static void put_pieces(struct mb_views_run *run, const struct mb_account *account)
{
    mb_put_if(run, account->known, account->in);
    mb_put_if(run, account->known, account->out);
    mb_put_if(run, account->known, account->counted);
    mb_put_if(run, account->known, account->now);
    mb_put_if(run, account->known, account->lowest);
    mb_put_int(run, account->known && account->lowest < 0);
}

static void put_specimen(struct mb_views_run *run, const struct mb_tale *tale,
                         const struct mb_told *first, struct facts *facts,
                         const struct mb_account *account, const struct mb_held *held)
{
    static const char *const of_name[] = { "whatItIs", "vernacularName", "scientificName" };
    const struct mb_told *name = identified(tale);
    const struct mb_told *condition = mb_tale_newest(tale, "condition");
    struct mb_days days = { 0, 0 };
    bool dated = facts->event_date.at && mb_days_read(facts->event_date, &days);

    mb_put(run, V_SPECIMEN_PUT);
    mb_put_text(run, tale->sub);
    mb_put_text(run, tale->id);
    mb_put_int(run, tale->entries[0].seq);
    mb_put_text(run, first ? first->entry->kind : nothing);
    mb_put_text(run, facts->what);
    mb_put_text(run, begun_words(tale, "objectForm"));
    mb_put_text(run, facts->material_class);
    for (size_t i = 0; i < sizeof of_name / sizeof *of_name; i++)
        mb_put_text(run, said(tale, name, of_name[i]));
    mb_put_text(run, begun_words(tale, "verbatimIdentification"));
    mb_put_text(run, said(tale, name, "preservation"));
    mb_put_text(run, said(tale, name, "typeStatus"));
    mb_put_text(run, first ? mb_told_ref(first, "parent") : nothing);
    mb_put_text(run, facts->site);
    mb_put_text(run, facts->horizon);
    mb_put_text(run, facts->permission);
    mb_put_text(run, facts->field_day);
    mb_put_text(run, facts->event_date);
    mb_put_if(run, dated, days.first);
    mb_put_if(run, dated, days.last);
    mb_put_text(run, facts->recorded_by);
    put_pieces(run, account);
    mb_put_text(run, begun_words(tale, "quantityHow"));
    put_stay(run, last_open(held->holders, held->holder_count));
    put_stay(run, last_open(held->owners, held->owner_count));
    mb_put_word(run, status_of(first, account, held));
    mb_put_seq(run, condition ? condition->entry->seq : -1);
    mb_put_int(run, (int64_t)count_of(tale, "certificate"));
    mb_put_end(run);
}

/* ---- pieces ---- */

static void put_account(struct mb_views_run *run, const struct mb_tale *tale,
                        const struct mb_account *account)
{
    for (size_t i = 0; i < account->count; i++) {
        const struct mb_movement *row = &account->rows[i];

        mb_put(run, V_QUANTITY_PUT);
        mb_put_text(run, tale->sub);
        mb_put_int(run, row->seq);
        mb_put_int(run, row->n);
        mb_put_int(run, row->days.first);
        mb_put_int(run, row->change);
        mb_put_int(run, row->counts);
        mb_put_int(run, row->balance);
        mb_put_word(run, row->why);
        mb_put_end(run);
    }
}

static const struct mb_told *told_of(const struct mb_tale *tale, int64_t seq)
{
    size_t i = 0;

    while (tale->entries[i].seq != seq)
        i++;
    return mb_tale_at(tale, i);
}

static void put_divisions(struct mb_views_run *run, const struct mb_tale *tale,
                          const struct mb_account *account)
{
    for (size_t i = 0; i < account->divided_count; i++) {
        const struct mb_divided *d = &account->divided[i];
        const struct mb_told *told = told_of(tale, d->seq);

        mb_put(run, V_DIVISION_PUT);
        mb_put_int(run, d->seq);
        mb_put_text(run, tale->sub);
        mb_put_text(run, mb_told_words(run->arena, told, "date"));
        mb_put_int(run, mb_told_days_or(told).first);
        mb_put_text(run, mb_told_words(run->arena, told, "purpose"));
        mb_put_text(run, mb_told_words(run->arena, told, "remains"));
        mb_put_text(run, mb_told_words(run->arena, told, "consent"));
        mb_put_if(run, account->known, d->before);
        mb_put_int(run, d->given);
        mb_put_int(run, d->consumed);
        mb_put_if(run, d->has_remainder, d->remainder);
        mb_put_if(run, account->known && d->has_remainder, d->difference);
        mb_put_end(run);
    }
}

/* ---- stays ---- */

static void put_stays(struct mb_views_run *run, const struct mb_tale *tale,
                      const struct mb_stay *stays, size_t count, bool owners)
{
    for (size_t i = 0; i < count; i++) {
        mb_put(run, owners ? V_OWNER_PUT : V_HOLDER_PUT);
        mb_put_text(run, tale->sub);
        mb_put_int(run, (int64_t)i);
        put_stay(run, &stays[i]);
        if (owners)
            mb_put_word(run, mb_stay_part(run->arena, &stays[i]));
        mb_put_if(run, stays[i].has_from, stays[i].from);
        mb_put_if(run, stays[i].has_until, stays[i].until);
        mb_put_seq(run, stays[i].seq_in);
        mb_put_seq(run, stays[i].seq_out);
        mb_put_end(run);
    }
}

struct mb_str mb_specimen_put(struct mb_views_run *run, const struct mb_tale *tale,
                              const struct mb_account *account, const struct mb_held *held)
{
    const struct mb_told *first = beginning(tale);
    struct facts facts;

    all_facts(run, tale, first, &facts);
    put_specimen(run, tale, first, &facts, account, held);
    put_account(run, tale, account);
    put_divisions(run, tale, account);
    mb_links_put(run, tale);
    put_stays(run, tale, held->holders, held->holder_count, false);
    put_stays(run, tale, held->owners, held->owner_count, true);
    return facts.what;
}

void mb_specimen_drop(struct mb_views_run *run, const struct mb_tale *tale)
{
    mb_drop(run, V_SPECIMEN_DROP, tale->sub);
    mb_drop(run, V_QUANTITY_DROP, tale->sub);
    mb_drop(run, V_HOLDER_DROP, tale->sub);
    mb_drop(run, V_OWNER_DROP, tale->sub);
    for (size_t i = 0; i < tale->count; i++) {
        mb_drop_seq(run, V_DIVISION_DROP, tale->entries[i].seq);
        mb_drop_seq(run, V_LINK_DROP, tale->entries[i].seq);
    }
}

struct mb_str mb_specimen_handed_on(struct mb_views_run *run, struct mb_str sub)
{
    mb_stmt *stmt = mb_run_stmt(run, V_HANDED_ON);
    struct mb_str text = nothing;

    if (!stmt)
        return text;
    mb_bind_text(stmt, 1, sub);
    if (mb_run_row(run, stmt)) {
        text = mb_arena_str(run->arena, mb_col_text(stmt, 0));
        mb_stmt_reset(stmt);
    }
    return text;
}
