/* What to ask for a kind: its form, with what would be filled in. */
#include <markerbed/record.h>

#include <string.h>

#include "checking.h"
#include "date.h"
#include "fill.h"
#include "text.h"

static mb_json *words_json(mb_arena *arena, const struct mb_words *words)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < words->count; i++)
        mb_json_add_text(arena, list, words->at[i]);
    return list;
}

/* What each choice stands for, by its id, where the ids do not speak for themselves. */
static mb_json *titles_json(mb_arena *arena, const struct mb_choices *choices)
{
    mb_json *titles = mb_json_object(arena);

    for (size_t i = 0; i < choices->ids.count; i++)
        if (choices->titles[i])
            mb_json_put_text(arena, titles, choices->ids.at[i], choices->titles[i]);
    return titles;
}

static void put_text(mb_arena *arena, mb_json *object, const char *name, const char *text)
{
    if (text)
        mb_json_put_text(arena, object, name, text);
}

/* An example is a text, or parts that are shown as they would be typed. */
static void put_example(mb_arena *arena, mb_json *question, const struct mb_kind_field *field)
{
    const mb_json *example = mb_json_get(field->json, "example");

    if (example)
        mb_json_put_text(arena, question, "example", mb_value_text(arena, example));
}

static mb_json *question_of(mb_arena *arena, const struct mb_kind_field *field)
{
    static const char *const required[] = { "no", "yes", "answer", "when" };
    mb_json *question = mb_json_object(arena);
    const struct mb_choices *choices =
        field->choices ? field->choices : field->of ? field->of->choices : NULL;

    put_text(arena, question, "name", field->name.at);
    put_text(arena, question, "title", field->title);
    put_text(arena, question, "help", field->help);
    put_text(arena, question, "type", mb_value_type_name[field->type]);
    put_text(arena, question, "required", required[field->required]);
    put_text(arena, question, "when", field->when);
    put_text(arena, question, "class", mb_class_name[field->in]);
    if (field->or_type != MB_V_NONE)
        put_text(arena, question, "or", mb_value_type_name[field->or_type]);
    if (field->of)
        put_text(arena, question, "of", mb_value_type_name[field->of->type]);
    if (choices)
        mb_json_put(arena, question, "choices", words_json(arena, &choices->ids));
    if (choices && choices->titles)
        mb_json_put(arena, question, "titles", titles_json(arena, choices));
    if (field->answers.count)
        mb_json_put(arena, question, "answers", words_json(arena, &field->answers));
    if (field->units.count)
        mb_json_put(arena, question, "units", words_json(arena, &field->units));
    if (field->refs.count || (field->of && field->of->refs.count))
        mb_json_put(arena, question, "ref",
                    words_json(arena, field->refs.count ? &field->refs : &field->of->refs));
    put_example(arena, question, field);
    if (field->column_count) {
        mb_json *columns = mb_json_array(arena);

        for (size_t i = 0; i < field->column_count; i++)
            mb_json_add(columns, question_of(arena, &field->columns[i]));
        mb_json_put(arena, question, "columns", columns);
    }
    return question;
}

/* Everything that the door would fill in if nothing were typed. A source that cannot be read (a
 * default that no longer fits) is no reason not to ask. */
static enum mb_rc would_fill(mb_ledger *ledger, mb_arena *arena, const struct mb_kind *kind,
                             const char *subject, const mb_json **filled, struct mb_error *err)
{
    struct mb_recording what = { .kind = kind->name.at, .subject = subject };
    struct mb_checking c = {
        .ledger = ledger,
        .arena = arena,
        .what = &what,
        .kind = kind,
        .subject = subject ? subject : "",
        .values = MB_ARRAY(arena, kind->count + 1, const mb_json *),
        .settled = MB_ARRAY(arena, kind->count + 1, bool),
        .filled = mb_json_object(arena),
        .warnings = mb_json_array(arena),
    };
    struct mb_error ignored = { 0 };
    enum mb_rc rc = mb_door_open(ledger, err);

    if (rc)
        return rc;
    mb_str_cut(mb_str_of(c.subject), '/', &c.prefix, &c.id);
    c.door = ledger->door;
    c.in = (struct mb_value_in){ .arena = arena, .today = (int32_t)(mb_now() / 86400), .ctx = &c,
                                 .ref = mb_checking_ref, .entry = mb_checking_entry };
    rc = mb_fill(&c, &ignored);
    *filled = c.filled;
    return rc == MB_UNABLE ? mb_fail(err, rc, "%s", ignored.text) : MB_OK;
}

static void add_question(mb_arena *arena, mb_json *list, const struct mb_kind_field *field,
                         const mb_json *filled)
{
    const mb_json *value = field ? mb_json_get_str(filled, field->name) : NULL;
    mb_json *question;

    if (!field)
        return;
    question = question_of(arena, field);
    if (value)
        mb_json_put_text(arena, question, "default", mb_value_text(arena, value));
    mb_json_add(list, question);
}

/* Behind what the kind says to ask: what it demands and nothing fills in. What the program writes
 * is asked of nobody. */
static bool is_asked(const struct mb_kind *kind, const struct mb_kind_field *field,
                     const mb_json *filled, bool all)
{
    bool program = field->from.count == 1 && mb_words_has(&field->from, MB_STR("program"));

    if (all)
        return !program;
    if (mb_words_has(&kind->ask, field->name))
        return false; /* asked already */
    return (field->required == MB_REQUIRED_YES || field->required == MB_REQUIRED_ANSWER)
           && !mb_json_get_str(filled, field->name);
}

enum mb_rc mb_record_questions(mb_ledger *ledger, mb_arena *arena, const char *kind_name,
                               const char *subject, bool all, const mb_json **out,
                               struct mb_error *err)
{
    const struct mb_kind *kind = mb_kind_find(mb_str_of(kind_name));
    mb_json *list = mb_json_array(arena);
    const mb_json *filled = NULL;
    enum mb_rc rc;

    if (!kind) {
        size_t count = mb_kinds_count();
        const char **names = MB_ARRAY(arena, count + 1, const char *), *near;

        for (size_t i = 0; i < count; i++)
            names[i] = mb_kinds_at(i)->name.at;
        near = mb_nearest(mb_str_of(kind_name), names, count);
        return near ? mb_fail(err, MB_REFUSED, "there is no kind '%s'; did you mean %s?",
                              kind_name, near)
                    : mb_fail(err, MB_REFUSED, "there is no kind '%s'; there are: %s", kind_name,
                              mb_kinds_join(arena, names, count, count));
    }
    rc = would_fill(ledger, arena, kind, subject, &filled, err);
    if (rc)
        return rc;
    if (!all)
        for (size_t i = 0; i < kind->ask.count; i++)
            add_question(arena, list, mb_kind_field(kind, mb_str_of(kind->ask.at[i])), filled);
    for (size_t i = 0; i < kind->count; i++)
        if (is_asked(kind, &kind->fields[i], filled, all))
            add_question(arena, list, &kind->fields[i], filled);
    *out = list;
    return MB_OK;
}
