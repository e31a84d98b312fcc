/* Tag files of a bag (RFC 8493 section 2.2): their text, and which paths may stand in them. */
#ifndef MB_BAG_TEXT_H
#define MB_BAG_TEXT_H

#include <markerbed/json.h>

/* What bagit.txt says. */
struct mb_bag_form {
    int major, minor;
    const char *encoding;
};

/* MB_REFUSED: "bagit.txt ...". From version 1.0 on nothing but the two lines as RFC 8493 writes
 * them; older ones may have more blanks. */
MB_CHECK enum mb_rc mb_bag_form_read(mb_arena *arena, struct mb_str bytes,
                                     struct mb_bag_form *out, struct mb_error *err);
/* A tag file's bytes as UTF-8. MB_REFUSED where they are not in that encoding, MB_UNABLE where we
 * do not know the encoding. */
MB_CHECK enum mb_rc mb_bag_recode(mb_arena *arena, const char *encoding, struct mb_str bytes,
                                  struct mb_str *out, struct mb_error *err);
/* Cuts the next line off, at CR, LF or CRLF. False at the end. */
bool mb_bag_line(struct mb_str *rest, struct mb_str *line);
/* bag-info.txt: [{"label","value"}], continued lines put together. MB_REFUSED with the line. */
MB_CHECK enum mb_rc mb_bag_info_read(mb_arena *arena, struct mb_str text, const mb_json **out,
                                     struct mb_error *err);
/* The first value of a label, however it is capitalised; {NULL, 0} if there is none. */
struct mb_str mb_bag_info(const mb_json *info, const char *label);

/* Why this path must not be used; NULL if it may. It leads out of the bag ("..", "/", "~", "C:"),
 * or has characters that a system takes for something else. */
const char *mb_bag_path_bad(struct mb_str path);
/* CR, LF and % as %0D, %0A, %25, and back. Before version 1.0 a % stands for itself. */
char *mb_bag_path_write(mb_arena *arena, const char *path);
struct mb_str mb_bag_path_read(mb_arena *arena, struct mb_str written, bool since_1_0);

#endif
