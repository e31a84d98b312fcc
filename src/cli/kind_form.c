#include "kind_form.h"

#include <string.h>

#include "asset.h"
#include "text.h"
#include "wording.h"

enum { WORDS_NAMED_MAX = 15, FIELD_HANG = 30 };

static const char *text_of(mb_arena *arena, const mb_json *object, const char *name)
{
    const char *text = wording_of(arena, object, name);

    return text != NULL ? text : "";
}

static const char *add(mb_arena *arena, const char *before, const char *more)
{
    return *before == '\0' ? more : mb_arena_printf(arena, "%s; %s", before, more);
}

/* ---- how it is written ---- */

/* Types that do not speak for themselves. */
static const char *type_words(const char *type)
{
    static const char *const words[][2] = {
        { "date", "a day, month, year or span of days" },
        { "decimal", "a number" },
        { "integer", "a whole number" },
        { "file", "a file" },
        { "entry", "an entry, by its number like #12, or by its leaf hash" },
        { "geometry", "GeoJSON, or a file of it" },
    };

    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (strcmp(words[i][0], type) == 0)
            return words[i][1];
    return type;
}

static const char *columns_form(mb_arena *arena, const mb_json *columns, bool page)
{
    const char *text = "rows of", *quote = page ? "`" : "";

    MB_JSON_EACH(column, columns)
        text = mb_arena_printf(arena, "%s%s %s%s%s (%s)", text, column == columns->first ? "" : ",",
                               quote, text_of(arena, column, "name"), quote,
                               kind_form(arena, column, page));
    return text;
}

const mb_json *kind_list(mb_arena *arena, const char *name)
{
    const struct mb_asset *asset = mb_asset_find(mb_arena_printf(arena, "vocab/%s.json", name));
    struct mb_str text = { asset ? asset->data : "", asset ? asset->size : 0 };
    const mb_json *list = NULL;

    if (asset == NULL || mb_json_read(arena, text, MB_JSON_PLAIN, &list, NULL) != MB_OK)
        return NULL;
    return list;
}

void kind_list_print(const struct screen *screen, const mb_json *list)
{
    struct pairs pairs = { .arena = screen->arena };

    screen_say(screen, STRONG, 0, "%s: %s", text_of(screen->arena, list, "vocab"),
               text_of(screen->arena, list, "title"));
    screen_gap(screen);
    MB_JSON_EACH(term, mb_json_get(list, "terms")) {
        const char *title = text_of(screen->arena, term, "title");
        pairs_add(&pairs, text_of(screen->arena, term, "id"), *title != '\0' ? title : "-");
    }
    pairs_print(screen, 2, &pairs);
}

/* The words of a short list, NULL if it is long or unknown. */
static const char *short_list(mb_arena *arena, const char *vocab)
{
    mb_json *words = mb_json_array(arena);
    const mb_json *terms = mb_json_get(kind_list(arena, vocab), "terms");

    if (terms == NULL || terms->count > WORDS_NAMED_MAX)
        return NULL;
    MB_JSON_EACH(term, terms)
        mb_json_add_text(arena, words, text_of(arena, term, "id"));
    return wording_choices(arena, words);
}

static const char *vocab_form(mb_arena *arena, const char *vocab, bool page)
{
    const char *words = page ? NULL : short_list(arena, vocab);

    if (words != NULL)
        return mb_arena_printf(arena, "one of: %s", words);
    return mb_arena_printf(
        arena, page ? "a word of the list `%s`" : "a word of \"markerbed help %s\"", vocab);
}

static const char *base_form(mb_arena *arena, const mb_json *field, bool page)
{
    const mb_json *of = mb_json_get(field, "of"), *choices = mb_json_get(field, "choices");
    const char *type = text_of(arena, field, "type"), *text = type_words(type);
    const char *vocab = text_of(arena, field, "vocab");
    bool choice = strcmp(type, "choice") == 0;

    if (mb_json_get(field, "columns") != NULL)
        text = columns_form(arena, mb_json_get(field, "columns"), page);
    if (strcmp(type, "ref") == 0)
        text = mb_arena_printf(arena, "a %s", wording_choices(arena, mb_json_get(field, "ref")));
    if (strcmp(type, "list") == 0 && of != NULL)
        text = mb_arena_printf(arena, "several, each %s", kind_form(arena, of, page));
    if (choices != NULL)
        text = mb_arena_printf(arena, "%s%sone of: %s", choice ? "" : text, choice ? "" : ", or ",
                               wording_choices(arena, choices));
    if (*vocab != '\0')
        text = add(arena, choice && choices == NULL ? "" : text, vocab_form(arena, vocab, page));
    return text;
}

const char *kind_form(mb_arena *arena, const mb_json *field, bool page)
{
    const char *text = base_form(arena, field, page), * or = text_of(arena, field, "or");
    const char *unit_vocab = text_of(arena, field, "unitVocab");
    const mb_json *units = mb_json_get(field, "units"), *answers = mb_json_get(field, "answers");

    if (units != NULL)
        text = add(arena, text, mb_arena_printf(arena, "in %s", wording_choices(arena, units)));
    if (*unit_vocab != '\0')
        text =
            add(arena, text,
                mb_arena_printf(arena, "with its unit, %s", vocab_form(arena, unit_vocab, page)));
    if (* or != '\0' && strcmp(or, "choice") != 0)
        text = add(arena, text, mb_arena_printf(arena, "or %s", type_words(or)));
    if (answers != NULL)
        text =
            add(arena, text, mb_arena_printf(arena, "may be %s", wording_choices(arena, answers)));
    return text;
}

const char *kind_needed(mb_arena *arena, const mb_json *field)
{
    const char *required = text_of(arena, field, "required");

    if (strcmp(required, "yes") == 0)
        return "yes";
    if (strcmp(required, "answer") == 0)
        return "an answer";
    if (strcmp(required, "when") == 0)
        return text_of(arena, field, "when");
    return "";
}

/* ---- on a screen ---- */

static void print_field(const struct screen *screen, const mb_json *field)
{
    mb_arena *arena = screen->arena;
    const char *example = text_of(arena, field, "example");
    const mb_json *given = mb_json_get(field, "example");
    const char *needed = kind_needed(arena, field);
    const char *text = mb_arena_printf(arena, "%s. %s", text_of(arena, field, "title"),
                                       text_of(arena, field, "help"));

    text = mb_arena_printf(arena, "%s\nWritten as %s.", text, kind_form(arena, field, false));
    if (mb_json_is(given, MB_JSON_STRING))
        text = mb_arena_printf(arena, "%s Example: %s", text, example);
    if (*needed != '\0' && strcmp(needed, "yes") != 0 && strcmp(needed, "an answer") != 0)
        text = mb_arena_printf(arena, "%s\nNeeded %s.", text, needed);
    if (mb_json_get(field, "from") != NULL)
        text = mb_arena_printf(arena, "%s\nFilled in by itself where it is known.", text);
    screen_item(screen, PLAIN, 2, FIELD_HANG, text_of(arena, field, "name"), mb_str_of(text));
}

static bool must(const mb_json *field)
{
    const mb_json *required = mb_json_get(field, "required");

    return mb_json_text_is(required, "yes") || mb_json_text_is(required, "answer");
}

static void print_fields(const struct screen *screen, const char *heading, const mb_json *kind,
                         bool needed)
{
    bool any = false;

    MB_JSON_EACH(field, mb_json_get(kind, "fields")) {
        if (must(field) != needed)
            continue;
        if (!any)
            screen_heading(screen, heading);
        any = true;
        print_field(screen, field);
    }
}

void kind_print(const struct screen *screen, const mb_json *kinds, const mb_json *kind)
{
    mb_arena *arena = screen->arena;
    const char *name = text_of(arena, kind, "kind");

    screen_say(screen, STRONG, 0, "markerbed record %s: %s", name, text_of(arena, kind, "title"));
    screen_gap(screen);
    screen_say(screen, PLAIN, 0, "%s Its subject is a %s.", text_of(arena, kind, "help"),
               wording_choices(arena, mb_json_get(kind, "subject")));
    screen_heading(screen, "Example");
    fprintf(screen->to, "    %s\n", text_of(arena, kind, "example"));
    print_fields(screen, "Needed", kind, true);
    print_fields(screen, "As the case may be", kind, false);
    if (!mb_json_true(mb_json_get(kind, "common")))
        return;
    MB_JSON_EACH(common, kinds)
        if (mb_json_text_is(mb_json_get(common, "kind"), "common")) {
            print_fields(screen, "Of every kind, needed", common, true);
            print_fields(screen, "Of every kind, as the case may be", common, false);
        }
}
