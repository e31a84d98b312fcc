/* The papers of a handover: the whole record, a form to sign, receipts; each a PDF. */
#ifndef MB_PAPERS_H
#define MB_PAPERS_H

#include "handing.h"

enum mb_handed_as { MB_AS_GIFT, MB_AS_LOAN, MB_AS_DEPOSIT, MB_AS_NOTHING };

/* What the pieces are handed over as: asked (may be NULL), or by the dealing of the newest change
 * of hands, or by land and title. MB_REFUSED for a gift of a find from federal or tribal land, and
 * for a word that is none of gift, loan, deposit. *why: why there is no deed, where there is none.
 */
MB_CHECK enum mb_rc mb_papers_choose(const struct mb_handing *h, const char *asked,
                                     enum mb_handed_as *as, const char **why,
                                     struct mb_error *err);

MB_CHECK enum mb_rc mb_paper_record(const struct mb_handing *h, const char *paper,
                                    struct mb_str *pdf, struct mb_error *err);
/* The deed of gift, loan agreement or receipt of a repository; a draft. */
MB_CHECK enum mb_rc mb_paper_form(const struct mb_handing *h, enum mb_handed_as as,
                                  const char *paper, struct mb_str *pdf, struct mb_error *err);
/* The receipt that the museum signs on entry, or the giver keeps on exit. */
MB_CHECK enum mb_rc mb_paper_receipt(const struct mb_handing *h, bool entry, const char *paper,
                                     struct mb_str *pdf, struct mb_error *err);

/* ---- for the papers themselves ---- */

/* A page of a specimen's, still without items. */
struct mb_page *mb_paper_new(const struct mb_handing *h, size_t which);

/* Makes the page of one piece, all of it in h->arena, which is let go once the page is drawn. */
typedef struct mb_page *mb_paper_page_fn(const struct mb_handing *h, size_t which);

struct mb_paper {
    const char *title;          /* NULL: each page's own */
    const char *banner;         /* NULL: none */
    mb_paper_page_fn *page_of;  /* for each piece; NULL: there is only this one */
    const struct mb_page *only;
};

MB_CHECK enum mb_rc mb_paper_draw(const struct mb_handing *h, const struct mb_paper *what,
                                  const char *paper, struct mb_str *pdf, struct mb_error *err);
/* Who gives: the owner by the newest title, else who held it last; by name where it is shown. */
const char *mb_paper_giver(const struct mb_handing *h, size_t which);
/* What it is, in a few words. */
const char *mb_paper_object(const struct mb_handing *h, size_t which);

/* Each material that was used on the piece: [{"material","where","solvent"?,"removable"?,"help"?}],
 * by its entries and schema/vocab/material.json. */
mb_json *mb_paper_materials(const struct mb_handing *h, size_t which);

#endif
