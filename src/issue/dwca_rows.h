/* The tables of a Darwin Core Archive, row by row, for dwca.c. */
#ifndef MB_DWCA_ROWS_H
#define MB_DWCA_ROWS_H

#include "handing.h"

enum mb_dwca_table {
    MB_DWCA_CORE,
    MB_DWCA_IDENTIFICATION,
    MB_DWCA_FACT,
    MB_DWCA_MEDIA,
    MB_DWCA_RELATION,
    MB_DWCA_PREPARATION,
    MB_DWCA_PERMIT,
    MB_DWCA_PRESERVATION,
    MB_DWCA_LOAN,
    MB_DWCA_TABLES
};

struct mb_dwca_term {
    const char *name, *iri, *class_name;
};

struct mb_dwca {
    mb_arena *arena;
    const struct mb_handing *h;
    struct mb_dwca_term *terms; /* schema/vocab/dwc-terms.tsv */
    size_t term_count;
    mb_json *rows[MB_DWCA_TABLES]; /* each row {"id":core id, term:text} */
};

const struct mb_dwca_term *mb_dwca_term(const struct mb_dwca *d, const char *name);
/* All rows of one specimen. */
void mb_dwca_specimen(struct mb_dwca *d, size_t which);
/* "ledger.harrowvane.example/specimen/26-0115" */
const char *mb_dwca_id(const struct mb_dwca *d, struct mb_str subject);
/* Puts a text into a cell that is empty; tabs and line ends become blanks. */
void mb_dwca_put(const struct mb_dwca *d, mb_json *row, const char *term, const char *text);
mb_json *mb_dwca_row(struct mb_dwca *d, enum mb_dwca_table table, const char *id);
/* A value in the words of a cell: lists with " | ", references as IDs, parties by name. NULL for
 * what has none: an answer, geometry, nothing. */
const char *mb_dwca_words(const struct mb_dwca *d, const mb_json *value);
/* The facts of a field whose row is MoF and that has no term. `shared`: what the entry says of all
 * its facts. */
struct mb_kind_field;
void mb_dwca_facts(struct mb_dwca *d, const char *id, int64_t seq,
                   const struct mb_kind_field *field, const mb_json *value,
                   const mb_json *shared);

#endif
