/* What asking for a countersignature, giving it and recording it share. */
#ifndef MB_HANDOVER_ENTRY_H
#define MB_HANDOVER_ENTRY_H

#include "entry.h"

/* {"format","origin","entry":"<JWS>~<D>~...~"} */
#define MB_HANDOVER_FORMAT "markerbed-handover/1"

/* Of the kinds that pass a piece on: custody, title. */
bool mb_is_handover(const struct mb_entry *entry);
/* "#12", "12" or a leaf hash. */
bool mb_entry_is_named(const struct mb_entry *entry, const char *name);
/* What it says, in one sentence. */
struct mb_str mb_handover_line(mb_arena *arena, const struct mb_entry *entry);

#endif
