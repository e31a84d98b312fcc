/* Texts of other encodings into UTF-8, by the C library's iconv. */
#ifndef MB_RECODE_H
#define MB_RECODE_H

#include "buf.h"

/* MB_REFUSED if the bytes are not in that encoding or give more than the buffer may hold (no words
 * are put into an error: the caller knows which file it is), MB_UNABLE if it is not known here. */
MB_CHECK enum mb_rc mb_recode(const char *encoding, struct mb_str bytes, struct mb_buf *out);

#endif
