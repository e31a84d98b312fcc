#include "kinds_read.h"

#include <stdlib.h>
#include <string.h>

#include "asset.h"
#include "decimal.h"
#include "text.h"

#define FOLDER "kinds/"

/* Choices already made, so that the fields that share a vocabulary share one list. */
struct known {
    const struct mb_choices *choices;
    struct known *next;
};

struct reader {
    mb_arena *arena;
    const char *path;  /* the file being read */
    const mb_json *common;
    struct known *vocabs;
    struct mb_error *err;
};

static enum mb_rc wrong(const struct reader *r, struct mb_str field, const char *what)
{
    return mb_fail(r->err, MB_UNABLE, "schema/%s: field %.*s: %s", r->path, MB_STR_ARG(field),
                   what);
}

static const char *text_of(const struct reader *r, const mb_json *object, const char *name)
{
    return mb_json_cstr(r->arena, mb_json_get(object, name));
}

/* The texts of an array; of one text, a list of one. */
static struct mb_words words_of(const struct reader *r, const mb_json *list)
{
    struct mb_words words = { NULL, 0 };

    if (mb_json_is(list, MB_JSON_STRING)) {
        words.at = MB_ARRAY(r->arena, 1, const char *);
        words.at[words.count++] = mb_json_cstr(r->arena, list);
        return words;
    }
    if (!mb_json_is(list, MB_JSON_ARRAY))
        return words;
    words.at = MB_ARRAY(r->arena, list->count, const char *);
    MB_JSON_EACH(item, list)
    {
        if (mb_json_is(item, MB_JSON_STRING))
            words.at[words.count++] = mb_json_cstr(r->arena, item);
    }
    return words;
}

static enum mb_rc read_asset(const struct reader *r, const char *path, const mb_json **out)
{
    const struct mb_asset *asset = mb_asset_find(path);
    enum mb_rc rc;

    if (!asset)
        return mb_fail(r->err, MB_UNABLE, "schema/%s is not built in", path);
    rc = mb_json_read(r->arena, (struct mb_str){ asset->data, asset->size }, MB_JSON_PLAIN, out,
                      r->err);
    if (rc) {
        mb_fail_where(r->err, "schema/%s", path);
        return MB_UNABLE;
    }
    return MB_OK;
}

/* ---- choices ---- */

struct by_id {
    const char *id;
    uint16_t index;
};

static int compare_ids(const void *a, const void *b)
{
    return strcmp(((const struct by_id *)a)->id, ((const struct by_id *)b)->id);
}

static struct mb_choices *choices_of(const struct reader *r, struct mb_words ids)
{
    struct mb_choices *choices = MB_NEW(r->arena, struct mb_choices);
    struct by_id *order = MB_ARRAY(r->arena, ids.count + 1, struct by_id);

    choices->ids = ids;
    choices->sorted = MB_ARRAY(r->arena, ids.count + 1, uint16_t);
    for (size_t i = 0; i < ids.count; i++)
        order[i] = (struct by_id){ ids.at[i], (uint16_t)i };
    qsort(order, ids.count, sizeof *order, compare_ids);
    for (size_t i = 0; i < ids.count; i++)
        choices->sorted[i] = order[i].index;
    return choices;
}

static enum mb_rc read_vocab(struct reader *r, const char *name, const struct mb_choices **out)
{
    const mb_json *file, *terms;
    struct mb_words ids = { NULL, 0 };
    struct mb_choices *choices;
    struct known *known;
    size_t at = 0;
    enum mb_rc rc;

    for (known = r->vocabs; known; known = known->next)
        if (strcmp(known->choices->vocab, name) == 0) {
            *out = known->choices;
            return MB_OK;
        }
    rc = read_asset(r, mb_arena_printf(r->arena, "vocab/%s.json", name), &file);
    if (rc)
        return rc;
    terms = mb_json_get(file, "terms");
    ids.at = MB_ARRAY(r->arena, (terms ? terms->count : 0) + 1, const char *);
    MB_JSON_EACH(term, terms)
    {
        ids.at[ids.count++] = text_of(r, term, "id");
        if (!ids.at[ids.count - 1] || ids.count == UINT16_MAX)
            return mb_fail(r->err, MB_UNABLE, "schema/vocab/%s.json: term %zu has no id", name,
                           ids.count);
    }
    choices = choices_of(r, ids);
    choices->titles = MB_ARRAY(r->arena, ids.count + 1, const char *);
    MB_JSON_EACH(term, terms)
    {
        choices->titles[at++] = text_of(r, term, "title");
    }
    choices->vocab = mb_arena_text(r->arena, name);
    known = MB_NEW(r->arena, struct known);
    *known = (struct known){ choices, r->vocabs };
    r->vocabs = known;
    *out = choices;
    return MB_OK;
}

/* A field's own words behind those of its vocabulary (NULL: by themselves). */
static const struct mb_choices *with_own(const struct reader *r, struct mb_words own,
                                         const struct mb_choices *vocab)
{
    size_t count = vocab ? vocab->ids.count : 0;
    struct mb_words ids = { MB_ARRAY(r->arena, count + own.count, const char *), 0 };
    struct mb_choices *choices;

    for (size_t i = 0; i < count; i++)
        ids.at[ids.count++] = vocab->ids.at[i];
    for (size_t i = 0; i < own.count; i++)
        ids.at[ids.count++] = own.at[i];
    choices = choices_of(r, ids);
    if (vocab) {
        choices->vocab = vocab->vocab;
        choices->titles = MB_ARRAY(r->arena, ids.count, const char *);
        memcpy(choices->titles, vocab->titles, count * sizeof *choices->titles);
    }
    return choices;
}

/* ---- fields ---- */

static bool type_of(struct mb_str name, enum mb_value_type *out)
{
    for (int i = 1; i < MB_VALUE_TYPE_COUNT; i++)
        if (mb_str_is(name, mb_value_type_name[i])) {
            *out = (enum mb_value_type)i;
            return true;
        }
    return false;
}

static bool required_of(struct mb_str word, enum mb_required *out)
{
    static const char *const names[] = { "no", "yes", "answer", "when" };

    *out = MB_REQUIRED_NO;
    if (!word.at)
        return true;
    for (int i = 0; i < 4; i++)
        if (mb_str_is(word, names[i])) {
            *out = (enum mb_required)i;
            return true;
        }
    return false;
}

static bool bound_of(const struct reader *r, const mb_json *json, const char *name,
                     struct mb_str *out)
{
    *out = mb_str_of(text_of(r, json, name));
    return !mb_json_get(json, name) || mb_decimal_ok(*out);
}

static enum mb_rc read_field(struct reader *r, const mb_json *json, enum mb_class in,
                             struct mb_kind_field *f);

static enum mb_rc read_parts(struct reader *r, const mb_json *json, struct mb_kind_field *f)
{
    const mb_json *of = mb_json_get(json, "of"), *columns = mb_json_get(json, "columns");
    enum mb_rc rc = MB_OK;

    if (f->type == MB_V_LIST) {
        struct mb_kind_field *element = MB_NEW(r->arena, struct mb_kind_field);

        if (!of)
            return wrong(r, f->name, "a list says with `of` what it is a list of");
        rc = read_field(r, of, f->in, element);
        element->name = f->name;
        f->of = element;
    }
    if (!rc && f->type == MB_V_ROWS) {
        struct mb_kind_field *list;

        if (!columns || columns->count == 0)
            return wrong(r, f->name, "rows have columns");
        list = MB_ARRAY(r->arena, columns->count, struct mb_kind_field);
        MB_JSON_EACH(column, columns)
        {
            if (!rc)
                rc = read_field(r, column, f->in, &list[f->column_count++]);
        }
        f->columns = list;
    }
    return rc;
}

static enum mb_rc read_values(struct reader *r, const mb_json *json, struct mb_kind_field *f)
{
    const char *vocab = text_of(r, json, "vocab"), *currency = text_of(r, json, "unitVocab");
    const struct mb_choices *units = NULL;
    struct mb_words own = words_of(r, mb_json_get(json, "choices"));
    enum mb_rc rc = MB_OK;

    if (vocab)
        rc = read_vocab(r, vocab, &f->choices);
    if (!rc && own.count)
        f->choices = with_own(r, own, f->choices);
    if (!rc && currency)
        rc = read_vocab(r, currency, &units);
    if (rc)
        return rc;
    f->units = units ? units->ids : words_of(r, mb_json_get(json, "units"));
    f->unit_in = text_of(r, json, "unitIn");
    f->refs = words_of(r, mb_json_get(json, "ref"));
    f->answers = words_of(r, mb_json_get(json, "answers"));
    f->from = words_of(r, mb_json_get(json, "from"));
    f->usual = mb_str_of(text_of(r, json, "default"));
    if ((f->type == MB_V_CHOICE || f->or_type == MB_V_CHOICE) && !f->choices)
        return wrong(r, f->name, "a choice has choices or a vocab");
    if ((f->type == MB_V_REF || f->or_type == MB_V_REF) && f->refs.count == 0)
        return wrong(r, f->name, "a reference says with `ref` to what");
    if (!bound_of(r, json, "min", &f->min) || !bound_of(r, json, "max", &f->max))
        return wrong(r, f->name, "min and max are decimals");
    return MB_OK;
}

static enum mb_rc read_field(struct reader *r, const mb_json *json, enum mb_class in,
                             struct mb_kind_field *f)
{
    struct mb_str or = mb_json_str(mb_json_get(json, "or"));
    struct mb_str in_name = mb_json_str(mb_json_get(json, "class"));
    enum mb_rc rc;

    f->json = json;
    f->name = mb_str_of(text_of(r, json, "name"));
    f->title = text_of(r, json, "title");
    f->help = text_of(r, json, "help");
    f->term = text_of(r, json, "term");
    f->when = text_of(r, json, "when");
    f->in = in;
    f->if_field = -1;
    f->salted = mb_json_true(mb_json_get(json, "salted"));
    f->future = mb_json_true(mb_json_get(json, "future"));
    if (in_name.at && !mb_class_of(in_name, &f->in))
        return wrong(r, f->name, "its class is none");
    if (!type_of(mb_json_str(mb_json_get(json, "type")), &f->type)
        || (or.at && !type_of(or, &f->or_type)))
        return wrong(r, f->name, "its type is none");
    if (!required_of(mb_json_str(mb_json_get(json, "required")), &f->required))
        return wrong(r, f->name, "required is yes, answer, when or no");
    rc = read_values(r, json, f);
    return rc ? rc : read_parts(r, json, f);
}

/* ---- kinds ---- */

static int compare_fields(const void *a, const void *b)
{
    const struct mb_kind_field *x = *(const struct mb_kind_field *const *)a;
    const struct mb_kind_field *y = *(const struct mb_kind_field *const *)b;

    return mb_str_compare(x->name, y->name);
}

static enum mb_rc read_fields(struct reader *r, const mb_json *list, bool common,
                              struct mb_kind *kind)
{
    enum mb_rc rc = MB_OK;

    MB_JSON_EACH(json, list)
    {
        struct mb_kind_field *f = &kind->fields[kind->count++];

        rc = read_field(r, json, MB_PRIVATE, f);
        if (!rc && (!f->name.at || !mb_json_get(json, "class")))
            rc = wrong(r, f->name, "a field has a name and a class");
        if (rc)
            return rc;
        f->common = common;
    }
    return MB_OK;
}

/* Conditions name fields that may stand further down. */
static enum mb_rc read_conditions(struct reader *r, struct mb_kind *kind)
{
    for (size_t i = 0; i < kind->count; i++) {
        struct mb_kind_field *f = &kind->fields[i];
        const mb_json *json = mb_json_get(f->json, "if");
        const struct mb_kind_field *on;

        if (!json)
            continue;
        on = mb_kind_field(kind, mb_json_str(mb_json_get(json, "field")));
        if (!on)
            return wrong(r, f->name, "its condition names a field that the kind does not have");
        f->if_field = (int)(on - kind->fields);
        f->if_column = text_of(r, json, "column");
        f->if_in = words_of(r, mb_json_get(json, "in"));
    }
    return MB_OK;
}

static enum mb_rc read_kind(struct reader *r, struct mb_kind *kind)
{
    const mb_json *file, *fields;
    size_t common;
    enum mb_rc rc = read_asset(r, r->path, &file);

    if (rc)
        return rc;
    fields = mb_json_get(file, "fields");
    *kind = (struct mb_kind){
        .name = mb_str_of(text_of(r, file, "kind")),
        .title = text_of(r, file, "title"),
        .help = text_of(r, file, "help"),
        .example = text_of(r, file, "example"),
        .subjects = words_of(r, mb_json_get(file, "subject")),
        .ask = words_of(r, mb_json_get(file, "ask")),
        .changes = mb_json_true(mb_json_get(file, "changes")),
        .common = mb_json_true(mb_json_get(file, "common")),
        .writer = text_of(r, file, "writer"),
        .json = file,
    };
    if (!kind->name.at || !mb_json_is(fields, MB_JSON_ARRAY))
        return mb_fail(r->err, MB_UNABLE, "schema/%s: it has no kind or no fields", r->path);
    common = kind->common ? r->common->count : 0;
    kind->fields = MB_ARRAY(r->arena, fields->count + common + 1, struct mb_kind_field);
    rc = read_fields(r, fields, false, kind);
    if (!rc && kind->common)
        rc = read_fields(r, r->common, true, kind);
    if (rc)
        return rc;
    kind->sorted = MB_ARRAY(r->arena, kind->count + 1, const struct mb_kind_field *);
    for (size_t i = 0; i < kind->count; i++)
        kind->sorted[i] = &kind->fields[i];
    qsort(kind->sorted, kind->count, sizeof *kind->sorted, compare_fields);
    for (size_t i = 1; i < kind->count; i++)
        if (mb_str_equal(kind->sorted[i - 1]->name, kind->sorted[i]->name))
            return wrong(r, kind->sorted[i]->name, "it is there twice");
    return read_conditions(r, kind);
}

static int compare_kinds(const void *a, const void *b)
{
    return mb_str_compare(((const struct mb_kind *)a)->name, ((const struct mb_kind *)b)->name);
}

static bool is_kind_file(const char *path)
{
    size_t len = strlen(path);

    return strncmp(path, FOLDER, strlen(FOLDER)) == 0 && len > 5
           && strcmp(path + len - 5, ".json") == 0 && strcmp(path, FOLDER "common.json") != 0;
}

enum mb_rc mb_kinds_read(struct mb_kinds_table *table, struct mb_error *err)
{
    struct reader r = { .arena = mb_arena_new(), .path = FOLDER "common.json", .err = err };
    const mb_json *common = NULL;
    enum mb_rc rc;

    *table = (struct mb_kinds_table){ .arena = r.arena };
    table->kinds = MB_ARRAY(r.arena, mb_asset_count() + 1, struct mb_kind);
    rc = read_asset(&r, r.path, &common);
    r.common = mb_json_get(common, "fields");
    if (!rc && !mb_json_is(r.common, MB_JSON_ARRAY))
        rc = mb_fail(err, MB_UNABLE, "schema/%s: it has no fields", r.path);
    for (size_t i = 0; !rc && i < mb_asset_count(); i++) {
        r.path = mb_asset_at(i)->path;
        if (is_kind_file(r.path))
            rc = read_kind(&r, &table->kinds[table->count++]);
    }
    if (rc)
        return rc;
    qsort(table->kinds, table->count, sizeof *table->kinds, compare_kinds);
    for (size_t i = 0; i < table->count; i++)
        table->kinds[i].index = i;
    return MB_OK;
}
