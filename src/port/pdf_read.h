/*
 * A reader for PDF files from strangers (ISO 32000-2, clause 7): objects, cross-reference tables
 * and streams, object streams, updates. It repairs nothing, and everything that it takes or does is
 * counted against a limit, so that no file can make it take much memory or time.
 *
 * A failure sticks to the reader: from then on every call answers with the null value. Ask
 * mb_pdf_reader_rc before believing an answer. Values live in the arena given to mb_pdf_open and
 * point into the file's bytes.
 */
#ifndef MB_PDF_READ_H
#define MB_PDF_READ_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

enum mb_pdf_type {
    MB_PDF_NULL,
    MB_PDF_BOOL,
    MB_PDF_INTEGER,
    MB_PDF_REAL, /* its value is not needed, so not kept */
    MB_PDF_STRING,
    MB_PDF_NAME,
    MB_PDF_ARRAY,
    MB_PDF_DICT, /* and the dictionary of a stream */
    MB_PDF_REF
};

struct mb_pdf_value {
    enum mb_pdf_type type;
    bool stream;         /* a dictionary with packed bytes behind it: .text */
    int64_t number;      /* integer; bool; object number of a reference */
    struct mb_str key;   /* in a dictionary: this entry's name, without the slash */
    struct mb_str text;  /* string, unescaped; name; packed bytes of a stream */
    struct mb_pdf_value *first, *last, *next; /* children in order */
};

typedef struct mb_pdf_reader mb_pdf_reader;

/* Reads the cross-reference sections. err is kept for later failures. */
MB_CHECK enum mb_rc mb_pdf_open(mb_arena *arena, struct mb_str pdf, mb_pdf_reader **out,
                                struct mb_error *err);
enum mb_rc mb_pdf_reader_rc(const mb_pdf_reader *reader);

const struct mb_pdf_value *mb_pdf_root(mb_pdf_reader *reader); /* the catalog */
/* Follows a reference; any other value is its own answer. */
const struct mb_pdf_value *mb_pdf_resolve(mb_pdf_reader *reader, const struct mb_pdf_value *value);
/* The value as it stands, not followed; the null value if there is no such key or dictionary. */
const struct mb_pdf_value *mb_pdf_entry(const struct mb_pdf_value *dict, const char *key);
/* Entry and resolve in one. */
const struct mb_pdf_value *mb_pdf_get(mb_pdf_reader *reader, const struct mb_pdf_value *dict,
                                      const char *key);
bool mb_pdf_name_is(const struct mb_pdf_value *value, const char *name);

/* Unpacks a stream (Flate or nothing, with or without a PNG predictor) into at most max bytes. */
struct mb_str mb_pdf_unpack(mb_pdf_reader *reader, mb_arena *arena,
                            const struct mb_pdf_value *stream, size_t max);

/* ---- between pdf_parse.c and pdf_read.c ---- */

struct mb_pdf_limits {
    int64_t work;  /* bytes looked at, over and over */
    int64_t nodes; /* values made */
    int64_t room;  /* bytes of strings and unpacked structure kept */
};

struct mb_pdf_cursor {
    mb_arena *arena;
    struct mb_pdf_limits *limits;
    struct mb_str bytes;
    size_t pos;
    bool failed;
};

/* Each answers false, and sets failed, where something else stands or a limit is reached. */
bool mb_pdf_skip(struct mb_pdf_cursor *at); /* white space and comments */
bool mb_pdf_word(struct mb_pdf_cursor *at, const char *word);
bool mb_pdf_number(struct mb_pdf_cursor *at, int64_t *out); /* a plain integer, 0 or more */
const struct mb_pdf_value *mb_pdf_parse(struct mb_pdf_cursor *at);
bool mb_pdf_sees(struct mb_pdf_cursor *at, const char *word); /* looks, fails nothing */

extern const struct mb_pdf_value mb_pdf_null;

#endif
