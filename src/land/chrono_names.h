/* How the chart is kept, and its names compared: what chrono.c and chrono_table.c share. */
#ifndef MB_CHRONO_NAMES_H
#define MB_CHRONO_NAMES_H

#include "chrono.h"

mb_chrono *mb_chrono_new(mb_arena *arena);
void mb_chrono_set_version(mb_chrono *chart, const char *version);
struct mb_chrono_unit *mb_chrono_add(mb_chrono *chart); /* a new unit at the end */
/* The parent's ID ("" for none) of the unit added last. */
void mb_chrono_note_parent(mb_chrono *chart, const char *id);
/* Finds the parents and checks that each unit lies inside its own. */
MB_CHECK enum mb_rc mb_chrono_link(mb_arena *arena, mb_chrono *chart, struct mb_error *err);

/* How names compare: small letters and digits only, "ae" as "e", no rank word at the end. */
char *mb_chrono_fold(mb_arena *arena, struct mb_str name);

#endif
