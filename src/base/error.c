#include <markerbed/error.h>

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "text.h"

/* Sentences quote what strangers wrote: whatever could steer a terminal, turn the reading
 * direction or end the line becomes a question mark, so the text is always one clean line. */
static void make_clean(char *text)
{
    struct mb_str rest = mb_str_of(text);
    uint32_t code;
    char *to = text;

    while (rest.len > 0) {
        size_t len = mb_utf8_next(rest, &code);
        if (len > 0 && mb_char_allowed(code)) {
            memmove(to, rest.at, len);
            to += len;
        } else {
            *to++ = '?';
        }
        len += len == 0;
        rest.at += len;
        rest.len -= len;
    }
    *to = '\0';
}

/* A character that the cut went through is left out whole. */
static void drop_half_character(char *text, size_t len)
{
    size_t back = 0;
    uint32_t code;

    while (back < len && back < 3 && ((unsigned char)text[len - 1 - back] & 0xc0) == 0x80)
        back++;
    if (back >= len || (unsigned char)text[len - 1 - back] < 0xc0)
        return;
    if (mb_utf8_next((struct mb_str){ text + len - 1 - back, back + 1 }, &code) == 0)
        text[len - 1 - back] = '\0';
}

static MB_PRINTF(3, 0) size_t say(char *out, size_t room, const char *format, va_list args)
{
    int len = vsnprintf(out, room, format, args);

    if (len < 0) {
        out[0] = '\0';
        return 0;
    }
    if ((size_t)len < room)
        return (size_t)len;
    drop_half_character(out, room - 1);
    return strlen(out);
}

enum mb_rc mb_fail(struct mb_error *err, enum mb_rc code, const char *format, ...)
{
    va_list args;

    if (err == NULL || err->code != MB_OK)
        return code;
    va_start(args, format);
    say(err->text, sizeof err->text, format, args);
    va_end(args);
    make_clean(err->text);
    err->code = code;
    return code;
}

void mb_fail_where(struct mb_error *err, const char *format, ...)
{
    char whole[sizeof err->text];
    va_list args;
    size_t len, more;

    if (err == NULL || err->code == MB_OK)
        return;
    va_start(args, format);
    len = say(whole, sizeof whole - 2, format, args);
    va_end(args);
    memcpy(whole + len, ": ", 2);
    len += 2;
    more = strlen(err->text);
    if (more > sizeof whole - 1 - len)
        more = sizeof whole - 1 - len;
    memcpy(whole + len, err->text, more);
    whole[len + more] = '\0';
    drop_half_character(whole, len + more);
    make_clean(whole);
    memcpy(err->text, whole, strlen(whole) + 1);
}
