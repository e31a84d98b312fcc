#include "buf.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ROOM_FIRST = 128 };

static void resize(struct mb_buf *buf, size_t room)
{
    char *at = realloc(buf->at, room + 1);

    if (at == NULL)
        abort();
    buf->at = at;
    buf->room = room;
    buf->at[buf->len] = '\0';
}

void mb_buf_init(struct mb_buf *buf, size_t max)
{
    *buf = (struct mb_buf){ .max = max < SIZE_MAX / 4 ? max : SIZE_MAX / 4 };
    resize(buf, buf->max < ROOM_FIRST ? buf->max : ROOM_FIRST);
}

void mb_buf_done(struct mb_buf *buf)
{
    free(buf->at);
    *buf = (struct mb_buf){ 0 };
}

void mb_buf_clear(struct mb_buf *buf)
{
    buf->len = 0;
    buf->full = false;
    if (buf->at != NULL)
        buf->at[0] = '\0';
}

bool mb_buf_ok(const struct mb_buf *buf)
{
    return !buf->full;
}

char *mb_buf_room(struct mb_buf *buf, size_t len)
{
    size_t need, room;

    if (buf->full || len > buf->max - buf->len) {
        buf->full = true;
        return NULL;
    }
    need = buf->len + len;
    if (need > buf->room || buf->at == NULL) {
        room = buf->room * 2 > need ? buf->room * 2 : need;
        resize(buf, room < buf->max ? room : buf->max);
    }
    return buf->at + buf->len;
}

void mb_buf_grew(struct mb_buf *buf, size_t len)
{
    if (len > buf->room - buf->len)
        abort();
    buf->len += len;
    buf->at[buf->len] = '\0';
}

void mb_buf_add(struct mb_buf *buf, const void *bytes, size_t len)
{
    char *to;

    if (len == 0 || (to = mb_buf_room(buf, len)) == NULL)
        return;
    memcpy(to, bytes, len);
    buf->len += len;
    to[len] = '\0';
}

void mb_buf_add_text(struct mb_buf *buf, const char *text)
{
    mb_buf_add(buf, text, strlen(text));
}

void mb_buf_add_str(struct mb_buf *buf, struct mb_str s)
{
    mb_buf_add(buf, s.at, s.len);
}

void mb_buf_add_char(struct mb_buf *buf, char c)
{
    mb_buf_add(buf, &c, 1);
}

void mb_buf_add_escaped(struct mb_buf *buf, struct mb_str text)
{
    for (size_t i = 0; i < text.len; i++)
        switch (text.at[i]) {
        case '&':
            mb_buf_add_text(buf, "&amp;");
            break;
        case '<':
            mb_buf_add_text(buf, "&lt;");
            break;
        case '>':
            mb_buf_add_text(buf, "&gt;");
            break;
        case '"':
            mb_buf_add_text(buf, "&quot;");
            break;
        default:
            mb_buf_add_char(buf, text.at[i]);
        }
}

void mb_buf_printf(struct mb_buf *buf, const char *format, ...)
{
    va_list args;
    char *to;
    int len;

    va_start(args, format);
    len = vsnprintf(NULL, 0, format, args);
    va_end(args);
    if (len < 0)
        abort();
    if (len == 0 || (to = mb_buf_room(buf, (size_t)len)) == NULL)
        return;
    va_start(args, format);
    vsnprintf(to, (size_t)len + 1, format, args);
    va_end(args);
    buf->len += (size_t)len;
}

struct mb_str mb_buf_str(const struct mb_buf *buf)
{
    return (struct mb_str){ buf->at != NULL ? buf->at : "", buf->len };
}
