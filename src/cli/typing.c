#include "typing.h"

#include <string.h>

#include "text.h"

void typing_put(struct typing *typing, const char *name, const char *value,
                const mb_json *value_json)
{
    struct mb_typed one = { name, value, value_json };

    for (size_t i = 0; i < typing->count; i++)
        if (strcmp(typing->typed[i].name, name) == 0) {
            typing->typed[i] = one;
            return;
        }
    if (typing->count == typing->room) {
        struct mb_typed *more = MB_ARRAY(typing->arena, 2 * typing->room + 16, struct mb_typed);
        if (typing->count > 0)
            memcpy(more, typing->typed, typing->count * sizeof *more);
        typing->typed = more;
        typing->room = 2 * typing->room + 16;
    }
    typing->typed[typing->count++] = one;
}

void typing_drop(struct typing *typing, const char *name)
{
    for (size_t i = 0; i < typing->count; i++)
        if (strcmp(typing->typed[i].name, name) == 0) {
            typing->typed[i] = typing->typed[--typing->count];
            return;
        }
}

const struct mb_typed *typing_get(const struct typing *typing, const char *name)
{
    for (size_t i = 0; i < typing->count; i++)
        if (strcmp(typing->typed[i].name, name) == 0)
            return &typing->typed[i];
    return NULL;
}

void typing_attach(struct typing *typing, const char *file)
{
    if (typing->attach_count == typing->attach_room) {
        const char **more = MB_ARRAY(typing->arena, 2 * typing->attach_room + 8, const char *);
        if (typing->attach_count > 0)
            memcpy(more, typing->attach, typing->attach_count * sizeof *more);
        typing->attach = more;
        typing->attach_room = 2 * typing->attach_room + 8;
    }
    typing->attach[typing->attach_count++] = file;
}

struct mb_recording typing_recording(const struct typing *typing)
{
    return (struct mb_recording){
        .kind = typing->kind,
        .subject = typing->subject,
        .typed = typing->typed,
        .count = typing->count,
        .attach = typing->attach,
        .attach_count = typing->attach_count,
        .where = typing->where,
    };
}

static enum mb_rc put_word(struct typing *typing, const char *word, struct mb_error *err)
{
    struct mb_str name, value;

    if (!mb_str_cut(mb_str_of(word), '=', &name, &value) || name.len == 0)
        return mb_fail(err, MB_REFUSED,
                       "\"%s\" is no FIELD=VALUE; put quotation marks around what has blanks, like"
                       " \"remarks=two pieces\"",
                       word);
    name = mb_str_trim(name);
    word = mb_arena_copy(typing->arena, name.at, name.len);
    if (typing_get(typing, word) != NULL)
        return mb_fail(err, MB_REFUSED,
                       "%s is given twice; give it once, several values divided by \" | \"", word);
    typing_put(typing, word, mb_arena_copy(typing->arena, value.at, value.len), NULL);
    return MB_OK;
}

enum mb_rc typing_words(struct typing *typing, const struct call *call, size_t from,
                        struct mb_error *err)
{
    size_t count;
    const char *const *files = call_values(call, "attach", &count);
    enum mb_rc rc = MB_OK;

    for (size_t i = from; i < call->word_count && rc == MB_OK; i++)
        rc = put_word(typing, call->words[i], err);
    for (size_t i = 0; i < count; i++)
        typing_attach(typing, files[i]);
    return rc;
}

/* ---- from a file ---- */

static enum mb_rc check_members(const mb_json *item, struct mb_error *err)
{
    static const char *const known[] = { "kind", "subject", "fields", "attach" };

    MB_JSON_EACH(member, item) {
        const char *nearest = mb_nearest(member->name, known, 4);
        bool found = false;
        for (size_t i = 0; i < 4; i++)
            found |= mb_str_is(member->name, known[i]);
        if (!found)
            return mb_fail(err, MB_REFUSED,
                           "an entry has no \"%.*s\", but kind, subject, fields and attach%s%s%s",
                           MB_STR_ARG(member->name), nearest ? "; did you mean " : "",
                           nearest ? nearest : "", nearest ? "?" : "");
    }
    return MB_OK;
}

enum mb_rc typing_item(struct typing *typing, const mb_json *item, struct mb_error *err)
{
    const mb_json *fields = mb_json_get(item, "fields"), *attach = mb_json_get(item, "attach");

    if (!mb_json_is(item, MB_JSON_OBJECT))
        return mb_fail(err, MB_REFUSED,
                       "an entry is written {\"kind\":..., \"subject\":..., \"fields\":{...}}");
    if (check_members(item, err) != MB_OK)
        return MB_REFUSED;
    typing->kind = mb_json_cstr(typing->arena, mb_json_get(item, "kind"));
    typing->subject = mb_json_cstr(typing->arena, mb_json_get(item, "subject"));
    if (typing->kind == NULL || typing->subject == NULL)
        return mb_fail(err, MB_REFUSED, "an entry needs a kind and a subject, both as text");
    if (fields != NULL && !mb_json_is(fields, MB_JSON_OBJECT))
        return mb_fail(err, MB_REFUSED, "\"fields\" is written {\"name\":value, ...}");
    MB_JSON_EACH(field, fields) {
        const char *name = mb_arena_copy(typing->arena, field->name.at, field->name.len);
        bool text = mb_json_is(field, MB_JSON_STRING);
        typing_put(typing, name, text ? mb_json_cstr(typing->arena, field) : NULL,
                   text ? NULL : field);
    }
    if (attach != NULL && !mb_json_is(attach, MB_JSON_ARRAY))
        return mb_fail(err, MB_REFUSED, "\"attach\" is a list of files: [\"photo.jpg\", ...]");
    MB_JSON_EACH(file, attach) {
        if (!mb_json_is(file, MB_JSON_STRING))
            return mb_fail(err, MB_REFUSED, "\"attach\" is a list of files: [\"photo.jpg\", ...]");
        typing_attach(typing, mb_json_cstr(typing->arena, file));
    }
    return MB_OK;
}
