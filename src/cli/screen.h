/*
 * Text for a person: wrapped at the width of the terminal (80 columns where there is none), aligned
 * by what characters are wide, in colour only on a terminal and never as the only sign (NO_COLOR).
 * Whatever could steer a terminal is printed as a question mark.
 */
#ifndef MB_SCREEN_H
#define MB_SCREEN_H

#include <stdio.h>

#include <markerbed/json.h>

struct screen {
    FILE *to;
    mb_arena *arena;
    unsigned width;
    bool colour;
};

enum style { PLAIN, STRONG, FAINT, STRUCK, GOOD, BAD, DOUBT };

void screen_open(struct screen *screen, FILE *to, mb_arena *arena);

/* Columns that a text takes on a terminal. */
unsigned screen_columns(struct mb_str text);
/* The text without what could steer a terminal; line ends stay. */
struct mb_str screen_clean(mb_arena *arena, struct mb_str text);

/* One paragraph (or more, divided by line ends), `indent` columns in. */
void screen_say(const struct screen *screen, enum style style, unsigned indent, const char *format,
                ...) MB_PRINTF(4, 5);
/* The same with a label before it, which the text stands beside: `hang` columns in. */
void screen_item(const struct screen *screen, enum style style, unsigned indent, unsigned hang,
                 const char *label, struct mb_str text);
void screen_gap(const struct screen *screen);
/* A heading with an empty line before it. */
void screen_heading(const struct screen *screen, const char *text);
/* The usual cautions, one a line, under a heading of their own; nothing if there are none. */
void screen_cautions(const struct screen *screen, const mb_json *words);

/* Labels with their values beside them, aligned; empty values are left out. */
struct pairs {
    mb_arena *arena;
    struct pair *first, *last;
};
void pairs_add(struct pairs *pairs, const char *label, const char *value);
void pairs_print(const struct screen *screen, unsigned indent, const struct pairs *pairs);

/* {"columns":[...],"rows":[[...]...]}: cells too wide for the line are wrapped; where the columns
 * do not fit side by side at all, each row becomes a block of its own. */
void screen_table(const struct screen *screen, const mb_json *table);
/* The same of a table of which more rows come: its columns are as wide as the rows at hand want. A
 * row more; what it needs on the way is made in the scratch arena. */
struct table;
const struct table *screen_table_begin(const struct screen *screen, const mb_json *table);
void screen_table_row(const struct table *table, const mb_json *row, mb_arena *scratch);

/* Lines of a text at most `width` columns wide; a word that is wider is broken if `hard`. */
struct lines {
    struct mb_str *at;
    size_t count;
};
struct lines screen_wrap(mb_arena *arena, struct mb_str text, unsigned width, bool hard);

#endif
