#include "answer.h"

#include <string.h>

#include "date.h"
#include "text.h"
#include "wording.h"

enum { CHOICES_SHOWN = 12, ROWS_MAX = 200, WORDS_MAX = 600 };

static bool needed(const mb_json *question)
{
    const mb_json *required = mb_json_get(question, "required");

    return mb_json_text_is(required, "yes") || mb_json_text_is(required, "answer");
}

static const char *fallback_of(mb_arena *arena, const mb_json *question)
{
    const char *text = wording_of(arena, question, "default");

    return text != NULL ? text : "";
}

static void say_words(const struct screen *screen, const char *before, const mb_json *words)
{
    if (words != NULL && words->count > 0)
        screen_say(screen, PLAIN, 4, "%s %s.", before, wording_choices(screen->arena, words));
}

/* The choices with what each stands for, where they do not speak for themselves. */
static void say_choices(const struct screen *screen, const mb_json *question)
{
    const mb_json *titles = mb_json_get(question, "titles");
    struct pairs pairs = { .arena = screen->arena };

    if (titles == NULL) {
        say_words(screen, "One of:", mb_json_get(question, "choices"));
        return;
    }
    screen_say(screen, PLAIN, 4, "One of:");
    MB_JSON_EACH(choice, mb_json_get(question, "choices")) {
        const char *title = wording(screen->arena, mb_json_get_str(titles, mb_json_str(choice)));
        pairs_add(&pairs, wording(screen->arena, choice), *title != '\0' ? title : "-");
    }
    pairs_print(screen, 6, &pairs);
}

static void explain(const struct talk *talk, const mb_json *question)
{
    const struct screen *screen = &talk->screen;
    const char *help = wording_of(screen->arena, question, "help");
    const char *example = wording_of(screen->arena, question, "example");
    const char *type = wording_of(screen->arena, question, "type");
    const char *when = wording_of(screen->arena, question, "when");

    if (help != NULL)
        screen_say(screen, PLAIN, 4, "%s", help);
    say_choices(screen, question);
    say_words(screen, "With one of the units", mb_json_get(question, "units"));
    say_words(screen, "If there is no such value:", mb_json_get(question, "answers"));
    if (example != NULL && *example != '\0')
        screen_say(screen, PLAIN, 4, "For example: %s", example);
    if (type != NULL && strcmp(type, "list") == 0)
        screen_say(screen, PLAIN, 4, "Several are divided by \" | \".");
    if (type != NULL && strcmp(type, "date") == 0)
        screen_say(screen, PLAIN, 4,
                   "A day (2026-05-02), a month (2026-05), a year, or from/to"
                   " (2026-05-02/2026-05-04).");
    if (when != NULL)
        screen_say(screen, PLAIN, 4, "Asked for %s.", when);
    screen_say(screen, PLAIN, 4, "%s",
               needed(question) ? "This needs an answer." : "Press Enter to leave it open.");
}

/* ---- can it be right? ---- */

struct wanted {
    const char *words[WORDS_MAX];
    size_t count;
};

static void add_words(struct wanted *wanted, mb_arena *arena, const mb_json *list)
{
    MB_JSON_EACH(word, list)
        if (mb_json_is(word, MB_JSON_STRING) && wanted->count < WORDS_MAX)
            wanted->words[wanted->count++] = mb_json_cstr(arena, word);
}

/* The one word that begins as typed, whatever the case of its letters; the exact one goes first. */
static const char *by_beginning(mb_arena *arena, const struct wanted *wanted, const char *typed)
{
    const char *found = NULL, *lower = mb_lower(arena, mb_str_of(typed));
    size_t hits = 0;

    for (size_t i = 0; i < wanted->count; i++) {
        const char *word = mb_lower(arena, mb_str_of(wanted->words[i]));
        if (strcmp(word, lower) == 0)
            return wanted->words[i];
        if (mb_str_starts(mb_str_of(word), lower)) {
            found = wanted->words[i];
            hits++;
        }
    }
    return hits == 1 ? found : NULL;
}

static const char *take_choice(const struct talk *talk, const mb_json *question, const char *typed)
{
    mb_arena *arena = talk->screen.arena;
    struct wanted *wanted = MB_NEW(arena, struct wanted);
    const char *word, *nearest;

    add_words(wanted, arena, mb_json_get(question, "choices"));
    add_words(wanted, arena, mb_json_get(question, "answers"));
    word = by_beginning(arena, wanted, typed);
    if (word != NULL)
        return word;
    nearest = mb_nearest(mb_str_of(typed), wanted->words, wanted->count);
    if (nearest != NULL)
        screen_say(&talk->screen, PLAIN, 4, "\"%s\" is not one of them; did you mean \"%s\"?",
                   typed, nearest);
    else
        screen_say(&talk->screen, PLAIN, 4, "\"%s\" is not one of them; \"?\" lists them.", typed);
    return NULL;
}

static bool is_answer(const mb_json *question, const char *typed)
{
    MB_JSON_EACH(answer, mb_json_get(question, "answers"))
        if (mb_json_text_is(answer, typed))
            return true;
    return false;
}

static bool all_digits(const char *text)
{
    return *text != '\0' && text[strspn(text, "0123456789")] == '\0';
}

/* What to take, or NULL after saying what is wrong. The library has the last word at the end. */
static const char *check(const struct talk *talk, const mb_json *question, const char *typed)
{
    const mb_json *type = mb_json_get(question, "type");
    struct mb_days days;

    if (is_answer(question, typed))
        return typed;
    if (mb_json_text_is(type, "choice") && mb_json_get(question, "choices") != NULL)
        return take_choice(talk, question, typed);
    if (mb_json_text_is(type, "date") && !mb_days_read(mb_str_of(typed), &days)) {
        screen_say(&talk->screen, PLAIN, 4,
                   "\"%s\" is no day that exists; write 2026-05-02, 2026-05 or 2026.", typed);
        return NULL;
    }
    if (mb_json_text_is(type, "integer") && !all_digits(typed)) {
        screen_say(&talk->screen, PLAIN, 4, "\"%s\" is no whole number.", typed);
        return NULL;
    }
    return typed;
}

/* ---- asking ---- */

static const char *prompt_of(struct talk *talk, const mb_json *question)
{
    mb_arena *arena = talk->screen.arena;
    const char *title = wording_of(arena, question, "title");
    const mb_json *choices = mb_json_get(question, "choices");
    const char *fallback = fallback_of(arena, question);

    if (title == NULL)
        title = wording_of(arena, question, "name");
    if (choices != NULL && choices->count <= CHOICES_SHOWN)
        screen_say(&talk->screen, FAINT, 4, "%s", wording_choices(arena, choices));
    return mb_arena_printf(arena, "%s%s%s%s%s:", title ? title : "", needed(question) ? " *" : "",
                           *fallback ? " [" : "", fallback, *fallback ? "]" : "");
}

static enum answered ask_one(struct talk *talk, const mb_json *question, const char **text)
{
    const char *prompt = prompt_of(talk, question);

    for (;;) {
        const char *typed = talk_ask(talk, prompt);
        if (talk->ended)
            return ANSWER_ENDED;
        if (strcmp(typed, "<") == 0)
            return ANSWER_BACK;
        if (strcmp(typed, "?") == 0) {
            explain(talk, question);
            continue;
        }
        if (*typed == '\0') {
            *text = fallback_of(talk->screen.arena, question);
            if (**text != '\0')
                return ANSWER_GIVEN;
            if (!needed(question))
                return ANSWER_NONE;
            screen_say(&talk->screen, PLAIN, 4, "This needs an answer; \"?\" says more.");
            continue;
        }
        *text = check(talk, question, typed);
        if (*text != NULL)
            return ANSWER_GIVEN;
    }
}

/* One row, or none if nothing was typed for any of its columns. */
static enum answered ask_row(struct talk *talk, const mb_json *columns, mb_json *row)
{
    mb_arena *arena = talk->screen.arena;

    MB_JSON_EACH(column, columns) {
        const char *text;
        enum answered answered = ask_one(talk, column, &text);

        if (answered == ANSWER_ENDED || answered == ANSWER_BACK)
            return answered;
        if (answered == ANSWER_GIVEN)
            mb_json_put_str(arena, row, mb_json_str(mb_json_get(column, "name")),
                            mb_json_string(arena, text));
    }
    return row->count > 0 ? ANSWER_GIVEN : ANSWER_NONE;
}

static enum answered ask_rows(struct talk *talk, const mb_json *question, const mb_json **json)
{
    mb_arena *arena = talk->screen.arena;
    mb_json *rows = mb_json_array(arena);
    const char *title = wording_of(arena, question, "title");

    while (rows->count < ROWS_MAX) {
        mb_json *row = mb_json_object(arena);
        enum answered answered;

        if (!talk_yes(talk,
                      mb_arena_printf(arena, "%s: %s?", title ? title : "",
                                      rows->count == 0 ? "anything to write down" : "another"),
                      rows->count == 0 && needed(question)))
            break;
        answered = ask_row(talk, mb_json_get(question, "columns"), row);
        if (answered == ANSWER_ENDED || answered == ANSWER_BACK)
            return answered;
        if (answered == ANSWER_GIVEN)
            mb_json_add(rows, row);
    }
    if (talk->ended)
        return ANSWER_ENDED;
    *json = rows;
    return rows->count > 0 ? ANSWER_GIVEN : ANSWER_NONE;
}

/* What was written last time is taken over whole, or not at all. */
static bool as_before(struct talk *talk, const mb_json *question, const char **text)
{
    mb_arena *arena = talk->screen.arena;
    const char *fallback = fallback_of(arena, question);

    if (*fallback == '\0'
        || !talk_yes(talk,
                     mb_arena_printf(arena, "%s: as before, %s?",
                                     wording_of(arena, question, "title"), fallback),
                     true))
        return false;
    *text = fallback;
    return true;
}

/* Rows that may be answered in a word ("none") instead. */
static enum answered ask_rows_or_word(struct talk *talk, const mb_json *question, const char **text,
                                      const mb_json **json)
{
    const mb_json *answers = mb_json_get(question, "answers");
    enum answered answered;
    mb_json *word;

    if (as_before(talk, question, text))
        return ANSWER_GIVEN;
    answered = talk->ended ? ANSWER_ENDED : ask_rows(talk, question, json);

    if (answered != ANSWER_NONE || !needed(question) || answers == NULL)
        return answered;
    *json = NULL;
    word = mb_json_object(talk->screen.arena);
    mb_json_put(talk->screen.arena, word, "title",
                mb_json_copy(talk->screen.arena, mb_json_get(question, "title")));
    mb_json_put_text(talk->screen.arena, word, "type", "choice");
    mb_json_put_text(talk->screen.arena, word, "required", "yes");
    mb_json_put(talk->screen.arena, word, "choices", mb_json_copy(talk->screen.arena, answers));
    return ask_one(talk, word, text);
}

enum answered answer_ask(struct talk *talk, const mb_json *question, const char **text,
                         const mb_json **json)
{
    *text = NULL;
    *json = NULL;
    if (mb_json_get(question, "columns") != NULL)
        return ask_rows_or_word(talk, question, text, json);
    return ask_one(talk, question, text);
}
