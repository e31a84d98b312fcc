/*
 * A Darwin Core Archive of what a handover holds (text guide of TDWG, 2023-09-13): meta.xml, an
 * occurrence core of one row a specimen, and extensions, each a table of tab-divided UTF-8 text.
 *
 * Which field goes where is told by schema/kinds alone: a field's `term` is its column, the class
 * of that term in schema/vocab/dwc-terms.tsv its table; `row` MoF, Media or Rel gives a row of its
 * own to measurements and facts, pictures and papers, relations to other pieces. Answers (not
 * known, none ...) and fields that are not shown leave a cell empty; coordinateUncertaintyInMeters
 * is never 0.
 *
 * Values of ours that are none of the standard's are put into its words by `dwc` in
 * schema/vocab/dwc-words.json (natural fossil: FossilSpecimen).
 */
#ifndef MB_DWCA_H
#define MB_DWCA_H

#include "handing.h"

struct mb_dwca_file {
    const char *name; /* "meta.xml" */
    struct mb_str bytes;
};

/* In the order in which they go into the archive: meta.xml first. */
MB_CHECK enum mb_rc mb_dwca_make(const struct mb_handing *h, struct mb_dwca_file **files,
                                 size_t *count, struct mb_error *err);

#endif
