/*
 * The kinds of entries as schema/kinds tells them, read once by mb_start and never changed: the one
 * place where forms, checks and help learn what a field is. The fields of schema/kinds/common.json
 * stand behind a kind's own where the kind says so.
 *
 * Of a field's members some mean more than their names say:
 *   required  yes; answer: an answer ("not known") will do; when: if `if` holds, else it is asked
 *             for and not demanded; no.
 *   if        {"field":F}: F has a value that is no answer. With "in" the value is one of these,
 *             with "column" that column of some row is.
 *   or        another type that the value may have instead, with the same choices and references.
 *   units     one: the value is a bare decimal. Several, or unitVocab: {"value","unit"}.
 *   unitIn    the unit stands in the field or column of that name.
 *   from      where a value comes from that was not typed (fill.h); "program" is written by some
 *             command and not by a person.
 *   default   what is recorded where nothing else is known; as typed.
 *   future    a day that may well lie ahead (a lease's last).
 */
#ifndef MB_KINDS_H
#define MB_KINDS_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/json.h>

#include "entry.h"

enum mb_value_type {
    MB_V_NONE,
    MB_V_TEXT,
    MB_V_DATE,
    MB_V_DECIMAL,
    MB_V_INTEGER,
    MB_V_CHOICE,
    MB_V_REF,
    MB_V_GEOMETRY,
    MB_V_FILE,
    MB_V_LIST,
    MB_V_ROWS,
    MB_V_TAXON,
    MB_V_DOI,
    MB_V_HASH,
    MB_V_DIGEST,
    MB_V_JWK,
    MB_V_VKEY,
    MB_V_ORIGIN,
    MB_V_ENTRY,
    MB_V_BOOLEAN,
    MB_V_FRACTION,
    MB_V_JWS,
    MB_V_STATEMENT,
    MB_VALUE_TYPE_COUNT
};
extern const char *const mb_value_type_name[MB_VALUE_TYPE_COUNT];

enum mb_required { MB_REQUIRED_NO, MB_REQUIRED_YES, MB_REQUIRED_ANSWER, MB_REQUIRED_WHEN };

/* A short list of words, each with a terminating zero. */
struct mb_words {
    const char **at;
    size_t count;
};

/* Allowed values, from the field's own list or a vocabulary. */
struct mb_choices {
    struct mb_words ids;    /* in the order of the file: the order to offer them in */
    const char **titles;    /* of each; NULL where there are none */
    uint16_t *sorted;       /* indices of ids, by their bytes */
    const char *vocab;      /* name of the vocabulary, NULL for the field's own list */
};

struct mb_kind_field {
    struct mb_str name; /* with a terminating zero, as all texts here */
    const char *title, *help, *term;
    enum mb_value_type type, or_type; /* or_type: MB_V_NONE if there is none */
    enum mb_class in;                 /* of a column or element: that of its field */
    enum mb_required required;
    const char *when;                 /* in words, or NULL */
    int if_field;                     /* index in the kind, -1 if there is no condition */
    const char *if_column;            /* or NULL */
    struct mb_words if_in;
    struct mb_words units;            /* currency codes and the like too */
    const char *unit_in;              /* or NULL */
    struct mb_str min, max;           /* decimals, {NULL, 0} if there is none */
    const struct mb_choices *choices; /* or NULL */
    struct mb_words refs;             /* prefixes of subjects */
    const struct mb_kind_field *of;   /* of a list: what its elements are */
    const struct mb_kind_field *columns;
    size_t column_count;
    struct mb_words answers;
    struct mb_words from;
    struct mb_str usual; /* the default as typed, {NULL, 0} if there is none */
    bool salted, future, common;
    const mb_json *json; /* as it stands in the file */
};

struct mb_kind {
    struct mb_str name;
    const char *title, *help, *example;
    struct mb_words subjects; /* prefixes */
    struct mb_words ask;      /* names of what a person really types */
    bool changes;             /* it can change what the specimen is */
    bool common;              /* has the common fields behind its own */
    const char *writer;       /* the command that writes it, NULL for `record` */
    struct mb_kind_field *fields;
    size_t count;
    const struct mb_kind_field **sorted; /* the same by name */
    size_t index;                        /* of itself, see mb_kinds_at */
    const mb_json *json;                 /* the file */
};

/* By mb_start and mb_stop. MB_UNABLE with file and field where a file under schema/ is wrong. */
MB_CHECK enum mb_rc mb_kinds_start(struct mb_error *err);
void mb_kinds_stop(void);

/* NULL if there is none. Pointers last until mb_stop. */
const struct mb_kind *mb_kind_find(struct mb_str name);
const struct mb_kind_field *mb_kind_field(const struct mb_kind *kind, struct mb_str name);
size_t mb_kinds_count(void);
const struct mb_kind *mb_kinds_at(size_t index); /* by name */

/* The index of an allowed value that is written exactly so; -1 if it is none. */
int mb_choice_find(const struct mb_choices *choices, struct mb_str id);
bool mb_words_has(const struct mb_words *words, struct mb_str word);

/* Prefixes of subjects that people number: all but ledger and key. */
void mb_kinds_prefixes(const char *const **names, size_t *count);
/* Names of all defaults that some field takes from the settings. */
void mb_kinds_settings(mb_arena *arena, const char ***names, size_t *count);
/* The kinds that a subject of this prefix may begin with; none for an unknown prefix. */
struct mb_words mb_kinds_beginning(struct mb_str prefix);

/* "a, b, c" of the first `most`, and " and 7 more". */
char *mb_kinds_join(mb_arena *arena, const char *const *words, size_t count, size_t most);

#endif
