/* What `markerbed list` can list; for its help and completion. */
#ifndef MB_LISTS_H
#define MB_LISTS_H

extern const char *const list_names[]; /* NULL-ended */

#endif
