/* What every subject and entry has: v_subject, v_entry, v_field, v_correction, v_change, v_mention,
 * v_search, v_key. */
#include <string.h>

#include "text.h"
#include "views_priv.h"

enum { SEARCH_MOST = 1 << 20, WORD_MOST = 40, LABELS_KEPT = 20000 };

/* ---- labels ---- */

static size_t slot_of(struct mb_str sub)
{
    uint32_t hash = 2166136261u;

    for (size_t i = 0; i < sub.len; i++)
        hash = (hash ^ (unsigned char)sub.at[i]) * 16777619u;
    return hash % MB_VIEW_NAMES;
}

struct mb_str mb_run_label(struct mb_views_run *run, struct mb_str sub)
{
    struct mb_view_name *kept = &run->names[slot_of(sub)];
    mb_stmt *stmt;

    if (kept->sub.at && mb_str_equal(kept->sub, sub))
        return kept->label;
    stmt = mb_run_stmt(run, V_SUBJECT_GET);
    kept->sub = mb_arena_str(run->names_arena, sub);
    kept->label = (struct mb_str){ NULL, 0 };
    if (!stmt)
        return kept->label;
    mb_bind_text(stmt, 1, sub);
    if (mb_run_row(run, stmt)) {
        if (mb_col_type(stmt, 2) == MB_COL_TEXT)
            kept->label = mb_arena_str(run->names_arena, mb_col_text(stmt, 2));
        mb_stmt_reset(stmt);
    }
    return kept->label;
}

/* Only people are called by name in sentences: what a place is called may be nobody's business, and
 * its number says nothing. */
static struct mb_str name_of(void *ctx, struct mb_str ref)
{
    return mb_str_starts(ref, "party/") ? mb_run_label(ctx, ref) : (struct mb_str){ NULL, 0 };
}

/* ---- fields ---- */

struct telling {
    struct mb_views_run *run;
    const struct mb_tale *tale;
    const struct mb_told *told;
    struct mb_buf *words; /* for the search, NULL where the entry is not to be found */
};

static bool says_it_all(const mb_json *value)
{
    switch (value->type) {
    case MB_JSON_STRING:
    case MB_JSON_INTEGER:
        return true;
    case MB_JSON_OBJECT:
        return value->count == 1
               && (mb_str_is(value->first->name, "ref") || mb_str_is(value->first->name, "entry"));
    default:
        return false;
    }
}

static bool is_searched(struct mb_str name)
{
    static const char *const not[] = { "jwk",  "jws",   "checkpointKey", "statement", "held",
                                       "shown", "derivation", "digests", "withheld" };

    for (size_t i = 0; i < sizeof not / sizeof *not; i++)
        if (mb_str_is(name, not[i]))
            return false;
    return true;
}

/* Hashes are found by whole tables, not by words. */
static void add_search(struct mb_buf *buf, const mb_json *value)
{
    if (value->type == MB_JSON_ARRAY || value->type == MB_JSON_OBJECT) {
        if (mb_json_get(value, "coordinates"))
            return;
        MB_JSON_EACH(child, value)
        {
            add_search(buf, child);
        }
        return;
    }
    if (value->type == MB_JSON_INTEGER) {
        mb_buf_printf(buf, "%lld ", (long long)value->integer);
        return;
    }
    if ((value->type != MB_JSON_STRING && value->type != MB_JSON_NUMBER)
        || (value->text.len >= WORD_MOST && !memchr(value->text.at, ' ', value->text.len)))
        return;
    mb_buf_add_str(buf, value->text);
    mb_buf_add_char(buf, '\n');
}

static void put_field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in,
                      int64_t from)
{
    const struct telling *t = ctx;
    struct mb_views_run *run = t->run;
    int64_t seq = t->told->entry->seq;

    mb_put(run, V_FIELD_PUT);
    mb_put_int(run, seq);
    mb_put_text(run, name);
    mb_put_text(run, mb_words(run->arena, value));
    if (says_it_all(value))
        mb_put_null(run);
    else
        mb_put_text(run, mb_json_write(run->arena, value));
    mb_put_word(run, mb_class_name[in]);
    mb_put_int(run, from);
    mb_put_int(run, from != seq);
    mb_put_end(run);
    if (t->words && is_searched(name))
        add_search(t->words, value);
}

/* ---- corrections ---- */

static void put_change(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct telling *t = ctx;
    struct mb_views_run *run = t->run;
    ptrdiff_t at = mb_tale_find(t->tale, mb_told_value(t->told, "target"));
    const struct mb_told *target = at < 0 ? NULL : mb_tale_at(t->tale, (size_t)at);
    const struct mb_replacement *r = target ? target->changes : NULL;
    struct mb_str before = { NULL, 0 };

    (void)in;
    if (!target || mb_correction_own(name))
        return;
    while (r && (r->seq != t->told->entry->seq || !mb_str_equal(r->name, name)))
        r = r->next;
    if (r) {
        const struct mb_replacement *older = r->next;

        while (older && !mb_str_equal(older->name, name))
            older = older->next;
        before = older ? mb_words(run->arena, older->value)
                       : mb_words(run->arena,
                                  mb_entry_field(target->entry,
                                                 mb_arena_copy(run->arena, name.at, name.len),
                                                 NULL));
    }
    mb_put(run, V_CHANGE_PUT);
    mb_put_int(run, t->told->entry->seq);
    mb_put_text(run, name);
    mb_put_int(run, target->entry->seq);
    mb_put_text(run, before);
    mb_put_text(run, mb_words(run->arena, value));
    mb_put_int(run, r != NULL);
    mb_put_end(run);
}

static void put_correction(struct telling *t)
{
    struct mb_views_run *run = t->run;
    const struct mb_told *told = t->told;

    mb_put(run, V_CORRECTION_PUT);
    mb_put_int(run, told->entry->seq);
    mb_put_text(run, t->tale->sub);
    mb_put_seq(run, mb_tale_about(t->tale, told));
    mb_put_text(run, mb_told_words(run->arena, told, "action"));
    mb_put_text(run, mb_told_words(run->arena, told, "why"));
    mb_put_text(run, mb_told_words(run->arena, told, "changesFacts"));
    mb_put_text(run, mb_told_words(run->arena, told, "movedTo"));
    mb_put_int(run, told->voided_by < 0);
    mb_put_end(run);
    mb_entry_fields(told->entry, put_change, t);
}

/* ---- entries ---- */

/* Whose key it is, if it was enrolled before. The row's text lives in the run's arena. */
static struct mb_str signer_of(struct mb_views_run *run, const struct mb_entry *entry)
{
    mb_stmt *stmt = mb_run_stmt(run, V_KEY_GET);
    struct mb_str holder = { NULL, 0 };

    if (!stmt)
        return holder;
    mb_bind_text(stmt, 1, entry->kid);
    if (mb_run_row(run, stmt)) {
        if (mb_col_type(stmt, 0) == MB_COL_TEXT && mb_col_int(stmt, 1) < entry->seq)
            holder = mb_arena_str(run->arena, mb_col_text(stmt, 0));
        mb_stmt_reset(stmt);
    }
    return holder;
}

static void put_entry(struct telling *t)
{
    struct mb_views_run *run = t->run;
    const struct mb_entry *entry = t->told->entry;
    struct mb_naming naming = { name_of, run };
    const char *field = mb_event_field(entry->kind);
    struct mb_str signer = signer_of(run, entry);
    struct mb_str line =
        mb_sentence(run->arena, t->told, mb_tale_about(t->tale, t->told), &naming);
    struct mb_days days;
    bool dated = mb_told_days(t->told, &days);

    mb_put(run, V_ENTRY_PUT);
    mb_put_int(run, entry->seq);
    mb_put_text(run, t->tale->sub);
    mb_put_int(run, entry->nth);
    mb_put_text(run, entry->kind);
    mb_put_int(run, entry->iat);
    mb_put_word(run, mb_moment_write(run->arena, entry->iat));
    mb_put_int(run, mb_recorded_day(entry));
    mb_put_text(run, entry->kid);
    mb_put_text(run, signer);
    mb_put_seq(run, t->told->voided_by);
    mb_put_seq(run, t->told->changes ? t->told->changes->seq : -1);
    if (!dated)
        mb_put_null(run);
    else if (field)
        mb_put_text(run, mb_told_words(run->arena, t->told, field));
    else
        mb_put_word(run, mb_day_write(run->arena, days.first));
    mb_put_if(run, dated, dated ? days.first : 0);
    mb_put_if(run, dated, dated ? days.last : 0);
    mb_put_text(run, line);
    mb_put_end(run);
}

/* ---- mentions ---- */

struct mentioning {
    struct mb_views_run *run;
    struct mb_str sub;
    struct mb_buf *around;
    mb_json *named; /* those whose labels are in `around` */
};

static bool is_label_searched(struct mb_str ref)
{
    return mb_str_starts(ref, "party/") || mb_str_starts(ref, "site/")
           || mb_str_starts(ref, "horizon/");
}

static void mention(struct mentioning *m, struct mb_str ref)
{
    struct mb_views_run *run = m->run;

    mb_put(run, V_MENTION_PUT);
    mb_put_text(run, m->sub);
    mb_put_text(run, ref);
    mb_put_end(run);
    if (!is_label_searched(ref))
        return;
    MB_JSON_EACH(one, m->named)
    {
        if (mb_str_equal(one->text, ref))
            return;
    }
    mb_json_add(m->named, mb_json_string_str(run->arena, ref));
    mb_buf_add_str(m->around, mb_run_label(run, ref));
    mb_buf_add_char(m->around, '\n');
}

static void mention_in(struct mentioning *m, const mb_json *value)
{
    struct mb_str ref = mb_ref_of(value);

    if (ref.at)
        mention(m, ref);
    else if (value->type == MB_JSON_ARRAY || value->type == MB_JSON_OBJECT)
        MB_JSON_EACH(child, value)
        {
            mention_in(m, child);
        }
}

static void mention_field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    (void)name;
    (void)in;
    mention_in(ctx, value);
}

/* ---- the subject ---- */

static void put_search(struct mb_views_run *run, const struct mb_tale *tale, struct mb_str label,
                       const struct mb_buf *words, const struct mb_buf *around)
{
    mb_put(run, V_SEARCH_PUT);
    mb_put_int(run, tale->entries[0].seq);
    mb_put_text(run, tale->id.len ? tale->id : tale->sub);
    mb_put_text(run, label);
    mb_put_text(run, words->len ? mb_buf_str(words) : (struct mb_str){ "", 0 });
    mb_put_text(run, around->len ? mb_buf_str(around) : (struct mb_str){ "", 0 });
    mb_put_end(run);
}

void mb_entries_put(struct mb_views_run *run, const struct mb_tale *tale, struct mb_str label)
{
    MB_BUF_AUTO struct mb_buf words = { 0 };
    MB_BUF_AUTO struct mb_buf around = { 0 };
    struct mentioning m = { run, tale->sub, &around, mb_json_array(run->arena) };

    mb_buf_init(&words, SEARCH_MOST);
    mb_buf_init(&around, SEARCH_MOST);
    for (size_t i = 0; i < tale->count && !run->rc; i++) {
        struct telling t = { run, tale, mb_tale_at(tale, i), &words };

        if (t.told->voided_by >= 0)
            t.words = NULL;
        put_entry(&t);
        mb_told_fields(t.told, put_field, &t);
        if (mb_str_is(t.told->entry->kind, "correction"))
            put_correction(&t);
        if (mb_str_is(t.told->entry->kind, "erasure"))
            run->erased = true;
        mb_entry_fields(t.told->entry, mention_field, &m);
    }
    put_search(run, tale, label, &words, &around);
    mb_put(run, V_SUBJECT_PUT);
    mb_put_text(run, tale->sub);
    mb_put_text(run, tale->prefix);
    mb_put_int(run, tale->entries[0].seq);
    mb_put_int(run, tale->entries[tale->count - 1].seq);
    mb_put_int(run, (int64_t)tale->count);
    mb_put_text(run, label);
    mb_put_end(run);
}

void mb_entries_drop(struct mb_views_run *run, const struct mb_tale *tale)
{
    for (size_t i = 0; i < tale->count; i++) {
        int64_t seq = tale->entries[i].seq;

        mb_drop_seq(run, V_ENTRY_DROP, seq);
        mb_drop_seq(run, V_FIELD_DROP, seq);
        if (mb_str_is(tale->entries[i].kind, "correction")) {
            mb_drop_seq(run, V_CORRECTION_DROP, seq);
            mb_drop_seq(run, V_CHANGE_DROP, seq);
        }
    }
    mb_drop(run, V_MENTION_DROP, tale->sub);
    mb_drop_seq(run, V_SEARCH_DROP, tale->entries[0].seq);
}

/* ---- keys ---- */

static const struct mb_entry *first_of(const struct mb_tale *tale, const char *kind)
{
    for (size_t i = 0; i < tale->count; i++)
        if (mb_str_is(tale->entries[i].kind, kind))
            return &tale->entries[i];
    return NULL;
}

static void put_key(struct mb_views_run *run, struct mb_str kid, const struct mb_entry *brought,
                    const struct mb_tale *chain)
{
    const struct mb_entry *retired = first_of(chain, "key-retirement");
    bool founding = mb_str_is(brought->kind, "founding");

    mb_put(run, V_KEY_PUT);
    mb_put_text(run, kid);
    mb_put_text(run, mb_ref_of(mb_entry_open(brought, "holder")));
    if (founding)
        mb_put_word(run, "everything");
    else
        mb_put_text(run, mb_words(run->arena, mb_entry_open(brought, "may")));
    mb_put_int(run, founding);
    mb_put_int(run, brought->seq);
    mb_put_text(run, brought->kid);
    mb_put_seq(run, retired ? retired->seq : -1);
    mb_put_text(run, retired ? mb_words(run->arena, mb_entry_open(retired, "why"))
                             : (struct mb_str){ NULL, 0 });
    mb_put_seq(run, retired ? mb_json_int(mb_entry_open(retired, "suspectFrom"), -1) : -1);
    mb_put_end(run);
}

/* The founding key is brought by entry 0 on `ledger`, and may be retired on a chain of its own. */
void mb_keys_put(struct mb_views_run *run, const struct mb_tale *tale)
{
    const struct mb_entry *brought = first_of(tale, "founding");
    struct mb_entry founding;
    struct mb_tale chain;
    const char *own;

    if (brought) {
        own = mb_arena_printf(run->arena, "key/%.*s", MB_STR_ARG(brought->kid));
        if (!mb_run_failed(run, mb_tale_read(run->log, run->arena, mb_str_of(own), run->before,
                                             &chain, run->err)))
            put_key(run, brought->kid, brought, &chain);
        return;
    }
    brought = first_of(tale, "key-enrolment");
    if (!brought && mb_str_is(tale->prefix, "key")) {
        if (mb_run_failed(run, mb_log_entry(run->log, run->arena, 0, &founding, run->err)))
            return;
        brought = mb_str_equal(founding.kid, tale->id) ? &founding : NULL;
    }
    if (brought)
        put_key(run, tale->id, brought, tale);
}
