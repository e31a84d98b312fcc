#include "fill.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "date.h"
#include "decimal.h"
#include "placework.h"
#include "settings.h"
#include "text.h"

enum { LOOKED_BACK = 2000 /* entries, for the last of a kind */ };

/* What was so last time is so again only while this is the same. */
static const char *const anchors[][2] = {
    { "collecting", "site" },          { "field-day", "site" },
    { "arrival", "receivedFrom" },     { "custody", "to" },
    { "identification", "identifiedBy" }, { "condition", "examinedBy" },
    { "measurement", "what" },         { "numbering", "numberType" },
    { "making", "what" },
};

struct filling {
    struct mb_checking *c;
    bool looked;                /* for the last entry of this kind */
    const struct mb_entry *last; /* NULL if there is none */
    mb_story *last_story;
    const struct mb_told *last_told;
};

static size_t index_of(const struct mb_checking *c, const struct mb_kind_field *field)
{
    return (size_t)(field - c->kind->fields);
}

static const mb_json *value_of(const struct mb_checking *c, const char *name)
{
    const struct mb_kind_field *field = mb_kind_field(c->kind, mb_str_of(name));

    return field ? c->values[index_of(c, field)] : NULL;
}

/* ---- conditions ---- */

static bool is_in(const mb_json *value, const struct mb_words *words)
{
    if (mb_json_is(value, MB_JSON_STRING))
        return mb_words_has(words, value->text);
    if (mb_json_is(value, MB_JSON_ARRAY))
        MB_JSON_EACH(child, value)
        {
            if (is_in(child, words))
                return true;
        }
    return false;
}

static bool column_in(const mb_json *rows, const char *column, const struct mb_words *words)
{
    if (mb_json_is(rows, MB_JSON_ARRAY))
        MB_JSON_EACH(row, rows)
        {
            if (is_in(mb_json_get(row, column), words))
                return true;
        }
    return false;
}

bool mb_fill_applies(const struct mb_checking *c, const struct mb_kind_field *field)
{
    const mb_json *value;

    if (field->if_field < 0)
        return true;
    value = c->values[field->if_field];
    if (!value || mb_answer_of(value).at)
        return false;
    if (field->if_column)
        return column_in(value, field->if_column, &field->if_in);
    return field->if_in.count == 0 || is_in(value, &field->if_in);
}

/* ---- sources ---- */

static mb_json *shaped(const struct mb_checking *c, const struct mb_kind_field *field,
                       const mb_json *value)
{
    mb_json *list, *copy = value ? mb_json_copy(c->arena, value) : NULL;

    if (!copy || field->type != MB_V_LIST || mb_json_is(copy, MB_JSON_ARRAY)
        || mb_answer_of(copy).at)
        return copy;
    list = mb_json_array(c->arena);
    mb_json_add(list, copy);
    return list;
}

static mb_json *ref_value(const struct mb_checking *c, const struct mb_kind_field *field,
                          struct mb_str subject)
{
    mb_json *ref = mb_json_object(c->arena);

    mb_json_put(c->arena, ref, "ref", mb_json_string_str(c->arena, subject));
    return shaped(c, field, ref);
}

/* field-day.X and dealing.X: of the subject that this entry names. */
static enum mb_rc from_other(struct filling *f, const struct mb_kind_field *field,
                             struct mb_str kind, const char *name, mb_json **out,
                             struct mb_error *err)
{
    struct mb_checking *c = f->c;
    const struct mb_told *told;
    const mb_story *story;
    struct mb_str subject = { NULL, 0 };
    enum mb_rc rc;

    for (size_t i = 0; !subject.at && i < c->kind->count; i++)
        if (c->kind->fields[i].type == MB_V_REF && c->kind->fields[i].refs.count == 1
            && mb_str_is(kind, c->kind->fields[i].refs.at[0]))
            subject = mb_ref_of(c->values[i]);
    if (!subject.at)
        return MB_OK;
    rc = mb_subjects_story(c->ledger, subject, &story, err);
    if (rc)
        return rc;
    told = mb_story_newest(story, kind);
    *out = told ? shaped(c, field, mb_told_field(told, name, NULL, NULL)) : NULL;
    return MB_OK;
}

static enum mb_rc from_setting(struct filling *f, const struct mb_kind_field *field,
                               const char *name, mb_json **out, struct mb_error *err)
{
    struct mb_checking *c = f->c;
    struct mb_str typed;
    enum mb_rc rc = MB_OK;

    if (!c->door->settings)
        rc = mb_settings_read(c->ledger, c->door->group_arena, &c->door->settings, err);
    if (rc)
        return rc;
    typed = mb_settings_of(c->ledger, c->door->settings, mb_str_of(name));
    if (!typed.at)
        return MB_OK;
    rc = mb_value_read(&c->in, field, typed, out, err);
    if (rc)
        mb_fail_where(err, "your default for %s (change it with `markerbed setting`)", name);
    return rc;
}

static enum mb_rc from_recorder(struct filling *f, const struct mb_kind_field *field,
                                mb_json **out, struct mb_error *err)
{
    struct mb_checking *c = f->c;
    struct mb_str prefix, id, subject;
    enum mb_rc rc;

    if (!c->ledger->recorder.at)
        return MB_OK;
    mb_str_cut(c->ledger->recorder, '/', &prefix, &id);
    rc = mb_subjects_find(c->ledger, c->arena, prefix, id, &subject, err);
    if (rc == MB_NO) {
        c->recorder_unknown = true;
        return MB_OK;
    }
    if (!rc)
        *out = ref_value(c, field, subject);
    return rc;
}

static mb_json *today(const struct mb_checking *c)
{
    time_t now = (time_t)mb_now();
    struct tm local;

    tzset();
    localtime_r(&now, &local);
    return mb_json_string(c->arena, mb_arena_printf(c->arena, "%04d-%02d-%02d",
                                                    local.tm_year + 1900, local.tm_mon + 1,
                                                    local.tm_mday));
}

/* ---- who has the piece, who owns it ---- */

static const mb_json *told_value(const mb_story *story, const char *kind, const char *name)
{
    const struct mb_told *told = mb_story_newest(story, mb_str_of(kind));

    return told ? mb_told_field(told, name, NULL, NULL) : NULL;
}

/* Until it was handed on, the house has it; until title passed, whoever its arrival names. */
static enum mb_rc from_piece(struct filling *f, const struct mb_kind_field *field,
                             const char *source, mb_json **out, struct mb_error *err)
{
    struct mb_checking *c = f->c;
    bool label = strstr(source, "Label"), owner = strncmp(source, "owner", 5) == 0;
    const mb_json *value;
    const mb_story *story;
    enum mb_rc rc = mb_subjects_story(c->ledger, mb_str_of(c->subject), &story, err);

    if (rc)
        return rc;
    value = told_value(story, owner ? "title" : "custody", label ? "toLabel" : "to");
    if (!value && owner && !label)
        value = told_value(story, "arrival", "owner");
    if (value) {
        *out = shaped(c, field, value);
        return MB_OK;
    }
    if (owner)
        return MB_OK;
    if (label)
        return mb_value_read(&c->in, field, MB_STR("us"), out, err);
    rc = from_setting(f, field, "keeper", out, err);
    return rc || *out ? rc : from_recorder(f, field, out, err);
}

/* ---- the last time ---- */

/* Entries of one key begin with the same header, so others are passed over unread. */
static bool may_be(struct mb_arena *arena, struct mb_str jws, struct mb_str header,
                   struct mb_str kind)
{
    struct mb_str head, rest, payload, sig;
    const char *wanted = mb_arena_printf(arena, "\"kind\":\"%.*s\"", MB_STR_ARG(kind));
    size_t len;
    char *json;

    if (!mb_str_cut(jws, '.', &head, &rest) || (header.at && !mb_str_equal(head, header))
        || !mb_str_cut(rest, '.', &payload, &sig))
        return false;
    json = mb_arena_get(arena, payload.len + 3);
    return mb_b64u_read(payload, json, &len) && memmem(json, len, wanted, strlen(wanted));
}

static enum mb_rc look_back(struct filling *f, int64_t *seq, struct mb_error *err)
{
    struct mb_checking *c = f->c;
    struct mb_str kid = mb_str_of(c->ledger->signer.kid), header = { NULL, 0 };
    mb_arena *scratch;
    struct mb_entry entry;
    bool row = true;
    enum mb_rc rc = MB_OK;

    *seq = -1;
    if (!c->door->backwards)
        rc = mb_stmt_make(mb_log_db(c->ledger->log),
                          "SELECT seq, jws FROM log ORDER BY seq DESC LIMIT ?1",
                          &c->door->backwards, err);
    if (rc)
        return rc;
    scratch = mb_arena_new();
    mb_bind_int(c->door->backwards, 1, LOOKED_BACK);
    while (*seq < 0) {
        struct mb_str jws;

        rc = mb_stmt_step(c->door->backwards, &row, err);
        if (rc || !row)
            break;
        jws = mb_col_text(c->door->backwards, 1);
        mb_arena_reset(scratch);
        if (!may_be(scratch, jws, header, c->kind->name)
            || mb_entry_read(scratch, jws, &entry, NULL) || !mb_str_equal(entry.kid, kid))
            continue;
        if (!header.at) {
            struct mb_str rest;

            mb_str_cut(jws, '.', &header, &rest);
            header = mb_arena_str(c->arena, header);
        }
        if (mb_str_equal(entry.kind, c->kind->name))
            *seq = entry.seq;
    }
    if (row)
        mb_stmt_reset(c->door->backwards);
    mb_arena_free(scratch);
    return rc;
}

/* The last entry of this kind by this key, as it stands; none where that one was voided. */
static enum mb_rc find_last(struct filling *f, struct mb_error *err)
{
    struct mb_checking *c = f->c;
    struct mb_entry entry;
    const mb_story *story;
    int64_t seq;
    enum mb_rc rc = look_back(f, &seq, err);

    f->looked = true;
    if (rc || seq < 0)
        return rc;
    rc = mb_log_entry(c->ledger->log, c->arena, seq, &entry, err);
    if (!rc)
        rc = mb_subjects_story(c->ledger, entry.sub, &story, err);
    if (rc)
        return rc;
    for (size_t i = mb_story_count(story); i-- > 0;)
        if (mb_story_at(story, i)->entry->seq == seq && mb_story_at(story, i)->voided_by < 0)
            f->last_told = mb_story_at(story, i);
    f->last = f->last_told ? f->last_told->entry : NULL;
    return MB_OK;
}

static bool anchor_holds(const struct filling *f, const struct mb_kind_field *field)
{
    const struct mb_checking *c = f->c;

    for (size_t i = 0; i < sizeof anchors / sizeof *anchors; i++) {
        const char *name = anchors[i][1];
        const mb_json *now;

        if (!mb_str_is(c->kind->name, anchors[i][0]) || mb_str_is(field->name, name))
            continue;
        now = value_of(c, name);
        if (!now || !mb_json_equal(now, mb_told_field(f->last_told, name, NULL, NULL)))
            return false;
    }
    return true;
}

static enum mb_rc from_last(struct filling *f, const struct mb_kind_field *field,
                            const char *name, mb_json **out, struct mb_error *err)
{
    struct mb_checking *c = f->c;
    struct mb_words begin = mb_kinds_beginning(c->prefix);
    enum mb_rc rc = MB_OK;

    if (c->way.batch || !c->ledger->person)
        return MB_OK;
    if (!f->looked)
        rc = find_last(f, err);
    if (rc || !f->last || !anchor_holds(f, field))
        return rc;
    if (field->type == MB_V_ROWS && !mb_words_has(&begin, c->kind->name)
        && !mb_str_is(f->last->sub, c->subject))
        return MB_OK;
    *out = shaped(c, field, mb_told_field(f->last_told, name, NULL, NULL));
    return MB_OK;
}

/* ---- what can be worked out ---- */

/* The south-west corner of the cell of a fixed grid, 0.1 degree wide: 38.94 N 100.31 W lies in
 * "cell 38.9 N 100.4 W". */
static mb_json *coarse_place(const struct mb_checking *c)
{
    const int64_t cell = 100000000; /* 0.1 degree in billionths */
    struct mb_str at[2] = { mb_json_str(value_of(c, "decimalLatitude")),
                            mb_json_str(value_of(c, "decimalLongitude")) };
    const char *text[2];

    for (int i = 0; i < 2; i++) {
        int64_t nano, tenths;
        const char *side;

        if (!at[i].at || !mb_decimal_nano(at[i], &nano))
            return NULL;
        tenths = nano / cell - (nano % cell < 0);
        side = i == 0 ? (tenths < 0 ? "S" : "N") : (tenths < 0 ? "W" : "E");
        text[i] = mb_arena_printf(c->arena, "%lld.%lld %s", llabs((long long)tenths) / 10,
                                  llabs((long long)tenths) % 10, side);
    }
    return mb_json_string(c->arena, mb_arena_printf(c->arena, "cell %s %s", text[0], text[1]));
}

static mb_json *sum_of(const struct mb_checking *c, const mb_json *rows, const char *column)
{
    int64_t sum = 0;

    MB_JSON_EACH(row, rows)
    {
        sum += mb_json_int(mb_json_get(row, column), 0);
    }
    return sum <= MB_JSON_INTEGER_MAX ? mb_json_integer(c->arena, sum) : NULL;
}

static mb_json *from_program(const struct mb_checking *c, const struct mb_kind_field *field)
{
    const mb_json *into = value_of(c, "into"), *parts = value_of(c, "parts");

    if (mb_str_is(field->name, "coarsePlace"))
        return coarse_place(c);
    if (mb_str_is(field->name, "intoCount") && mb_json_is(into, MB_JSON_ARRAY))
        return mb_json_integer(c->arena, into->count);
    if (mb_str_is(field->name, "intoQuantity") && mb_json_is(into, MB_JSON_ARRAY))
        return sum_of(c, into, "quantity");
    if (mb_str_is(field->name, "partCount") && mb_json_is(parts, MB_JSON_ARRAY))
        return mb_json_integer(c->arena, parts->count);
    return NULL;
}

/* ---- all of it ---- */

static enum mb_rc ask(struct filling *f, const struct mb_kind_field *field, const char *source,
                      mb_json **out, struct mb_error *err)
{
    const char *point = strchr(source, '.');
    struct mb_str head = { source, point ? (size_t)(point - source) : strlen(source) };

    if (mb_str_is(head, "last"))
        return from_last(f, field, point + 1, out, err);
    if (mb_str_is(head, "setting"))
        return from_setting(f, field, point + 1, out, err);
    if (point)
        return from_other(f, field, head, point + 1, out, err);
    if (mb_str_is(head, "recorder"))
        return from_recorder(f, field, out, err);
    if (mb_str_is(head, "today"))
        *out = today(f->c);
    else if (mb_str_is(head, "program"))
        *out = from_program(f->c, field);
    else
        return from_piece(f, field, source, out, err);
    return MB_OK;
}

static enum mb_rc fill_anyhow(struct filling *f, const struct mb_kind_field *field,
                              struct mb_error *err)
{
    struct mb_checking *c = f->c;
    size_t at = index_of(c, field);
    mb_json *value = NULL;
    enum mb_rc rc = MB_OK;

    if (c->values[at] || c->settled[at])
        return MB_OK;
    for (size_t i = 0; !rc && !value && i < field->from.count; i++)
        rc = ask(f, field, field->from.at[i], &value, err);
    if (!rc && !value && field->usual.at)
        rc = mb_value_read(&c->in, field, field->usual, &value, err);
    if (rc) {
        mb_fail_where(err, "field %s", field->name.at);
        return rc;
    }
    if (value) {
        c->values[at] = value;
        mb_json_put_str(c->arena, c->filled, field->name, mb_json_copy(c->arena, value));
    }
    return MB_OK;
}

static enum mb_rc fill_field(struct filling *f, const struct mb_kind_field *field,
                             struct mb_error *err)
{
    if (field->required == MB_REQUIRED_WHEN
        && (field->if_field < 0 || !mb_fill_applies(f->c, field)))
        return MB_OK;
    return fill_anyhow(f, field, err);
}

/* Where a place is worked out, what that rests on comes before it. */
static enum mb_rc fill_place(struct filling *f, struct mb_error *err)
{
    static const char *const before[] = { "eventDate", "site", "geodeticDatum",
                                          "coordinateSource" };
    enum mb_rc rc = MB_OK;

    if (!mb_placework_due(f->c))
        return MB_OK;
    for (size_t i = 0; !rc && i < sizeof before / sizeof *before; i++) {
        const struct mb_kind_field *field = mb_kind_field(f->c->kind, mb_str_of(before[i]));

        if (field)
            rc = fill_anyhow(f, field, err);
    }
    return rc ? rc : mb_placework(f->c, err);
}

/* The day and the dealing come first, whatever their place in the form: others are filled in from
 * them. */
static bool is_source(const struct mb_kind_field *field)
{
    return field->type == MB_V_REF && field->refs.count == 1
           && (strcmp(field->refs.at[0], "field-day") == 0
               || strcmp(field->refs.at[0], "dealing") == 0);
}

enum mb_rc mb_fill(struct mb_checking *c, struct mb_error *err)
{
    struct filling f = { .c = c };
    enum mb_rc rc = MB_OK;

    for (int sources = 1; !rc && sources >= 0; sources--) {
        for (size_t i = 0; !rc && i < c->kind->count; i++)
            if (is_source(&c->kind->fields[i]) == (sources == 1))
                rc = fill_field(&f, &c->kind->fields[i], err);
        if (!rc && sources == 1)
            rc = fill_place(&f, err);
    }
    return rc;
}
