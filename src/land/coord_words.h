/*
 * The words, numbers and marks in a text with coordinates: what coord.c and coord_utm.c share.
 */
#ifndef MB_COORD_WORDS_H
#define MB_COORD_WORDS_H

#include "coord.h"

enum mb_coord_word {
    MB_WORD_NUMBER,
    MB_WORD_MINUS,
    MB_WORD_PLUS,
    MB_WORD_HYPHEN, /* a minus between two digits, without blanks */
    MB_WORD_DEGREE,
    MB_WORD_MINUTE,
    MB_WORD_SECOND,
    MB_WORD_BREAK,  /* comma, semicolon, slash, line end */
    MB_WORD_LETTERS /* everything made of letters */
};

struct mb_coord_token {
    enum mb_coord_word word;
    struct mb_str text; /* number: the digits and the point; letters: as written */
    double value;       /* of a number */
    int whole, places;  /* digits before and behind the point */
    bool capital;       /* the letters are capitals */
    bool close;         /* nothing stands between this and the token before */
};

#define MB_COORD_TOKENS_MAX 40

struct mb_coord_text {
    mb_arena *arena;
    struct mb_str all;
    struct mb_coord_token at[MB_COORD_TOKENS_MAX];
    size_t count;
    bool point; /* a decimal point was seen */
    struct mb_error *err;
};

/* Cuts the text into tokens; MB_REFUSED for characters that mean nothing here. */
MB_CHECK enum mb_rc mb_coord_cut(struct mb_coord_text *text);
/* Is the token one of these words (blank between, small letters)? */
bool mb_coord_is(const struct mb_coord_token *token, const char *words);
/* "coordinates "TEXT": " and the sentence; returns MB_REFUSED. */
enum mb_rc mb_coord_refuse(struct mb_coord_text *text, const char *format, ...) MB_PRINTF(2, 3);

/* Reads the tokens as a UTM position (coord_utm.c). */
MB_CHECK enum mb_rc mb_coord_read_utm(struct mb_coord_text *text, struct mb_coord *out);

#endif
