#include "asking.h"

#include <string.h>

#include "answer.h"
#include "text.h"
#include "wording.h"

enum { KINDS_MAX = 128 };

struct asking {
    struct talk talk;
    struct call *call;
    struct typing *typing;
    const mb_json *kinds, *kind; /* all of them; the one asked for */
    const mb_json *questions;
    struct mb_error *err;
};

static enum mb_rc ended(struct asking *a)
{
    return mb_fail(a->err, MB_REFUSED,
                   "the answers ended before all was asked; nothing was recorded");
}

/* ---- kind and subject ---- */

/* Kinds that a person records; the others are written by commands of their own. */
static bool is_asked(const mb_json *kind)
{
    const mb_json *ask = mb_json_get(kind, "ask");

    return mb_json_get(kind, "writer") == NULL && ask != NULL && ask->count > 0;
}

static void list_kinds(const struct asking *a)
{
    struct pairs pairs = { .arena = a->call->arena };

    MB_JSON_EACH(kind, a->kinds)
        if (is_asked(kind))
            pairs_add(&pairs, wording_of(a->call->arena, kind, "kind"),
                      wording_of(a->call->arena, kind, "title"));
    pairs_print(&a->talk.screen, 4, &pairs);
}

static const mb_json *kind_named(const struct asking *a, const char *name)
{
    MB_JSON_EACH(kind, a->kinds)
        if (mb_json_text_is(mb_json_get(kind, "kind"), name))
            return kind;
    return NULL;
}

static const char *kind_near(const struct asking *a, const char *name)
{
    const char *names[KINDS_MAX];
    size_t count = 0;

    MB_JSON_EACH(kind, a->kinds)
        if (is_asked(kind) && count < KINDS_MAX)
            names[count++] = wording_of(a->call->arena, kind, "kind");
    return mb_nearest(mb_str_of(name), names, count);
}

static enum mb_rc ask_kind(struct asking *a)
{
    const char *name = a->typing->kind, *nearest;

    if (name != NULL) {
        a->kind = kind_named(a, name);
        nearest = a->kind ? NULL : kind_near(a, name);
        return a->kind ? MB_OK
                       : mb_fail(a->err, MB_REFUSED, "there is no kind \"%s\"%s%s%s", name,
                                 nearest ? "; did you mean \""
                                         : "; \"markerbed list kinds\" lists"
                                           " them",
                                 nearest ? nearest : "", nearest ? "\"?" : "");
    }
    screen_say(&a->talk.screen, PLAIN, 0, "What do you want to write down?");
    list_kinds(a);
    while (a->kind == NULL) {
        name = talk_ask(&a->talk, "Kind:");
        if (a->talk.ended)
            return ended(a);
        a->kind = kind_named(a, name);
        nearest = a->kind ? NULL : kind_near(a, name);
        if (a->kind == NULL)
            screen_say(&a->talk.screen, PLAIN, 4, "There is no kind \"%s\"%s%s%s", name,
                       nearest ? "; did you mean \"" : ".", nearest ? nearest : "",
                       nearest ? "\"?" : "");
    }
    a->typing->kind = name;
    return MB_OK;
}

/* A kind that a subject's story begins with: the next free number is offered. */
static bool begins_subject(const char *kind, const char *prefix)
{
    static const char *const beginnings[] = { "collecting", "arrival", "making" };

    for (size_t i = 0; i < sizeof beginnings / sizeof *beginnings; i++)
        if (strcmp(beginnings[i], kind) == 0)
            return true;
    return strcmp(kind, prefix) == 0;
}

static const char *next_subject(struct asking *a, const char *prefix)
{
    const mb_json *next = NULL;
    struct mb_error ignored = { 0 };
    const char *id;

    if (!begins_subject(a->typing->kind, prefix)
        || mb_next_id(a->call->ledger, a->call->arena, prefix, NULL, &next, &ignored) != MB_OK)
        return NULL;
    id = wording_of(a->call->arena, next, "id");
    return id == NULL ? NULL : call_subject(a->call, prefix, id);
}

static enum mb_rc ask_subject(struct asking *a)
{
    const mb_json *subjects = mb_json_get(a->kind, "subject");
    mb_arena *arena = a->call->arena;
    const char *only, *next, *prompt;

    if (a->typing->subject != NULL)
        return MB_OK;
    if (subjects == NULL)
        return mb_fail(a->err, MB_REFUSED, "the kind %s is not recorded by itself",
                       a->typing->kind);
    only = subjects->count == 1 ? wording(arena, subjects->first) : NULL;
    next = only != NULL ? next_subject(a, only) : NULL;
    if (only == NULL)
        screen_say(&a->talk.screen, FAINT, 4,
                   "written as kind/number, like specimen/26-0115; the kinds are %s",
                   wording_choices(arena, subjects));
    prompt = mb_arena_printf(arena, "Which %s%s%s%s:", only ? only : "subject", next ? " [" : "",
                             next ? next : "", next ? "]" : "");
    for (;;) {
        const char *typed = talk_ask(&a->talk, prompt);
        if (a->talk.ended)
            return ended(a);
        if (*typed == '\0' && next != NULL)
            typed = next;
        if (*typed == '\0' || (only == NULL && strchr(typed, '/') == NULL))
            continue;
        a->typing->subject = only != NULL ? call_subject(a->call, only, typed) : typed;
        return MB_OK;
    }
}

/* ---- the fields ---- */

static const char *typed_text(const struct asking *a, const char *name)
{
    const struct mb_typed *typed = typing_get(a->typing, name);

    return typed != NULL ? typed->value : NULL;
}

/* On what answer a question hangs, as the kind has it; NULL if on none. */
static const mb_json *condition_of(const struct asking *a, const mb_json *question)
{
    MB_JSON_EACH(field, mb_json_get(a->kind, "fields"))
        if (mb_json_equal(mb_json_get(field, "name"), mb_json_get(question, "name")))
            return mb_json_get(field, "if");
    return NULL;
}

/* A question that hangs on another's answer is asked only where that was given. */
static bool applies(const struct asking *a, const mb_json *question)
{
    const mb_json *condition = condition_of(a, question), *in = mb_json_get(condition, "in");
    const char *field = wording_of(a->call->arena, condition, "field"), *value;

    if (field == NULL)
        return true;
    value = typed_text(a, field);
    if (value == NULL || in == NULL)
        return value != NULL;
    MB_JSON_EACH(one, in)
        if (mb_json_text_is(one, value))
            return true;
    return false;
}

static const mb_json *question_named(const struct asking *a, const char *name)
{
    MB_JSON_EACH(question, a->questions)
        if (mb_json_text_is(mb_json_get(question, "name"), name))
            return question;
    return NULL;
}

/* Asked again, it offers what was answered before. */
static const mb_json *with_earlier(const struct asking *a, const mb_json *question,
                                   const char *earlier)
{
    mb_json *copy;

    if (earlier == NULL)
        return question;
    copy = mb_json_copy(a->call->arena, question);
    mb_json_put_text(a->call->arena, copy, "default", earlier);
    return copy;
}

static enum answered ask_field(struct asking *a, const mb_json *question)
{
    const char *name = wording_of(a->call->arena, question, "name"), *text;
    const mb_json *json;
    enum answered answered =
        answer_ask(&a->talk, with_earlier(a, question, typed_text(a, name)), &text, &json);

    if (answered == ANSWER_GIVEN)
        typing_put(a->typing, name, text, json);
    if (answered == ANSWER_NONE)
        typing_drop(a->typing, name);
    return answered;
}

static enum mb_rc ask_fields(struct asking *a)
{
    size_t count = a->questions->count, i = 0;
    bool *asked = MB_ARRAY(a->call->arena, count + 1, bool);

    while (i < count) {
        const mb_json *question = mb_json_at(a->questions, i);
        const char *name = wording_of(a->call->arena, question, "name");
        size_t back = i;
        enum answered answered;

        if (!applies(a, question) || (!asked[i] && typing_get(a->typing, name) != NULL)) {
            i++;
            continue;
        }
        asked[i] = true;
        answered = ask_field(a, question);
        if (answered == ANSWER_ENDED)
            return ended(a);
        while (answered == ANSWER_BACK && back > 0 && !asked[back - 1])
            back--;
        if (answered != ANSWER_BACK)
            i++;
        else if (back > 0)
            i = back - 1;
    }
    return MB_OK;
}

/* ---- the end: looking at it, and mending ---- */

static const char *title_of(const struct asking *a, struct mb_str name)
{
    const char *text = mb_arena_copy(a->call->arena, name.at, name.len);
    const char *title = wording_of(a->call->arena, question_named(a, text), "title");

    return title != NULL ? title : wording_name(a->call->arena, name);
}

static void show(const struct asking *a, const mb_json *tried)
{
    mb_arena *arena = a->call->arena;
    const struct screen *screen = &a->talk.screen;
    struct pairs typed = { .arena = arena }, filled = { .arena = arena };

    for (size_t i = 0; i < a->typing->count; i++) {
        const struct mb_typed *one = &a->typing->typed[i];
        pairs_add(&typed, title_of(a, mb_str_of(one->name)),
                  one->value != NULL ? one->value : wording(arena, one->value_json));
    }
    for (size_t i = 0; i < a->typing->attach_count; i++)
        pairs_add(&typed, "Attached", a->typing->attach[i]);
    MB_JSON_EACH(value, mb_json_get(tried, "filled"))
        pairs_add(&filled, title_of(a, value->name), wording(arena, value));
    screen_heading(screen, mb_arena_printf(arena, "This will be recorded: %s of %s",
                                           a->typing->kind, a->typing->subject));
    pairs_print(screen, 2, &typed);
    if (filled.first != NULL)
        screen_say(screen, PLAIN, 2, "Filled in by itself:");
    pairs_print(screen, 2, &filled);
    MB_JSON_EACH(warning, mb_json_get(tried, "warnings"))
        screen_say(screen, DOUBT, 2, "Please note: %s", wording(arena, warning));
    screen_cautions(screen, mb_json_get(tried, "cautionWords"));
    screen_gap(screen);
}

/* As it would be recorded; nothing is held open while the person thinks. */
static enum mb_rc try(struct asking *a, const mb_json **out, struct mb_error *why)
{
    struct mb_recording recording = typing_recording(a->typing);
    mb_batch *batch;
    enum mb_rc rc = mb_batch_begin(a->call->ledger, a->call->arena, NULL, &batch, why);

    if (rc != MB_OK)
        return rc;
    rc = mb_batch_try(batch, a->call->arena, &recording, out, why);
    mb_batch_cancel(batch);
    return rc;
}

/* The question that a refusal is about: the first whose name stands in the sentence. */
static const mb_json *question_in(const struct asking *a, const char *sentence)
{
    const mb_json *found = NULL;
    const char *first = NULL;

    MB_JSON_EACH(question, a->questions) {
        const char *name = wording_of(a->call->arena, question, "name");
        const char *at = name != NULL ? strstr(sentence, name) : NULL;
        if (at != NULL && (first == NULL || at < first)) {
            first = at;
            found = question;
        }
    }
    return found;
}

static enum mb_rc mend(struct asking *a, const struct mb_error *why)
{
    const mb_json *question = question_in(a, why->text);
    const char *typed;

    screen_say(&a->talk.screen, BAD, 0, "It cannot be recorded so: %s.", why->text);
    while (question == NULL) {
        typed = talk_ask(&a->talk, "Which field do you want to change?");
        if (a->talk.ended)
            return ended(a);
        question = question_named(a, typed);
    }
    return ask_field(a, question) == ANSWER_ENDED ? ended(a) : MB_OK;
}

static enum mb_rc settle(struct asking *a)
{
    for (;;) {
        struct mb_error why = { 0 };
        const mb_json *tried = NULL;
        enum mb_rc rc = try(a, &tried, &why);

        if (rc != MB_OK && rc != MB_REFUSED)
            return mb_fail(a->err, rc, "%s", why.text);
        if (rc == MB_REFUSED) {
            rc = mend(a, &why);
            if (rc != MB_OK)
                return rc;
            continue;
        }
        show(a, tried);
        if (talk_yes(&a->talk, "Record it?", true))
            return MB_OK;
        return a->talk.ended ? ended(a)
                             : mb_fail(a->err, MB_REFUSED, "as you wished, nothing was recorded");
    }
}

enum mb_rc asking_talk(struct call *call, struct typing *typing, bool all, struct mb_error *err)
{
    struct asking a = { .call = call, .typing = typing, .err = err };
    enum mb_rc rc = mb_kinds(call->arena, &a.kinds, err);

    talk_begin(&a.talk, call);
    if (rc == MB_OK)
        rc = ask_kind(&a);
    if (rc == MB_OK)
        rc = ask_subject(&a);
    if (rc == MB_OK)
        rc = mb_record_questions(call->ledger, call->arena, typing->kind, typing->subject, all,
                                 &a.questions, err);
    if (rc != MB_OK)
        return rc;
    screen_say(&a.talk.screen, FAINT, 0,
               "%s of %s. Enter takes what stands in [ ], ? helps, < goes back; * needs an answer.",
               typing->kind, typing->subject);
    rc = ask_fields(&a);
    return rc == MB_OK ? settle(&a) : rc;
}
