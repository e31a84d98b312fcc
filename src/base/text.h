/* Text: comparing, cutting, UTF-8, and what may stand in a recorded text. */
#ifndef MB_TEXT_H
#define MB_TEXT_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

bool mb_str_equal(struct mb_str a, struct mb_str b);
bool mb_str_is(struct mb_str s, const char *text);
bool mb_str_starts(struct mb_str s, const char *prefix);
/* One of these ("n north"), whatever the case of its ASCII letters? */
bool mb_str_among(struct mb_str s, const char *words);
int mb_str_compare(struct mb_str a, struct mb_str b); /* by bytes; a prefix is smaller */
struct mb_str mb_str_of(const char *text);            /* NULL gives {NULL, 0} */
struct mb_str mb_str_trim(struct mb_str s);           /* ASCII blanks at both ends */
/* Cuts at the first `mark`: *head gets what stands before, *rest what stands behind. False if the
 * mark is not there: *head is all, *rest empty. */
bool mb_str_cut(struct mb_str s, char mark, struct mb_str *head, struct mb_str *rest);

/* Length in bytes (1-4) of the well-formed UTF-8 character at s, 0 if there is none (RFC 3629:
 * no overlong forms, no surrogates, nothing past U+10FFFF); *code gets the code point. */
size_t mb_utf8_next(struct mb_str s, uint32_t *code);
bool mb_utf8_ok(struct mb_str s);
/* False for C0 and C1 controls, U+007F, and the bidirectional formatting characters (U+061C,
 * U+200E, U+200F, U+202A-202E, U+2066-2069), which can make a text show other than it is. */
bool mb_char_allowed(uint32_t code);
bool mb_text_allowed(struct mb_str s, bool line_ends); /* UTF-8, allowed; LF and tab if wanted */

/* IDs: 1-64 of A-Z a-z 0-9 . _ -, beginning with a letter or digit. */
#define MB_ID_MAX 64
bool mb_id_ok(struct mb_str id);
/* Small letters, ASCII only: IDs are unique ignoring case. */
char *mb_lower(mb_arena *arena, struct mb_str s);

/* The allowed word nearest to `word` (fewest edits: one character put in, left out, replaced, or
 * changed with its neighbour; at most 3 and fewer than half of its length), or NULL: for "did you
 * mean". */
const char *mb_nearest(struct mb_str word, const char *const *allowed, size_t count);

#endif
