#include "screen.h"

#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>
#include <wchar.h>

#include "text.h"

enum { WIDTH_USUAL = 80, WIDTH_LEAST = 40, WIDTH_MOST = 200, LABEL_MOST = 34 };

static unsigned width_of(FILE *to)
{
    struct winsize size;

    if (!isatty(fileno(to)) || ioctl(fileno(to), TIOCGWINSZ, &size) != 0 || size.ws_col == 0)
        return WIDTH_USUAL;
    if (size.ws_col < WIDTH_LEAST)
        return WIDTH_LEAST;
    return size.ws_col > WIDTH_MOST ? WIDTH_MOST : size.ws_col;
}

static bool wants_colour(FILE *to)
{
    const char *no = getenv("NO_COLOR"), *terminal = getenv("TERM");

    return isatty(fileno(to)) && (no == NULL || *no == '\0') && terminal != NULL
           && strcmp(terminal, "dumb") != 0;
}

void screen_open(struct screen *screen, FILE *to, mb_arena *arena)
{
    *screen = (struct screen){ to, arena, width_of(to), wants_colour(to) };
}

unsigned screen_columns(struct mb_str text)
{
    unsigned columns = 0;

    while (text.len > 0) {
        uint32_t code;
        size_t len = mb_utf8_next(text, &code);
        int wide = len > 0 ? wcwidth((wchar_t)code) : 1;

        columns += wide >= 0 ? (unsigned)wide : 1;
        len += len == 0;
        text.at += len;
        text.len -= len;
    }
    return columns;
}

struct mb_str screen_clean(mb_arena *arena, struct mb_str text)
{
    char *to = mb_arena_array(arena, text.len + 1, 1), *start = to;

    while (text.len > 0) {
        uint32_t code;
        size_t len = mb_utf8_next(text, &code);

        if (len > 0 && (mb_char_allowed(code) || code == '\n')) {
            memcpy(to, text.at, len);
            to += len;
        } else {
            *to++ = len == 1 && code == '\t' ? ' ' : '?';
        }
        len += len == 0;
        text.at += len;
        text.len -= len;
    }
    return (struct mb_str){ start, (size_t)(to - start) };
}

/* ---- wrapping ---- */

struct wrapping {
    struct lines lines;
    size_t room;
    mb_arena *arena;
};

static void add_line(struct wrapping *w, const char *from, const char *to)
{
    if (w->lines.count == w->room) {
        struct mb_str *more = MB_ARRAY(w->arena, 2 * w->room + 8, struct mb_str);
        if (w->lines.count > 0)
            memcpy(more, w->lines.at, w->lines.count * sizeof *more);
        w->lines.at = more;
        w->room = 2 * w->room + 8;
    }
    while (to > from && to[-1] == ' ')
        to--;
    w->lines.at[w->lines.count++] = (struct mb_str){ from, (size_t)(to - from) };
}

/* Where a word that begins at `at` must be broken so that it fits; at least one character on. */
static const char *break_word(const char *at, const char *end, unsigned width)
{
    unsigned columns = 0;
    const char *from = at;

    while (at < end) {
        uint32_t code;
        struct mb_str rest = { at, (size_t)(end - at) };
        size_t len = mb_utf8_next(rest, &code);

        len += len == 0;
        columns += screen_columns((struct mb_str){ at, len });
        if (columns > width && at > from)
            break;
        at += len;
    }
    return at;
}

static void wrap_one(struct wrapping *w, struct mb_str text, unsigned width, bool hard)
{
    const char *at = text.at, *end = text.at + text.len, *line = at;
    unsigned column = 0;

    while (at < end) {
        const char *word = at, *stop;
        unsigned wide;

        while (word < end && *word == ' ')
            word++;
        for (stop = word; stop < end && *stop != ' '; stop++)
            ;
        wide = screen_columns((struct mb_str){ at, (size_t)(stop - at) });
        if (at > line && column + wide > width) {
            add_line(w, line, at);
            line = word;
            column = 0;
            wide = screen_columns((struct mb_str){ word, (size_t)(stop - word) });
        }
        while (hard && column == 0 && wide > width) {
            const char *cut = break_word(line, stop, width);
            add_line(w, line, cut);
            line = cut;
            wide = screen_columns((struct mb_str){ line, (size_t)(stop - line) });
        }
        column += wide;
        at = stop;
    }
    add_line(w, line, end);
}

struct lines screen_wrap(mb_arena *arena, struct mb_str text, unsigned width, bool hard)
{
    struct wrapping w = { .arena = arena };
    struct mb_str line, rest = screen_clean(arena, text);
    bool more;

    do {
        more = mb_str_cut(rest, '\n', &line, &rest);
        wrap_one(&w, line, width, hard);
    } while (more && rest.len > 0);
    return w.lines;
}

/* ---- printing ---- */

static const char *const style_codes[] = {
    [PLAIN] = "",        [STRONG] = "\033[1m", [FAINT] = "\033[2m",  [STRUCK] = "\033[9m",
    [GOOD] = "\033[32m", [BAD] = "\033[31m",   [DOUBT] = "\033[33m",
};

static void put(const struct screen *screen, enum style style, struct mb_str text)
{
    bool styled = screen->colour && style != PLAIN && text.len > 0;

    fprintf(screen->to, "%s%.*s%s", styled ? style_codes[style] : "", MB_STR_ARG(text),
            styled ? "\033[0m" : "");
}

static void put_lines(const struct screen *screen, enum style style, unsigned column, unsigned hang,
                      struct mb_str text)
{
    unsigned room = screen->width > hang + 20 ? screen->width - hang : 20;
    struct lines lines = screen_wrap(screen->arena, text, room, false);

    for (size_t i = 0; i < lines.count; i++) {
        unsigned pad = i == 0 ? hang - column : hang;
        if (lines.at[i].len > 0)
            fprintf(screen->to, "%*s", (int)pad, "");
        put(screen, style, lines.at[i]);
        fputc('\n', screen->to);
    }
}

void screen_say(const struct screen *screen, enum style style, unsigned indent, const char *format,
                ...)
{
    va_list args;
    char *text;

    va_start(args, format);
    text = mb_arena_vprintf(screen->arena, format, args);
    va_end(args);
    put_lines(screen, style, 0, indent, mb_str_of(text));
}

void screen_item(const struct screen *screen, enum style style, unsigned indent, unsigned hang,
                 const char *label, struct mb_str text)
{
    struct mb_str clean = screen_clean(screen->arena, mb_str_of(label));
    unsigned column = indent + screen_columns(clean);

    fprintf(screen->to, "%*s", (int)indent, "");
    put(screen, style == STRUCK ? PLAIN : style, clean);
    if (column + 1 > hang) {
        fputc('\n', screen->to);
        column = 0;
    }
    put_lines(screen, style == STRUCK ? STRUCK : PLAIN, column, hang, text);
}

void screen_gap(const struct screen *screen)
{
    fputc('\n', screen->to);
}

void screen_heading(const struct screen *screen, const char *text)
{
    screen_gap(screen);
    screen_say(screen, STRONG, 0, "%s", text);
}

void screen_cautions(const struct screen *screen, const mb_json *words)
{
    if (words == NULL || words->count == 0)
        return;
    screen_heading(screen, "Take care");
    MB_JSON_EACH(one, words)
        screen_say(screen, PLAIN, 2, "%.*s", MB_STR_ARG(mb_json_str(one)));
}

struct pair {
    const char *label, *value;
    struct pair *next;
};

void pairs_add(struct pairs *pairs, const char *label, const char *value)
{
    struct pair *pair;

    if (value == NULL || *value == '\0')
        return;
    pair = MB_NEW(pairs->arena, struct pair);
    *pair = (struct pair){ label, value, NULL };
    if (pairs->last != NULL)
        pairs->last->next = pair;
    else
        pairs->first = pair;
    pairs->last = pair;
}

void pairs_print(const struct screen *screen, unsigned indent, const struct pairs *pairs)
{
    unsigned wide = 0;

    for (const struct pair *p = pairs->first; p != NULL; p = p->next) {
        unsigned columns = screen_columns(mb_str_of(p->label));
        if (columns > wide && columns <= LABEL_MOST)
            wide = columns;
    }
    for (const struct pair *p = pairs->first; p != NULL; p = p->next)
        screen_item(screen, PLAIN, indent, indent + wide + 2, p->label, mb_str_of(p->value));
}
