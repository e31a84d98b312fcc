#include "forget_find.h"

#include <stdio.h>
#include <string.h>

#include "kinds.h"
#include "text.h"
#include "verify_log.h"

enum { LETTERS_MIN = 4 };

/* ---- one field ---- */

void mb_traces_start(struct mb_traces *traces)
{
    traces->first = NULL;
    traces->end = &traces->first;
    traces->count = 0;
}

static void put_digest(mb_arena *arena, mb_json *list, const struct mb_hash *digest)
{
    mb_json_add(list, mb_json_string_str(arena, mb_b64u(arena, digest->b, sizeof digest->b)));
}

/* The digests of a list's own elements stand in its disclosure as it was signed. */
static void put_elements(mb_arena *arena, mb_json *list, const struct mb_disclosure *d)
{
    char *bytes = mb_arena_get(arena, d->text.len + 4);
    const mb_json *parts;
    size_t len;

    if (!mb_b64u_read(d->text, bytes, &len)
        || mb_json_read(arena, (struct mb_str){ bytes, len }, MB_JSON_STRICT, &parts, NULL))
        return;
    MB_JSON_EACH(element, mb_json_at(parts, 2))
    {
        const mb_json *digest = mb_json_get(element, "...");

        if (digest)
            mb_json_add(list, mb_json_copy(arena, digest));
    }
}

static struct mb_trace *add(mb_arena *arena, struct mb_traces *traces,
                            const struct mb_entry *entry, const struct mb_disclosure *d)
{
    struct mb_trace *trace = MB_NEW(arena, struct mb_trace);
    mb_json *digests = mb_json_array(arena);

    put_digest(arena, digests, &d->digest);
    put_elements(arena, digests, d);
    *trace = (struct mb_trace){ .seq = entry->seq,
                                .leaf = entry->leaf,
                                .subject = mb_arena_copy(arena, entry->sub.at, entry->sub.len),
                                .kind = mb_arena_copy(arena, entry->kind.at, entry->kind.len),
                                .field = mb_arena_copy(arena, d->name.at, d->name.len),
                                .value = mb_json_copy(arena, d->value),
                                .digests = digests };
    *traces->end = trace;
    traces->end = &trace->next;
    traces->count++;
    return trace;
}

static bool is_field(const struct mb_entry *entry, const struct mb_disclosure *d)
{
    return d->slot >= 0 && !entry->slots[d->slot].element && d->name.at;
}

enum mb_rc mb_trace_field(mb_arena *arena, const struct mb_entry *entry, const char *name,
                          struct mb_traces *traces, struct mb_error *err)
{
    if (mb_entry_open(entry, name))
        return mb_fail(err, MB_REFUSED,
                       "%s of entry #%lld is open: it stands in every file that was given away,"
                       " for ever, and cannot be erased",
                       name, (long long)entry->seq);
    for (size_t i = 0; i < entry->disclosure_count; i++)
        if (is_field(entry, &entry->disclosures[i])
            && mb_str_is(entry->disclosures[i].name, name)) {
            add(arena, traces, entry, &entry->disclosures[i]);
            return MB_OK;
        }
    return MB_NO;
}

/* ---- what to look for ---- */

struct needle {
    const struct mb_trace *of;
    const char **texts;
    size_t count, room;
};

/* A correction's fields are those of another kind. */
static const struct mb_kind_field *form_of(const char *kind, const char *field)
{
    const struct mb_kind *own = mb_kind_find(mb_str_of(kind));
    const struct mb_kind_field *form = own ? mb_kind_field(own, mb_str_of(field)) : NULL;

    for (size_t i = 0; !form && i < mb_kinds_count(); i++)
        form = mb_kind_field(mb_kinds_at(i), mb_str_of(field));
    return form;
}

static bool is_choice(const char *kind, const char *field)
{
    const struct mb_kind_field *form = form_of(kind, field);

    return form && (form->type == MB_V_CHOICE || form->type == MB_V_BOOLEAN);
}

static void put_text(mb_arena *arena, struct needle *needle, struct mb_str text)
{
    size_t letters = 0;

    for (size_t at = 0, n; at < text.len; at += n, letters++) {
        uint32_t code;

        n = mb_utf8_next((struct mb_str){ text.at + at, text.len - at }, &code);
        if (n == 0)
            return;
    }
    if (letters < LETTERS_MIN)
        return;
    if (needle->count == needle->room) {
        const char **grown = MB_ARRAY(arena, needle->room = needle->room * 2 + 8, const char *);

        for (size_t i = 0; i < needle->count; i++)
            grown[i] = needle->texts[i];
        needle->texts = grown;
    }
    needle->texts[needle->count++] = mb_arena_copy(arena, text.at, text.len);
}

static bool tells(enum mb_value_type type)
{
    return type == MB_V_TEXT || type == MB_V_DECIMAL || type == MB_V_TAXON || type == MB_V_DOI
           || type == MB_V_GEOMETRY;
}

static const struct mb_kind_field *column(const struct mb_kind_field *form, struct mb_str name)
{
    for (size_t i = 0; form && i < form->column_count; i++)
        if (mb_str_equal(form->columns[i].name, name))
            return &form->columns[i];
    return NULL;
}

/* The texts in a value that could be known again elsewhere. */
static void put_texts(mb_arena *arena, struct needle *needle, const mb_json *value,
                      const struct mb_kind_field *form)
{
    if (mb_json_is(value, MB_JSON_STRING)) {
        if (form && tells(form->type))
            put_text(arena, needle, value->text);
        return;
    }
    if (mb_json_is(value, MB_JSON_OBJECT) && form && form->type == MB_V_DECIMAL) {
        put_text(arena, needle, mb_json_str(mb_json_get(value, "value")));
        return;
    }
    if (mb_json_get(value, "answer") || mb_json_get(value, "ref") || mb_json_get(value, "file"))
        return;
    if (mb_json_is(value, MB_JSON_ARRAY))
        MB_JSON_EACH(one, value)
        {
            const struct mb_kind_field *of = form && form->of ? form->of : form;

            if (mb_json_is(one, MB_JSON_OBJECT) && form && form->column_count)
                MB_JSON_EACH(cell, one)
                {
                    put_texts(arena, needle, cell, column(form, cell->name));
                }
            else
                put_texts(arena, needle, one, of);
        }
}

static struct needle *needles_of(mb_arena *arena, const struct mb_traces *chosen)
{
    struct needle *needles = MB_ARRAY(arena, chosen->count + 1, struct needle);
    size_t n = 0;

    for (const struct mb_trace *t = chosen->first; t; t = t->next, n++) {
        needles[n].of = t;
        put_texts(arena, &needles[n], t->value, form_of(t->kind, t->field));
    }
    return needles;
}

/* ---- looking ---- */

static bool holds(const mb_json *value, const char *text)
{
    size_t len = strlen(text);

    if (mb_json_is(value, MB_JSON_STRING))
        return memmem(value->text.at, value->text.len, text, len) != NULL;
    if (mb_json_is(value, MB_JSON_OBJECT) || mb_json_is(value, MB_JSON_ARRAY))
        MB_JSON_EACH(child, value)
        {
            if (holds(child, text))
                return true;
        }
    return false;
}

static bool names(const mb_json *value, const char *subject)
{
    if (mb_str_is(mb_ref_of(value), subject))
        return true;
    if (mb_json_is(value, MB_JSON_OBJECT) || mb_json_is(value, MB_JSON_ARRAY))
        MB_JSON_EACH(child, value)
        {
            if (names(child, subject))
                return true;
        }
    return false;
}

static bool speaks_of(const struct mb_entry *entry, const char *subject)
{
    if (mb_str_is(entry->sub, subject) || names(entry->body, subject))
        return true;
    for (size_t i = 0; i < entry->disclosure_count; i++)
        if (names(entry->disclosures[i].value, subject))
            return true;
    return false;
}

static const char *copied(const struct needle *needle, const struct mb_entry *entry,
                          const struct mb_disclosure *d)
{
    const struct mb_trace *of = needle->of;

    if (mb_json_get(of->value, "answer"))
        return NULL;
    if (mb_str_is(d->name, of->field) && mb_json_equal(d->value, of->value)
        && !is_choice(of->kind, of->field)
        && (needle->count > 0 || speaks_of(entry, of->subject)))
        return "the same";
    for (size_t i = 0; i < needle->count; i++)
        if (holds(d->value, needle->texts[i]))
            return "holds it";
    return NULL;
}

static bool is_chosen(const struct mb_traces *chosen, const struct mb_entry *entry,
                      struct mb_str name)
{
    for (const struct mb_trace *t = chosen->first; t; t = t->next)
        if (t->seq == entry->seq && mb_str_is(name, t->field))
            return true;
    return false;
}

static void look_into(mb_arena *arena, const struct mb_traces *chosen,
                      const struct needle *needles, const struct mb_entry *entry,
                      struct mb_traces *copies)
{
    for (size_t i = 0; i < entry->disclosure_count; i++) {
        const struct mb_disclosure *d = &entry->disclosures[i];
        const char *how = NULL;

        if (!is_field(entry, d) || is_chosen(chosen, entry, d->name))
            continue;
        for (size_t n = 0; n < chosen->count && !how; n++)
            how = copied(&needles[n], entry, d);
        if (how)
            add(arena, copies, entry, d)->how = how;
    }
}

struct finding {
    mb_arena *arena;
    const struct mb_traces *chosen;
    const struct needle *needles;
    struct mb_traces *copies;
};

/* Keys and the ledger's own entries are no record of anybody's; nor is an erasure. */
static enum mb_rc find_in(void *ctx, const struct mb_entry *entry, struct mb_error *err)
{
    const struct finding *f = ctx;

    (void)err;
    if (!mb_str_starts(entry->sub, "key/") && !mb_str_is(entry->sub, "ledger")
        && !mb_str_is(entry->kind, "erasure"))
        look_into(f->arena, f->chosen, f->needles, entry, f->copies);
    return MB_OK;
}

enum mb_rc mb_traces_find(mb_ledger *ledger, mb_arena *arena, const struct mb_traces *chosen,
                          struct mb_traces *copies, struct mb_error *err)
{
    struct finding f = { arena, chosen, needles_of(arena, chosen), copies };

    return mb_log_each(ledger->log, 0, MB_NEVER, find_in, &f, err);
}

bool mb_traces_in(mb_arena *arena, const struct mb_traces *chosen, struct mb_str bytes)
{
    const struct needle *needles = needles_of(arena, chosen);

    for (size_t n = 0; n < chosen->count; n++)
        for (size_t i = 0; i < needles[n].count; i++)
            if (memmem(bytes.at, bytes.len, needles[n].texts[i], strlen(needles[n].texts[i])))
                return true;
    return false;
}

/* ---- files ---- */

struct gathering {
    mb_arena *arena;
    mb_json *list;
};

static void take_file(void *ctx, struct mb_str hex)
{
    struct gathering *g = ctx;

    MB_JSON_EACH(known, g->list)
    {
        if (mb_str_equal(known->text, hex))
            return;
    }
    mb_json_add(g->list, mb_json_string_str(g->arena, hex));
}

mb_json *mb_traces_files(mb_arena *arena, const struct mb_traces *traces)
{
    struct gathering g = { arena, mb_json_array(arena) };

    for (const struct mb_trace *t = traces->first; t; t = t->next)
        mb_value_files(t->value, take_file, &g);
    return g.list;
}
