/* A sheet's page on paper: text that flows over pages, bars, tables. All in millimetres. */
#ifndef MB_SHEET_LAYOUT_H
#define MB_SHEET_LAYOUT_H

#include "canvas.h"
#include "sheet_page.h"

#define MB_SHEET_MARGIN_MM 14.0

struct mb_sheet {
    mb_arena *arena;
    mb_canvas *canvas;
    double width, height, y;
    double air;      /* between lines and sections: 1 as designed, less where it saves a page */
    int in_row;      /* pictures that stand beside each other already */
    size_t missing;  /* letters for which this computer has no font */
    bool short_end;  /* a certificate's last page is nearly empty */
    const struct mb_page *page;
    struct mb_error *err;
    enum mb_rc rc; /* of the first thing that went wrong; what follows is passed over */
};

extern const struct mb_ink mb_sheet_black, mb_sheet_grey;

double mb_sheet_bottom(const struct mb_sheet *sheet);
double mb_sheet_width(const struct mb_sheet *sheet); /* between the margins */
void mb_sheet_foot(struct mb_sheet *sheet);
void mb_sheet_next(struct mb_sheet *sheet);
/* Begins a page unless there is that much room left. */
void mb_sheet_need(struct mb_sheet *sheet, double height_mm);
/* A long text flows over pages. */
void mb_sheet_flow(struct mb_sheet *sheet, const struct mb_type *type, const char *text, double x,
                   double width);
void mb_sheet_section(struct mb_sheet *sheet, const char *title);
void mb_sheet_item(struct mb_sheet *sheet, const struct mb_page_item *item);

#endif
