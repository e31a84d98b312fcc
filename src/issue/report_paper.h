/*
 * Reports on paper: headings, sentences, pairs and tables that flow over as many pages as they
 * need, with a foot on each. Lengths in millimetres from the top left corner of the page.
 *
 * Nothing is ever cut: a text that is longer than the room goes on on the next page, and a table's
 * heading stands again above what goes on. What goes wrong first sticks in rc and err; what follows
 * is passed over, and mb_report_finish tells it.
 */
#ifndef MB_REPORT_PAPER_H
#define MB_REPORT_PAPER_H

#include "canvas.h"

#define MB_REPORT_MARGIN_MM 16.0
enum { MB_REPORT_COLUMNS_MAX = 8 };

struct mb_report {
    mb_arena *arena;
    mb_canvas *canvas;
    double width, height; /* of the page */
    double y;             /* where the next thing goes */
    const char *foot;     /* on every page, at the left; the page's number stands at the right */
    int64_t created;
    bool svg;
    struct mb_error *err;
    enum mb_rc rc;
};

extern const struct mb_ink mb_report_black, mb_report_grey, mb_report_pale;

struct mb_report_setup {
    const char *paper; /* "A4", "Letter"; NULL: A4 */
    const char *title, *author, *subject, *foot;
    int64_t created; /* seconds since 1970 */
    bool svg;        /* one page as SVG, without a foot; nothing may flow over */
};

/* MB_REFUSED for another paper. Close the canvas where it was opened. */
MB_CHECK enum mb_rc mb_report_open(struct mb_report *report, mb_arena *arena,
                                   const struct mb_report_setup *setup, struct mb_error *err);
/* Ends the drawing; the PDF has its language and metadata. */
MB_CHECK enum mb_rc mb_report_finish(struct mb_report *report, struct mb_str *pdf);

double mb_report_bottom(const struct mb_report *report);
double mb_report_width(const struct mb_report *report); /* between the margins */
void mb_report_next(struct mb_report *report);
/* Begins a page unless there is that much room left. */
void mb_report_need(struct mb_report *report, double height_mm);

void mb_report_flow(struct mb_report *report, const struct mb_type *type, const char *text,
                    double x, double width);
/* One short text that is not to be parted; its height. */
double mb_report_text(struct mb_report *report, const struct mb_type *type, const char *text,
                      double x, double y, double width);
void mb_report_title(struct mb_report *report, const char *title);
void mb_report_section(struct mb_report *report, const char *title);
void mb_report_group(struct mb_report *report, const char *title);
void mb_report_say(struct mb_report *report, const char *text);
void mb_report_strong(struct mb_report *report, const char *text); /* in a frame's weight */
void mb_report_small(struct mb_report *report, const char *text);  /* grey, for what explains */
/* Label at the left, text at the right. */
void mb_report_pair(struct mb_report *report, const char *label, const char *text);

struct mb_report_table {
    size_t columns;
    const double *shares;    /* of the width; they need not add up to 1 */
    const char *const *head; /* NULL: none */
};
/* Rows come one by one between begin and end; a NULL cell is empty. */
void mb_report_table_begin(struct mb_report *report, const struct mb_report_table *table);
void mb_report_table_row(struct mb_report *report, const struct mb_report_table *table,
                         const char *const *cells);
void mb_report_table_end(struct mb_report *report);

#endif
