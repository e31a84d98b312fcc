/* v_link: how pieces hang together, as each of them tells it. */
#include <string.h>

#include "text.h"
#include "views_priv.h"

struct link {
    int64_t n;
    struct mb_str parent, child, relation, form, note;
    const char *how;
    const mb_json *quantity, *other; /* other: {"entry":...} on the other one's chain */
};

/* Where the entry stands that another chain is named by: mostly the newest one of that chain that
 * was there when this one was recorded, so that is looked at first. */
static int64_t seq_of(struct mb_views_run *run, struct mb_str sub, const mb_json *entry,
                      int64_t below)
{
    struct mb_hash leaf, newest;
    int64_t seq = -1, nth;
    enum mb_rc rc;

    if (!sub.at
        || !mb_b64u_read_exact(mb_json_str(mb_json_get(entry, "entry")), leaf.b, sizeof leaf.b))
        return -1;
    rc = mb_log_head(run->log, run->arena, sub, below, &seq, &nth, NULL, run->err);
    if (!rc)
        rc = mb_log_leaf(run->log, seq, &newest, run->err);
    if (!rc && mb_hash_equal(&newest, &leaf))
        return seq;
    if (!rc)
        rc = mb_log_find_leaf(run->log, run->arena, sub, &leaf, &seq, run->err);
    if (rc == MB_NO || mb_run_failed(run, rc) || seq >= below)
        return -1;
    return seq;
}

static void put_link(struct mb_views_run *run, const struct mb_tale *tale,
                     const struct mb_told *told, const struct link *link)
{
    int64_t quantity = 0;
    bool known = mb_value_count(link->quantity, &quantity);
    bool up = link->child.at && mb_str_equal(link->child, tale->sub);
    int64_t other = -1;

    if (link->other)
        other = seq_of(run, up ? link->parent : link->child, link->other, told->entry->seq);
    mb_put(run, V_LINK_PUT);
    mb_put_int(run, told->entry->seq);
    mb_put_int(run, link->n);
    mb_put_text(run, tale->sub);
    mb_put_text(run, link->parent);
    mb_put_text(run, link->child);
    mb_put_word(run, link->how);
    mb_put_text(run, link->relation);
    mb_put_if(run, known, quantity);
    mb_put_text(run, link->form);
    mb_put_text(run, link->note);
    mb_put_seq(run, other);
    mb_put_end(run);
}

static struct mb_str ref_or_words(struct mb_views_run *run, const mb_json *value)
{
    return mb_ref_of(value).at ? mb_ref_of(value) : mb_words(run->arena, value);
}

static void link_division(struct mb_views_run *run, const struct mb_tale *tale,
                          const struct mb_told *told)
{
    int64_t n = 0;

    MB_JSON_EACH(row, mb_told_value(told, "into"))
    {
        struct link link = {
            .n = n++,
            .parent = tale->sub,
            .child = mb_ref_of(mb_json_get(row, "specimen")),
            .how = "division",
            .relation = mb_told_words(run->arena, told, "purpose"),
            .form = mb_words(run->arena, mb_json_get(row, "form")),
            .note = mb_words(run->arena, mb_json_get(row, "what")),
            .quantity = mb_json_get(row, "quantity"),
        };

        put_link(run, tale, told, &link);
    }
}

static void link_joining(struct mb_views_run *run, const struct mb_tale *tale,
                         const struct mb_told *told)
{
    struct link link = { .relation = mb_told_words(run->arena, told, "why") };

    if (mb_told_is(told, "side", "part")) {
        link.parent = tale->sub;
        link.child = mb_told_ref(told, "whole");
        link.how = "joined";
        link.other = mb_told_value(told, "joins");
        put_link(run, tale, told, &link);
        return;
    }
    MB_JSON_EACH(part, mb_told_value(told, "parts"))
    {
        link.parent = ref_or_words(run, part);
        link.child = tale->sub;
        link.how = "joining";
        put_link(run, tale, told, &link);
        link.n++;
    }
}

static void link_one(struct mb_views_run *run, const struct mb_tale *tale,
                     const struct mb_told *told)
{
    struct mb_str kind = told->entry->kind;
    struct link link = { .child = tale->sub };

    if (mb_told_came_out(told)) {
        const mb_json *out_of = mb_told_value(told, "outOf");

        link.parent = mb_told_ref(told, "parent");
        link.how = "came out";
        link.relation = mb_told_words(run->arena, told, "purpose");
        link.quantity = mb_told_value(told, "objectQuantity");
        link.form = mb_told_words(run->arena, told, "objectForm");
        link.other = out_of ? out_of : mb_told_value(told, "cameFrom");
    } else if (mb_str_is(kind, "making")) {
        link.parent = ref_or_words(run, mb_told_value(told, "takenFrom"));
        link.how = "making";
        link.relation = mb_told_words(run->arena, told, "what");
    } else {
        link.parent = tale->sub;
        link.child = ref_or_words(run, mb_told_value(told, "other"));
        link.how = "relation";
        link.relation = mb_told_words(run->arena, told, "relation");
        link.note = mb_told_words(run->arena, told, "basis");
    }
    put_link(run, tale, told, &link);
}

void mb_links_put(struct mb_views_run *run, const struct mb_tale *tale)
{
    for (size_t i = 0; i < tale->count && !run->rc; i++) {
        const struct mb_told *told = mb_tale_at(tale, i);
        struct mb_str kind = told->entry->kind;

        if (told->voided_by >= 0)
            continue;
        if (mb_str_is(kind, "joining"))
            link_joining(run, tale, told);
        else if (mb_str_is(kind, "division") && !mb_told_came_out(told))
            link_division(run, tale, told);
        else if (mb_told_came_out(told) || mb_str_is(kind, "making")
                 || mb_str_is(kind, "relation"))
            link_one(run, tale, told);
    }
}
