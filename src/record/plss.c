#include "plss.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "text.h"

#define MILE_M 1609.344

enum token_kind { END, NUMBER, LETTERS, FRACTION, COMMA, OTHER };

struct token {
    enum token_kind kind;
    struct mb_str text;
    int value;  /* number; fraction: quarters, 1..3 */
    bool close; /* nothing between this and the one before */
};

#define TOKENS_MAX 120

struct reader {
    mb_arena *arena;
    struct mb_error *err;
    struct mb_plss *out;
    struct token at[TOKENS_MAX + 1];
    size_t count, now;
    bool section_word, joined; /* joined: the next aliquot belongs to the piece under way */
    struct mb_str all;
};

static bool is(const struct token *token, const char *words)
{
    return token->kind == LETTERS && mb_str_among(token->text, words);
}

#define TOWNSHIP "t tp twp twn township"
#define RANGE "r rg rge rng range"
#define SECTION "sec secs sect section sections"
#define LOT "l lot lots"
#define HALF "half"
#define QUARTER "quarter qtr"
#define OF "of the in"
#define AND "and"

/* ---- cutting --------------------------------------------------------------------------------- */

static size_t span(struct mb_str text, size_t from, int (*kind)(int))
{
    size_t to = from;
    while (to < text.len && kind((unsigned char)text.at[to]))
        to++;
    return to - from;
}

/* 1/2, 1/4 and 3/4, and the characters for them; quarters, or 0. */
static int fraction(struct mb_str rest, size_t *len)
{
    static const struct {
        const char *text;
        int quarters;
    } known[] = { { "1/2", 2 },    { "1/4", 1 },    { "3/4", 3 }, { "\u00bd", 2 },
                  { "\u00bc", 1 }, { "\u00be", 3 }, { "/2", 2 },  { "/4", 1 } };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (!mb_str_starts(rest, known[i].text))
            continue;
        *len = strlen(known[i].text);
        /* 1/20 is no half; behind the characters for fractions digits may follow. */
        if ((unsigned char)known[i].text[0] > 127 || rest.len == *len ||
            !isdigit((unsigned char)rest.at[*len]))
            return known[i].quarters;
    }
    return 0;
}

static enum mb_rc cut(struct reader *r)
{
    bool close = false;
    for (size_t i = 0; i < r->all.len;) {
        struct mb_str rest = { r->all.at + i, r->all.len - i };
        unsigned char c = (unsigned char)r->all.at[i];
        size_t len = 1;
        struct token token = { .kind = OTHER, .close = close };
        int quarters = fraction(rest, &len);
        bool in_word = c == '&' && i > 0 && isalpha((unsigned char)r->all.at[i - 1]) &&
                       rest.len > 1 && isalpha((unsigned char)rest.at[1]); /* B&M */
        if (strchr(" \t\r.:()-", c) || in_word) {
            i++;
            close = false;
            continue;
        }
        if (quarters) {
            token.kind = FRACTION;
            token.value = quarters;
        } else if (isdigit(c)) {
            token.kind = NUMBER;
            len = span(r->all, i, isdigit);
            token.value =
                len > 4 ? 9999 : (int)strtol(mb_arena_copy(r->arena, rest.at, len), NULL, 10);
        } else if (isalpha(c)) {
            token.kind = LETTERS;
            len = span(r->all, i, isalpha);
        } else {
            len = 1;
            token.kind = c == ',' || c == ';' || c == '&' || c == '\n' ? COMMA : OTHER;
        }
        token.text = (struct mb_str){ rest.at, len };
        if (r->count == TOKENS_MAX)
            return mb_fail(r->err, MB_REFUSED, "the land description has too many words");
        r->section_word |= is(&token, SECTION);
        r->at[r->count++] = token;
        i += len;
        close = true;
    }
    r->at[r->count] = (struct token){ .kind = END };
    return MB_OK;
}

static const struct token *peek(const struct reader *r, size_t ahead)
{
    size_t at = r->now + ahead;
    return &r->at[at < r->count ? at : r->count];
}

/* ---- township and range ---------------------------------------------------------------------- */

static char side_of(const struct token *token, const char *sides)
{
    static const char *const words[] = { "n north", "s south", "e east", "w west" };
    for (size_t i = 0; i < 4; i++)
        if (is(token, words[i]) && strchr(sides, "NSEW"[i]))
            return "NSEW"[i];
    return 0;
}

static enum mb_rc read_row(struct reader *r, bool township)
{
    const char *name = township ? "township" : "range";
    int *number = township ? &r->out->township : &r->out->range;
    int *quarters = township ? &r->out->township_quarters : &r->out->range_quarters;
    char *side = township ? &r->out->township_side : &r->out->range_side;
    if (*number)
        return mb_fail(r->err, MB_REFUSED, "the land description names two %ss", name);
    r->now++;
    *number = peek(r, 0)->value;
    if (*number < 1 || *number > 200)
        return mb_fail(r->err, MB_REFUSED, "%s %.*s cannot be; it must be 1 to 200", name,
                       MB_STR_ARG(peek(r, 0)->text));
    r->now++;
    if (peek(r, 0)->kind == FRACTION) {
        *quarters = peek(r, 0)->value;
        r->now++;
    }
    *side = side_of(peek(r, 0), township ? "NS" : "EW");
    if (!*side)
        return mb_fail(r->err, MB_REFUSED, "%s %d needs %s behind it", name, *number,
                       township ? "N or S" : "E or W");
    r->now++;
    r->joined = false;
    return MB_OK;
}

/* ---- sections and lots ----------------------------------------------------------------------- */

/* 6th: not one more section. */
static bool ordinal(const struct token *behind_number)
{
    return behind_number->close && is(behind_number, "st nd rd th d");
}

static enum mb_rc read_numbers(struct reader *r, const char *name, int most, int *list,
                               size_t *count, size_t room)
{
    r->now++;
    while (peek(r, 0)->kind == NUMBER) {
        int number = peek(r, 0)->value;
        if (number < 1 || number > most)
            return mb_fail(r->err, MB_REFUSED, "%s %.*s cannot be; it must be 1 to %d", name,
                           MB_STR_ARG(peek(r, 0)->text), most);
        if (*count == room)
            return mb_fail(r->err, MB_REFUSED, "the land description names more than %zu %ss", room,
                           name);
        list[(*count)++] = number;
        r->now++;
        size_t gap = 0;
        while (peek(r, gap)->kind == COMMA || is(peek(r, gap), AND))
            gap++;
        if (!gap || peek(r, gap)->kind != NUMBER || ordinal(peek(r, gap + 1)))
            break;
        r->now += gap;
    }
    r->joined = false;
    return MB_OK;
}

/* ---- aliquot parts --------------------------------------------------------------------------- */

static enum mb_rc add_aliquot(struct reader *r, const char *where)
{
    struct mb_plss *out = r->out;
    if (!r->joined) {
        if (out->piece_count == MB_PLSS_PIECES_MAX)
            return mb_fail(r->err, MB_REFUSED, "the land description names more than %d parts",
                           MB_PLSS_PIECES_MAX);
        out->piece_count++;
        r->joined = true;
    }
    struct mb_plss_piece *piece = &out->pieces[out->piece_count - 1];
    if (piece->count == MB_PLSS_NESTED_MAX)
        return mb_fail(r->err, MB_REFUSED,
                       "the land description divides a section more than %d times",
                       MB_PLSS_NESTED_MAX);
    struct mb_aliquot *aliquot = &piece->at[piece->count++];
    for (size_t i = 0; i < 2 && where[i]; i++)
        aliquot->where[i] = where[i];
    return MB_OK;
}

/* Letters that are quarters and nothing else: NE, NESW; or words: northeast. */
static size_t quarters_in(const struct token *token, char out[2 * MB_PLSS_NESTED_MAX + 1])
{
    static const char *const words[] = { "northeast", "northwest", "southeast", "southwest" };
    for (size_t i = 0; i < 4; i++)
        if (is(token, words[i])) {
            out[0] = i < 2 ? 'N' : 'S';
            out[1] = i % 2 ? 'W' : 'E';
            return 1;
        }
    size_t len = token->text.len;
    if (token->kind != LETTERS || len % 2 || len > 2 * MB_PLSS_NESTED_MAX)
        return 0;
    for (size_t i = 0; i < len; i++) {
        out[i] = (char)toupper((unsigned char)token->text.at[i]);
        if (!strchr(i % 2 ? "EW" : "NS", out[i]))
            return 0;
    }
    return len / 2;
}

/* How many tokens say "quarter" (or "half") behind a direction; 0 if none does. */
static size_t size_words(const struct reader *r, bool half)
{
    const struct token *next = peek(r, 1);
    if (next->kind == FRACTION && next->value == (half ? 2 : 1))
        return 1;
    if (is(next, half ? HALF : QUARTER))
        return 1;
    return next->kind == NUMBER && next->close && next->value == (half ? 2 : 4) ? 1 : 0;
}

/* True if the token under way is an aliquot part; *rc says whether it was taken well. */
static bool read_aliquot(struct reader *r, enum mb_rc *rc)
{
    char letters[2 * MB_PLSS_NESTED_MAX + 1] = "", side = side_of(peek(r, 0), "NSEW");
    size_t size = size_words(r, side != 0);
    *rc = MB_OK;
    if (side && size) {
        bool short_form = peek(r, 1)->kind == NUMBER;
        if (side == 'S' && short_form && !r->section_word)
            return false; /* S2: section 2 */
        *rc = add_aliquot(r, (char[]){ side, 0 });
        r->now += 1 + size;
        return true;
    }
    size_t count = quarters_in(peek(r, 0), letters);
    if (!count)
        return false;
    for (size_t i = 0; i < count && *rc == MB_OK; i++)
        *rc = add_aliquot(r, (char[]){ letters[2 * i], letters[2 * i + 1], 0 });
    r->now += 1 + size;
    return true;
}

/* ---- the rest -------------------------------------------------------------------------------- */

static bool starts_something(struct reader *r)
{
    const struct token *token = peek(r, 0), *next = peek(r, 1);
    bool number = next->kind == NUMBER;
    return (number && (is(token, TOWNSHIP) || is(token, RANGE) || is(token, SECTION) ||
                       is(token, LOT) || is(token, "s"))) ||
           token->kind == COMMA || token->kind == END;
}

/* Words up to the next comma or known element: a meridian, or not understood. */
static void read_words(struct reader *r)
{
    const char *from = peek(r, 0)->text.at;
    const char *to = from;
    do {
        to = peek(r, 0)->text.at + peek(r, 0)->text.len;
        r->now++;
    } while (!starts_something(r));
    struct mb_str words = { from, (size_t)(to - from) };
    const char *meridian = mb_plss_meridian(words);
    bool named = false;
    for (size_t i = 0; i + 8 <= words.len; i++)
        named |= strncasecmp(words.at + i, "meridian", 8) == 0;
    if (!r->out->meridian && (meridian || named)) {
        r->out->meridian = meridian ? meridian : mb_arena_copy(r->arena, words.at, words.len);
        r->out->meridian_known = meridian != NULL;
        return;
    }
    r->out->rest = r->out->rest
                       ? mb_arena_printf(r->arena, "%s, %.*s", r->out->rest, MB_STR_ARG(words))
                       : mb_arena_copy(r->arena, words.at, words.len);
}

static enum mb_rc read_one(struct reader *r)
{
    const struct token *token = peek(r, 0);
    bool number = peek(r, 1)->kind == NUMBER;
    enum mb_rc rc;
    if (token->kind == COMMA || is(token, AND)) {
        r->joined = false;
        r->now++;
        return MB_OK;
    }
    if (is(token, OF)) {
        r->now++;
        return MB_OK;
    }
    if (number && (is(token, TOWNSHIP) || is(token, RANGE)))
        return read_row(r, is(token, TOWNSHIP));
    if (read_aliquot(r, &rc))
        return rc;
    if (number && (is(token, SECTION) || is(token, "s")))
        return read_numbers(r, "section", 36, r->out->sections, &r->out->section_count,
                            MB_PLSS_SECTIONS_MAX);
    if (number && is(token, LOT))
        return read_numbers(r, "lot", 200, r->out->lots, &r->out->lot_count, MB_PLSS_LOTS_MAX);
    read_words(r);
    return MB_OK;
}

enum mb_rc mb_plss_read(mb_arena *arena, struct mb_str text, struct mb_plss *out,
                        struct mb_error *err)
{
    struct mb_plss plss = { .verbatim = mb_arena_copy(arena, text.at, text.len) };
    struct reader *r = MB_NEW(arena, struct reader);
    *r = (struct reader){ .arena = arena, .err = err, .out = &plss, .all = mb_str_trim(text) };
    if (r->all.len > MB_PLSS_TEXT_MAX)
        return mb_fail(err, MB_REFUSED, "the land description is longer than %d characters",
                       MB_PLSS_TEXT_MAX);
    enum mb_rc rc = cut(r);
    while (rc == MB_OK && r->now < r->count)
        rc = read_one(r);
    if (rc != MB_OK)
        return rc;
    if (!plss.township || !plss.range)
        return mb_fail(
            err, MB_REFUSED,
            "no %s in the land description; write it such as T. 12 S., R. 31 W., sec. 14",
            plss.township ? "range"
            : plss.range  ? "township"
                          : "township and range");
    if (plss.piece_count && !plss.section_count)
        return mb_fail(err, MB_REFUSED,
                       "a part of a section is named but no section; write it such "
                       "as sec. 14");
    *out = plss;
    return MB_OK;
}

/* ---- writing and measuring ------------------------------------------------------------------- */

static const char *quarters_text(int quarters)
{
    static const char *const texts[] = { "", " 1/4", " 1/2", " 3/4" };
    return texts[quarters];
}

static const char *write_pieces(mb_arena *arena, const struct mb_plss *plss, const char *text)
{
    for (size_t i = 0; i < plss->piece_count; i++)
        for (size_t j = 0; j < plss->pieces[i].count; j++) {
            const char *where = plss->pieces[i].at[j].where;
            text = mb_arena_printf(arena, "%s%s%s1/%d", text,
                                   j   ? " "
                                   : i ? " and "
                                       : ", ",
                                   where, where[1] ? 4 : 2);
        }
    return text;
}

char *mb_plss_write(mb_arena *arena, const struct mb_plss *plss)
{
    const char *text = mb_arena_printf(
        arena, "T. %d%s %c., R. %d%s %c.", plss->township, quarters_text(plss->township_quarters),
        plss->township_side, plss->range, quarters_text(plss->range_quarters), plss->range_side);
    for (size_t i = 0; i < plss->section_count; i++)
        text = mb_arena_printf(arena, "%s%s%d", text,
                               i                         ? ", "
                               : plss->section_count > 1 ? ", secs. "
                                                         : ", sec. ",
                               plss->sections[i]);
    text = write_pieces(arena, plss, text);
    for (size_t i = 0; i < plss->lot_count; i++)
        text = mb_arena_printf(arena, "%s, lot %d", text, plss->lots[i]);
    return mb_arena_printf(arena, "%s%s%s", text, plss->meridian ? ", " : "",
                           plss->meridian ? plss->meridian : "");
}

static void size_of(const struct mb_plss_piece *piece, double *wide, double *high)
{
    *wide = *high = 1;
    for (size_t i = 0; i < piece->count; i++) {
        const char *where = piece->at[i].where;
        if (where[1] || strchr("EW", where[0]))
            *wide /= 2;
        if (where[1] || strchr("NS", where[0]))
            *high /= 2;
    }
}

double mb_plss_acres(const struct mb_plss *plss)
{
    double wide, high, sections = 0;
    if (plss->lot_count || (plss->piece_count && plss->section_count > 1))
        return -1;
    if (!plss->section_count)
        return 36 * 640;
    for (size_t i = 0; i < plss->piece_count; i++) {
        size_of(&plss->pieces[i], &wide, &high);
        sections += wide * high;
    }
    if (!plss->piece_count)
        sections = 1;
    return 640 * sections * (double)plss->section_count;
}

double mb_plss_extent_m(const struct mb_plss *plss)
{
    double wide = 1, high = 1;
    if (plss->section_count != 1)
        wide = high = 6;
    else if (plss->piece_count == 1 && !plss->lot_count)
        size_of(&plss->pieces[0], &wide, &high);
    return hypot(wide, high) / 2 * MILE_M;
}
