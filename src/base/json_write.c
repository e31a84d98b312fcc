#include <markerbed/json.h>

#include <stdio.h>
#include <string.h>

#include "buf.h"
#include "json_members.h"
#include "text.h"

struct writer {
    mb_arena *arena;
    struct mb_buf buf;
    bool pretty;
    int depth;
};

static void write_value(struct writer *w, const mb_json *value);

/* RFC 8785 section 3.2.2.2: only these are escaped, and in this way. */
static void write_escape(struct mb_buf *buf, unsigned char c)
{
    static const char plain[] = "\"\\\b\f\n\r\t", letter[] = "\"\\bfnrt";
    const char *at = memchr(plain, c, sizeof plain - 1);

    if (at != NULL) {
        mb_buf_add_char(buf, '\\');
        mb_buf_add_char(buf, letter[at - plain]);
    } else {
        mb_buf_printf(buf, "\\u%04x", c);
    }
}

static void write_text(struct mb_buf *buf, struct mb_str s)
{
    size_t from = 0;

    mb_buf_add_char(buf, '"');
    for (size_t i = 0; i < s.len; i++) {
        unsigned char c = (unsigned char)s.at[i];
        if (c >= 0x20 && c != '"' && c != '\\')
            continue;
        mb_buf_add(buf, s.at + from, i - from);
        write_escape(buf, c);
        from = i + 1;
    }
    if (from < s.len)
        mb_buf_add(buf, s.at + from, s.len - from);
    mb_buf_add_char(buf, '"');
}

static void write_integer(struct mb_buf *buf, int64_t number)
{
    char text[24], *at = text + sizeof text;
    uint64_t size = number < 0 ? 0 - (uint64_t)number : (uint64_t)number;

    do {
        *--at = (char)('0' + size % 10);
        size /= 10;
    } while (size > 0);
    if (number < 0)
        *--at = '-';
    mb_buf_add(buf, at, (size_t)(text + sizeof text - at));
}

static void new_line(struct writer *w)
{
    if (!w->pretty)
        return;
    mb_buf_add_char(&w->buf, '\n');
    for (int i = 0; i < w->depth; i++)
        mb_buf_add(&w->buf, "  ", 2);
}

static void write_child(struct writer *w, const mb_json *child, bool first, bool named)
{
    if (!first)
        mb_buf_add_char(&w->buf, ',');
    new_line(w);
    if (named) {
        write_text(&w->buf, child->name);
        mb_buf_add(&w->buf, ": ", w->pretty ? 2 : 1);
    }
    write_value(w, child);
}

static bool is_sorted(const mb_json *object)
{
    MB_JSON_EACH(child, object)
        if (child->next != NULL && mb_str_compare(child->name, child->next->name) > 0)
            return false;
    return true;
}

static void write_children(struct writer *w, const mb_json *parent)
{
    bool named = parent->type == MB_JSON_OBJECT;

    if (parent->first == NULL) {
        mb_buf_add(&w->buf, named ? "{}" : "[]", 2);
        return;
    }
    mb_buf_add_char(&w->buf, named ? '{' : '[');
    w->depth++;
    if (named && !w->pretty && !is_sorted(parent)) {
        const mb_json **member = mb_json_members_sort(w->arena, parent);
        for (uint32_t i = 0; i < parent->count; i++)
            write_child(w, member[i], i == 0, named);
    } else {
        MB_JSON_EACH(child, parent)
            write_child(w, child, child == parent->first, named);
    }
    w->depth--;
    new_line(w);
    mb_buf_add_char(&w->buf, named ? '}' : ']');
}

static void write_value(struct writer *w, const mb_json *value)
{
    switch (value->type) {
    case MB_JSON_NULL:
        mb_buf_add(&w->buf, "null", 4);
        break;
    case MB_JSON_FALSE:
        mb_buf_add(&w->buf, "false", 5);
        break;
    case MB_JSON_TRUE:
        mb_buf_add(&w->buf, "true", 4);
        break;
    case MB_JSON_INTEGER:
        write_integer(&w->buf, value->integer);
        break;
    case MB_JSON_NUMBER:
        mb_buf_add_str(&w->buf, value->text);
        break;
    case MB_JSON_STRING:
        write_text(&w->buf, value->text);
        break;
    case MB_JSON_ARRAY:
    case MB_JSON_OBJECT:
        write_children(w, value);
        break;
    }
}

static struct mb_str write_whole(mb_arena *arena, const mb_json *value, bool pretty)
{
    struct writer w = { .arena = arena, .pretty = pretty };
    struct mb_str text;

    mb_buf_init(&w.buf, SIZE_MAX);
    if (value == NULL)
        mb_buf_add(&w.buf, "null", 4);
    else
        write_value(&w, value);
    text = mb_arena_str(arena, mb_buf_str(&w.buf));
    mb_buf_done(&w.buf);
    return text;
}

struct mb_str mb_json_write(mb_arena *arena, const mb_json *value)
{
    return write_whole(arena, value, false);
}

struct mb_str mb_json_write_pretty(mb_arena *arena, const mb_json *value)
{
    return write_whole(arena, value, true);
}
