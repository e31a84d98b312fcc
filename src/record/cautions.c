#include "cautions.h"

#include <string.h>

#include "asset.h"
#include "decimal.h"
#include "text.h"

const char mb_cautions_sentence[] =
    "These are the usual cautions, not all there are: local codes, licensed practice and the"
    " product's own safety data sheet come first.";

/* Softest of what fossils are commonly kept in, on the Mohs scale: calcite 3, apatite 5 (common
 * practice, no source). */
#define APATITE_MOHS 5.0

static const mb_json *vocab(mb_arena *arena, const char *path)
{
    const struct mb_asset *asset = mb_asset_find(path);
    const mb_json *json = NULL;

    if (!asset
        || mb_json_read(arena, (struct mb_str){ asset->data, asset->size }, MB_JSON_PLAIN, &json,
                        NULL))
        return NULL;
    return mb_json_get(json, "terms");
}

struct mb_cautions mb_cautions_new(mb_arena *arena)
{
    return (struct mb_cautions){ .arena = arena, .list = mb_json_array(arena) };
}

static void start(struct mb_cautions *c)
{
    if (c->hazards)
        return;
    c->methods = vocab(c->arena, "vocab/prep-method.json");
    c->materials = vocab(c->arena, "vocab/material.json");
    c->hazards = vocab(c->arena, "vocab/hazard.json");
}

static const mb_json *term_of(const mb_json *terms, struct mb_str id)
{
    MB_JSON_EACH(term, terms)
    {
        if (id.at && mb_str_equal(mb_json_str(mb_json_get(term, "id")), id))
            return term;
    }
    return NULL;
}

/* ---- adding ---- */

static mb_json *caution_of(struct mb_cautions *c, const char *hazard)
{
    for (mb_json *one = c->list->first; one; one = one->next)
        if (mb_json_text_is(mb_json_get(one, "hazard"), hazard))
            return one;
    return NULL;
}

static void add_for(struct mb_cautions *c, mb_json *caution, struct mb_str what)
{
    mb_json *list = NULL;

    for (mb_json *member = caution->first; member; member = member->next)
        if (mb_str_is(member->name, "for"))
            list = member;
    MB_JSON_EACH(one, list)
    {
        if (mb_str_equal(mb_json_str(one), what))
            return;
    }
    mb_json_add(list, mb_json_string_str(c->arena, what));
}

static void add_text(struct mb_cautions *c, mb_json *to, const char *name, const mb_json *text)
{
    if (mb_json_str(text).len)
        mb_json_put(c->arena, to, name, mb_json_string_str(c->arena, mb_json_str(text)));
}

static mb_json *new_caution(struct mb_cautions *c, const char *hazard)
{
    mb_json *one = mb_json_add(c->list, mb_json_object(c->arena));

    mb_json_put_text(c->arena, one, "hazard", hazard);
    mb_json_put(c->arena, one, "for", mb_json_array(c->arena));
    return one;
}

static void add_hazard(struct mb_cautions *c, struct mb_str id, struct mb_str what)
{
    const mb_json *term = term_of(c->hazards, id);
    const char *hazard = mb_arena_copy(c->arena, id.at, id.len);
    mb_json *one = caution_of(c, hazard);

    if (!term)
        return;
    if (!one) {
        one = new_caution(c, hazard);
        add_text(c, one, "title", mb_json_get(term, "title"));
        add_text(c, one, "guard", mb_json_get(term, "guard"));
        add_text(c, one, "limit", mb_json_get(term, "usOsha"));
        add_text(c, one, "source", mb_json_get(term, "source"));
        if (mb_json_true(mb_json_get(term, "memory")))
            mb_json_put_bool(c->arena, one, "memory", true);
    }
    add_for(c, one, what);
}

static void add_plain(struct mb_cautions *c, const char *hazard, const char *title,
                      const char *guard, struct mb_str what)
{
    mb_json *one = caution_of(c, hazard);

    if (!one) {
        one = new_caution(c, hazard);
        mb_json_put_text(c->arena, one, "title", title);
        mb_json_put_text(c->arena, one, "guard", guard);
        mb_json_put_text(c->arena, one, "source", "common practice, no source");
    }
    add_for(c, one, what);
}

/* "air abrasion" of "air abrasion (micro sandblasting)" */
static struct mb_str in_short(struct mb_str title)
{
    const char *at = memmem(title.at, title.len, " (", 2);

    return at && at > title.at ? (struct mb_str){ title.at, (size_t)(at - title.at) } : title;
}

/* Of a resin, the solvents that it may come in; which it was, the row may say itself. */
static bool is_solvent(struct mb_str hazard)
{
    return mb_str_is(hazard, "acetone") || mb_str_is(hazard, "ethanol")
           || mb_str_is(hazard, "toluene");
}

/* A term with what it is called; own words are on no list, and no caution is known for them. */
static void add_term(struct mb_cautions *c, const mb_json *terms, struct mb_str id)
{
    const mb_json *term = term_of(terms, id), *hazards = mb_json_get(term, "hazards");
    struct mb_str title = terms == c->methods && term
                              ? in_short(mb_json_str(mb_json_get(term, "title")))
                              : id;

    if (!term)
        add_plain(c, "own word", "not on our list",
                  "read its safety data sheet before you use it; no caution is known here", id);
    else if (!hazards || hazards->count == 0)
        add_plain(c, "none listed", "no hazard of its own is listed",
                  "see its data sheet all the same; wash hands after work", title);
    MB_JSON_EACH(hazard, hazards)
    {
        if (!c->solvent_named || !is_solvent(mb_json_str(hazard)))
            add_hazard(c, mb_json_str(hazard), title);
    }
}

/* ---- what is in a value ---- */

static void acid(struct mb_cautions *c, struct mb_str word)
{
    static const char *const methods[][2] = { { "acetic", "acetic" },
                                              { "formic", "formic" },
                                              { "hydrochloric", "hcl" },
                                              { "hydrofluoric", "hf" },
                                              { "thioglycolic", "thioglycolic" } };

    for (size_t i = 0; i < sizeof methods / sizeof *methods; i++)
        if (mb_str_is(word, methods[i][0])) {
            add_term(c, c->methods, mb_str_of(methods[i][1]));
            return;
        }
    add_term(c, c->methods, word);
}

static char small(char letter)
{
    return letter >= 'A' && letter <= 'Z' ? (char)(letter | 0x20) : letter;
}

/* "Acetone, then water": what of it is a hazard by that name. */
static void solvent(struct mb_cautions *c, struct mb_str words)
{
    char *plain = mb_arena_copy(c->arena, words.at, words.len);

    for (char *at = plain; *at; at++)
        *at = small(*at);
    MB_JSON_EACH(term, c->hazards)
    {
        struct mb_str id = mb_json_str(mb_json_get(term, "id"));

        if (mb_json_get(term, "cas") && memmem(plain, words.len, id.at, id.len))
            add_hazard(c, id, words);
    }
}

static void take_word(struct mb_cautions *c, const struct mb_kind_field *field, struct mb_str word)
{
    const char *list = field->choices ? field->choices->vocab : NULL;

    if (!word.len)
        return;
    if (list && strcmp(list, "prep-method") == 0)
        add_term(c, c->methods, word);
    else if (list && strcmp(list, "material") == 0)
        add_term(c, c->materials, word);
    else if (mb_str_is(field->name, "acid"))
        acid(c, word);
    else if (mb_str_is(field->name, "solvent") || mb_str_is(field->name, "removableWith"))
        solvent(c, word);
}

static double number_in(const mb_json *row, const char *name)
{
    struct mb_str text = mb_json_str(mb_json_get(row, name));

    return text.len ? mb_decimal_double(text) : 0;
}

/* A powder takes off what is softer than it. */
static void hardness(struct mb_cautions *c, const mb_json *row)
{
    struct mb_str medium = mb_json_str(mb_json_get(row, "medium"));
    const mb_json *term = term_of(c->materials, medium);
    double powder = number_in(row, "mohs"), fossil = number_in(row, "fossilMohs");

    if (!(powder > 0))
        powder = number_in(term, "mohs");
    if (!(powder > (fossil > 0 ? fossil : APATITE_MOHS)))
        return;
    add_plain(c, "harder than the fossil",
              fossil > 0 ? mb_arena_printf(c->arena, "powder of Mohs %g on a fossil of %g", powder,
                                           fossil)
                         : mb_arena_printf(c->arena, "powder of Mohs %g", powder),
              "it takes the fossil's own surface off (calcite is 3, apatite 5): try a spot that"
              " does not matter, turn the pressure down, or take a softer one",
              medium.len ? medium : MB_STR("the powder"));
}

static void take_row(struct mb_cautions *c, const struct mb_kind_field *field, const mb_json *row)
{
    c->solvent_named = mb_json_str(mb_json_get(row, "solvent")).len > 0;
    for (size_t i = 0; i < field->column_count; i++)
        take_word(c, &field->columns[i],
                  mb_json_str(mb_json_get_str(row, field->columns[i].name)));
    c->solvent_named = false;
    if (mb_str_is(field->name, "steps"))
        hardness(c, row);
}

void mb_cautions_value(struct mb_cautions *c, const struct mb_kind_field *field,
                       const mb_json *value)
{
    start(c);
    if (!mb_json_is(value, MB_JSON_ARRAY)) {
        take_word(c, field, mb_json_str(value));
        return;
    }
    MB_JSON_EACH(one, value)
    {
        if (mb_json_is(one, MB_JSON_OBJECT))
            take_row(c, field, one);
        else
            take_word(c, field->of ? field->of : field, mb_json_str(one));
    }
}

/* ---- the piece itself ---- */

static struct mb_str hazard_of(struct mb_str word)
{
    static const char *const words[][2] = { { "pyrite", "pyrite decay" },
                                            { "asbestos not excluded", "asbestos" },
                                            { "arsenic or lead not excluded", "lead or arsenic" },
                                            { "solvent smell", "flammable vapour" } };

    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (mb_str_is(word, words[i][0]))
            return mb_str_of(words[i][1]);
    return word;
}

void mb_cautions_piece(struct mb_cautions *c, struct mb_str field, const mb_json *value)
{
    if (!mb_json_is(value, MB_JSON_ARRAY)
        || (!mb_str_is(field, "hazards") && !mb_str_is(field, "hazardsSeen")))
        return;
    start(c);
    MB_JSON_EACH(one, value)
    {
        const mb_json *what = mb_json_is(one, MB_JSON_OBJECT) ? mb_json_get(one, "what") : one;

        if (mb_json_str(what).at && !mb_json_text_is(mb_json_get(one, "state"), "not seen"))
            add_hazard(c, hazard_of(mb_json_str(what)), MB_STR("the piece itself"));
    }
}

/* ---- words ---- */

/* The first law or table that is named; all of them stand in the vocabulary. */
static struct mb_str first_source(struct mb_str source)
{
    static const char *const ends[] = { ";", " in ", " (" };

    if (!source.at)
        return source;
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        const char *at = memmem(source.at, source.len, ends[i], strlen(ends[i]));

        if (at && at > source.at)
            source.len = (size_t)(at - source.at);
    }
    return source;
}

const char *mb_caution_words(mb_arena *arena, const mb_json *caution)
{
    struct mb_str title = mb_json_str(mb_json_get(caution, "title"));
    struct mb_str guard = mb_json_str(mb_json_get(caution, "guard"));
    struct mb_str limit = mb_json_str(mb_json_get(caution, "limit"));
    struct mb_str source = first_source(mb_json_str(mb_json_get(caution, "source")));
    const char *what = "";

    MB_JSON_EACH(one, mb_json_get(caution, "for"))
    {
        what = mb_arena_printf(arena, "%s%s%.*s", what, *what ? ", " : "",
                               MB_STR_ARG(mb_json_str(one)));
    }
    what = mb_arena_printf(arena, "%s: %.*s: %.*s.", what, MB_STR_ARG(title), MB_STR_ARG(guard));
    if (limit.len && !mb_str_is(limit, "none"))
        what = mb_arena_printf(arena, "%s US limit: %.*s (%.*s%s).", what, MB_STR_ARG(limit),
                               MB_STR_ARG(source),
                               mb_json_true(mb_json_get(caution, "memory"))
                                   ? "; partly from memory, look it up"
                                   : "");
    return what;
}
