#include <markerbed/json.h>

#include <stdlib.h>
#include <string.h>

#include "json_members.h"
#include "text.h"

const mb_json *mb_json_get_str(const mb_json *object, struct mb_str name)
{
    if (object == NULL || object->type != MB_JSON_OBJECT)
        return NULL;
    MB_JSON_EACH(member, object)
        if (mb_str_equal(member->name, name))
            return member;
    return NULL;
}

const mb_json *mb_json_get(const mb_json *object, const char *name)
{
    return mb_json_get_str(object, mb_str_of(name));
}

const mb_json *mb_json_at(const mb_json *array, size_t index)
{
    if (array == NULL || array->type != MB_JSON_ARRAY || index >= array->count)
        return NULL;
    MB_JSON_EACH(child, array)
        if (index-- == 0)
            return child;
    return NULL;
}

bool mb_json_is(const mb_json *value, enum mb_json_type type)
{
    return value != NULL && value->type == type;
}

bool mb_json_text_is(const mb_json *value, const char *text)
{
    return mb_json_is(value, MB_JSON_STRING) && mb_str_is(value->text, text);
}

struct mb_str mb_json_str(const mb_json *value)
{
    return mb_json_is(value, MB_JSON_STRING) ? value->text : (struct mb_str){ NULL, 0 };
}

const char *mb_json_cstr(mb_arena *arena, const mb_json *v)
{
    return mb_json_is(v, MB_JSON_STRING) ? mb_arena_copy(arena, v->text.at, v->text.len) : NULL;
}

int64_t mb_json_int(const mb_json *value, int64_t fallback)
{
    return mb_json_is(value, MB_JSON_INTEGER) ? value->integer : fallback;
}

bool mb_json_true(const mb_json *value)
{
    return mb_json_is(value, MB_JSON_TRUE);
}

/* ---- comparing ---- */

static int by_name(const void *a, const void *b)
{
    return mb_str_compare((*(const mb_json *const *)a)->name, (*(const mb_json *const *)b)->name);
}

const mb_json **mb_json_members_sort(mb_arena *arena, const mb_json *object)
{
    const mb_json **member = MB_ARRAY(arena, object->count, const mb_json *);
    size_t count = 0;

    MB_JSON_EACH(child, object)
        member[count++] = child;
    if (count > 1)
        qsort(member, count, sizeof member[0], by_name);
    return member;
}

static bool same_many(const mb_json *a, const mb_json *b)
{
    mb_arena *arena = mb_arena_new();
    const mb_json **in_a = mb_json_members_sort(arena, a);
    const mb_json **in_b = mb_json_members_sort(arena, b);
    bool same = true;

    for (uint32_t i = 0; same && i < a->count; i++)
        same = mb_str_equal(in_a[i]->name, in_b[i]->name) && mb_json_equal(in_a[i], in_b[i]);
    mb_arena_free(arena);
    return same;
}

static bool same_members(const mb_json *a, const mb_json *b)
{
    if (a->count > MB_JSON_MEMBERS_FEW)
        return same_many(a, b);
    MB_JSON_EACH(child, a) {
        const mb_json *other = mb_json_get_str(b, child->name);
        if (other == NULL || !mb_json_equal(child, other))
            return false;
    }
    return true;
}

static bool same_elements(const mb_json *a, const mb_json *b)
{
    const mb_json *other = b->first;

    MB_JSON_EACH(child, a) {
        if (!mb_json_equal(child, other))
            return false;
        other = other->next;
    }
    return true;
}

bool mb_json_equal(const mb_json *a, const mb_json *b)
{
    if (a == NULL || b == NULL)
        return a == b;
    if (a->type != b->type || a->count != b->count)
        return false;
    switch (a->type) {
    case MB_JSON_INTEGER:
        return a->integer == b->integer;
    case MB_JSON_NUMBER: /* as written: 1.5 and 1.50 are two values */
    case MB_JSON_STRING:
        return mb_str_equal(a->text, b->text);
    case MB_JSON_ARRAY:
        return same_elements(a, b);
    case MB_JSON_OBJECT:
        return same_members(a, b);
    default:
        return true;
    }
}

/* ---- making ---- */

static mb_json *make(mb_arena *arena, enum mb_json_type type)
{
    mb_json *value = MB_NEW(arena, mb_json);

    value->type = type;
    return value;
}

mb_json *mb_json_object(mb_arena *arena)
{
    return make(arena, MB_JSON_OBJECT);
}

mb_json *mb_json_array(mb_arena *arena)
{
    return make(arena, MB_JSON_ARRAY);
}

mb_json *mb_json_string(mb_arena *arena, const char *text)
{
    return text == NULL ? mb_json_null(arena) : mb_json_string_str(arena, mb_str_of(text));
}

mb_json *mb_json_string_str(mb_arena *arena, struct mb_str text)
{
    mb_json *value = make(arena, MB_JSON_STRING);

    value->text = mb_arena_str(arena, text);
    return value;
}

mb_json *mb_json_integer(mb_arena *arena, int64_t number)
{
    mb_json *value = make(arena, MB_JSON_INTEGER);

    value->integer = number;
    return value;
}

mb_json *mb_json_bool(mb_arena *arena, bool truth)
{
    return make(arena, truth ? MB_JSON_TRUE : MB_JSON_FALSE);
}

mb_json *mb_json_null(mb_arena *arena)
{
    return make(arena, MB_JSON_NULL);
}

mb_json *mb_json_copy(mb_arena *arena, const mb_json *value)
{
    mb_json *copy;

    if (value == NULL)
        return NULL;
    copy = make(arena, value->type);
    copy->integer = value->integer;
    if (value->text.at != NULL)
        copy->text = mb_arena_str(arena, value->text);
    MB_JSON_EACH(child, value) {
        mb_json *child_copy = mb_json_add(copy, mb_json_copy(arena, child));
        if (child->name.at != NULL)
            child_copy->name = mb_arena_str(arena, child->name);
    }
    return copy;
}

/* Puts the value where a member of its name stands already, so that no name ever stands twice. */
static bool replace(mb_json *object, mb_json *value)
{
    mb_json **link = &object->first, *before = NULL;

    while (*link != NULL && !mb_str_equal((*link)->name, value->name)) {
        before = *link;
        link = &before->next;
    }
    if (*link == NULL)
        return false;
    value->next = (*link)->next;
    if (object->last == *link)
        object->last = value;
    *link = value;
    return true;
}

mb_json *mb_json_put_str(mb_arena *arena, mb_json *object, struct mb_str name, mb_json *value)
{
    value->name = mb_arena_str(arena, name);
    return replace(object, value) ? value : mb_json_add(object, value);
}

mb_json *mb_json_put(mb_arena *arena, mb_json *object, const char *name, mb_json *value)
{
    return mb_json_put_str(arena, object, mb_str_of(name), value);
}

mb_json *mb_json_put_text(mb_arena *arena, mb_json *object, const char *name, const char *text)
{
    return mb_json_put(arena, object, name, mb_json_string(arena, text));
}

mb_json *mb_json_put_int(mb_arena *arena, mb_json *object, const char *name, int64_t number)
{
    return mb_json_put(arena, object, name, mb_json_integer(arena, number));
}

mb_json *mb_json_put_bool(mb_arena *arena, mb_json *object, const char *name, bool truth)
{
    return mb_json_put(arena, object, name, mb_json_bool(arena, truth));
}

mb_json *mb_json_add(mb_json *array, mb_json *value)
{
    value->next = NULL;
    if (array->last == NULL)
        array->first = value;
    else
        array->last->next = value;
    array->last = value;
    array->count++;
    return value;
}

mb_json *mb_json_add_text(mb_arena *arena, mb_json *array, const char *text)
{
    return mb_json_add(array, mb_json_string(arena, text));
}
