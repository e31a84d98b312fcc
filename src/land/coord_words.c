#include "coord_words.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

enum mb_rc mb_coord_refuse(struct mb_coord_text *text, const char *format, ...)
{
    char sentence[400];
    va_list args;
    va_start(args, format);
    vsnprintf(sentence, sizeof sentence, format, args);
    va_end(args);
    return mb_fail(text->err, MB_REFUSED, "coordinates \"%.*s\": %s", MB_STR_ARG(text->all),
                   sentence);
}

bool mb_coord_is(const struct mb_coord_token *token, const char *words)
{
    return token->word == MB_WORD_LETTERS && mb_str_among(token->text, words);
}

/* Characters that stand for something alone. Two minute marks make a second mark. */
static bool mark(uint32_t code, enum mb_coord_word *out)
{
    switch (code) {
    case 0xB0:   /* degree sign */
    case 0xBA:   /* masculine ordinal, often typed for it */
    case 0x2DA:  /* ring above */
    case 0x2218: /* ring operator */
        *out = MB_WORD_DEGREE;
        return true;
    case '\'':
    case '`':
    case 0xB4:   /* acute accent */
    case 0x2B9:  /* modifier prime */
    case 0x2018: /* quotation marks */
    case 0x2019:
    case 0x2032: /* prime */
        *out = MB_WORD_MINUTE;
        return true;
    case '"':
    case 0x2BA:  /* modifier double prime */
    case 0x201C: /* quotation marks */
    case 0x201D:
    case 0x2033: /* double prime */
        *out = MB_WORD_SECOND;
        return true;
    case ',':
    case ';':
    case '/':
    case '|':
    case '\n':
        *out = MB_WORD_BREAK;
        return true;
    case '+':
        *out = MB_WORD_PLUS;
        return true;
    case '-':
    case 0x2010: /* hyphen */
    case 0x2011:
    case 0x2012: /* figure dash, en dash */
    case 0x2013:
    case 0x2212: /* minus */
        *out = MB_WORD_MINUS;
        return true;
    default:
        return false;
    }
}

static bool blank(uint32_t code)
{
    return code == ' ' || code == '\t' || code == '\r' || code == ':' || code == '(' ||
           code == ')' || code == 0xA0 || code == 0x2009 || code == 0x202F || code == '=';
}

static bool digit(char c)
{
    return c >= '0' && c <= '9';
}

static enum mb_rc add(struct mb_coord_text *text, struct mb_coord_token token)
{
    if (text->count == MB_COORD_TOKENS_MAX)
        return mb_coord_refuse(text,
                               "too many words and numbers; write latitude and longitude only");
    text->at[text->count++] = token;
    return MB_OK;
}

static enum mb_rc cut_number(struct mb_coord_text *text, size_t *i, bool close)
{
    struct mb_coord_token token = { .word = MB_WORD_NUMBER, .close = close };
    size_t from = *i;
    while (*i < text->all.len && digit(text->all.at[*i]))
        token.whole++, (*i)++;
    if (*i < text->all.len && text->all.at[*i] == '.' && *i + 1 < text->all.len &&
        digit(text->all.at[*i + 1])) {
        text->point = true;
        (*i)++;
        while (*i < text->all.len && digit(text->all.at[*i]))
            token.places++, (*i)++;
    }
    token.text = (struct mb_str){ text->all.at + from, *i - from };
    if (token.whole > 9 || token.places > 15)
        return mb_coord_refuse(text, "the number %.*s has too many digits", MB_STR_ARG(token.text));
    token.value = strtod(mb_arena_copy(text->arena, token.text.at, token.text.len), NULL);
    return add(text, token);
}

static enum mb_rc cut_letters(struct mb_coord_text *text, size_t *i, bool close)
{
    size_t from = *i;
    while (*i < text->all.len && isalpha((unsigned char)text->all.at[*i]))
        (*i)++;
    struct mb_coord_token token = { .word = MB_WORD_LETTERS, .close = close };
    token.text = (struct mb_str){ text->all.at + from, *i - from };
    token.capital = isupper((unsigned char)token.text.at[0]) != 0;
    /* "Lat." and "min." */
    if (*i < text->all.len && text->all.at[*i] == '.')
        (*i)++;
    return add(text, token);
}

/* A mark: sorts out double minute marks, hyphens and decimal commas. */
static enum mb_rc cut_mark(struct mb_coord_text *text, size_t *i, size_t len,
                           enum mb_coord_word word, bool close)
{
    struct mb_coord_token token = { .word = word, .close = close };
    token.text = (struct mb_str){ text->all.at + *i, len };
    bool before = *i > 0 && digit(text->all.at[*i - 1]);
    bool behind = *i + len < text->all.len && digit(text->all.at[*i + len]);
    *i += len;
    if (word == MB_WORD_MINUS && before && behind)
        token.word = MB_WORD_HYPHEN;
    if (word == MB_WORD_BREAK && token.text.at[0] == ',' && before && behind &&
        !memchr(text->all.at, '.', text->all.len))
        return mb_coord_refuse(text,
                               "write decimals with a point, thousands without a comma, and a "
                               "blank behind a comma that divides two numbers");
    if (word == MB_WORD_MINUTE && close && text->count &&
        text->at[text->count - 1].word == MB_WORD_MINUTE) {
        text->at[text->count - 1].word = MB_WORD_SECOND;
        return MB_OK;
    }
    return add(text, token);
}

enum mb_rc mb_coord_cut(struct mb_coord_text *text)
{
    bool close = false;
    enum mb_rc rc = MB_OK;
    for (size_t i = 0; i < text->all.len && rc == MB_OK;) {
        uint32_t code;
        enum mb_coord_word word;
        struct mb_str rest = { text->all.at + i, text->all.len - i };
        size_t len = mb_utf8_next(rest, &code);
        if (len == 0)
            return mb_coord_refuse(text, "the text is not UTF-8");
        if (blank(code) || (code == '.' && i + 1 == text->all.len)) {
            i += len;
            close = false;
            continue;
        }
        if (digit(text->all.at[i]))
            rc = cut_number(text, &i, close);
        else if (mark(code, &word))
            rc = cut_mark(text, &i, len, word, close);
        else if (code < 128 && isalpha((int)code))
            rc = cut_letters(text, &i, close);
        else
            rc = mb_coord_refuse(text, "\"%.*s\" means nothing here", (int)len, rest.at);
        close = true;
    }
    return rc;
}
