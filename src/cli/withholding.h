/* The options --withhold FIELD and --because WHY, of commands that give a record away. */
#ifndef MB_WITHHOLDING_H
#define MB_WITHHOLDING_H

#include <markerbed/certificate.h>

#include "command.h"

/* A reason stands for all fields before it that have none yet. MB_REFUSED where one lacks. */
MB_CHECK enum mb_rc withholding_read(const struct call *call, const struct mb_withhold **list,
                                     size_t *count, struct mb_error *err);

#endif
