/* Inside of the overlay: making marks and hanging them on a list. */
#ifndef MB_MARKS_LIST_H
#define MB_MARKS_LIST_H

#include "marks.h"

struct mb_mark_list {
    mb_arena *arena;
    struct mb_mark *first, *last;
};

#define MB_MARKS_INK 0x1A1A40u /* nearly black, a little blue: no rock is */
#define MB_MARKS_PAPER 0xFFFFFFu
#define MB_MARKS_LETTERS_PT 8

/* Each may be NULL where the mark has none. */
void mb_mark_area(struct mb_mark_list *list, const struct mb_mm_ring *rings, size_t count,
                  const struct mb_fill *fill, const struct mb_stroke *stroke);
void mb_mark_box(struct mb_mark_list *list, struct mb_mm_box box, const struct mb_fill *fill,
                 const struct mb_stroke *stroke);
/* Ink on a paler line that is wider, so that it shows on any ground. */
void mb_mark_line(struct mb_mark_list *list, const struct mb_mm *points, size_t count,
                  const struct mb_stroke *stroke);
void mb_mark_circle(struct mb_mark_list *list, struct mb_mm at, double radius_mm,
                    const struct mb_fill *fill, const struct mb_stroke *stroke);
/* On a pale ground of about its size. */
void mb_mark_text(struct mb_mark_list *list, struct mb_mm at, const char *text, bool centred);
/* A mended break, with a tick every so far. */
#define MB_MARKS_TICK_MM 3.5
void mb_mark_join(struct mb_mark_list *list, const struct mb_mm *points, size_t count,
                  enum mb_through through, double every_mm);

#endif
