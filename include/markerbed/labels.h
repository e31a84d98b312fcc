/*
 * Labels for trays and shelves, numbered tags for the field, cards for the bench: PDF pages.
 *
 * A label's code says "ORIGIN SUBJECT", like "ledger.harrowvane.example specimen/26-0115": enough
 * to ask the right ledger, and nothing else. On a label stands no place, no price and no name of a
 * person: trays are seen by visitors.
 */
#ifndef MARKERBED_LABELS_H
#define MARKERBED_LABELS_H

#include <stdbool.h>

#include <markerbed/ledger.h>

struct mb_label_sheet {
    const char *name; /* "A4-24"; NULL: by measures */
    /* in millimetres; 0: as on the sheet of that name, or, by measures, none */
    double page_width, page_height, label_width, label_height, margin_left, margin_top, gap_across,
        gap_down;
};
/* Sheets that are usual in the trade: [{"name","page":"210 x 297","label":"70 x 37","across",
 *  "down"}] */
const mb_json *mb_label_sheets(mb_arena *arena);
/* "40x30" or "63.5x38.1" in millimetres; false if it is none. */
bool mb_label_measure(const char *text, double *width, double *height);

/* Labels of specimens and places (a shelf, a flat), in the order given; `skip`: labels of the first
 * sheet that are gone already. MB_REFUSED where a code on labels of this size could not be read.
 * {"labels","pages"} */
MB_CHECK enum mb_rc mb_labels_pdf(mb_ledger *ledger, mb_arena *arena, const char *const *subjects,
                                  size_t count, const struct mb_label_sheet *sheet, size_t skip,
                                  struct mb_str *pdf, const mb_json **out, struct mb_error *err);

/* Blank field tags, numbered from `first` ("WC-0118") on, with lines to fill in. Their codes say
 * "ORIGIN tag WC-0118". */
MB_CHECK enum mb_rc mb_labels_tags(mb_ledger *ledger, mb_arena *arena, const char *first,
                                   size_t count, const struct mb_label_sheet *sheet, size_t skip,
                                   struct mb_str *pdf, const mb_json **out, struct mb_error *err);

/* A card (A5) for each specimen: what it is, what is open as far as the record shows (what is due,
 * what was not looked at, what is not on record yet), lines for tasks that are written by hand
 * (tasks are no entries), cautions. */
MB_CHECK enum mb_rc mb_labels_bench(mb_ledger *ledger, mb_arena *arena,
                                    const char *const *specimens, size_t count,
                                    struct mb_str *pdf, const mb_json **out, struct mb_error *err);

/* One page for the pocket of somebody new: what to write down at the find, in the order of what
 * cannot be made good later. paper "A4" or "Letter"; needs no ledger. */
MB_CHECK enum mb_rc mb_labels_field_card(mb_arena *arena, const char *paper, struct mb_str *pdf,
                                         struct mb_error *err);

#endif
