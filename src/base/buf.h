/*
 * A byte buffer that grows up to a stated maximum. Passing the maximum makes the failure stick:
 * later writes do nothing, and the writer checks once at the end with mb_buf_ok.
 */
#ifndef MB_BUF_H
#define MB_BUF_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

struct mb_buf {
    char *at; /* owned by the buffer; a terminating zero stands behind len bytes */
    size_t len, room, max;
    bool full;
};

void mb_buf_init(struct mb_buf *buf, size_t max);
void mb_buf_done(struct mb_buf *buf); /* frees; a second call does nothing */
void mb_buf_clear(struct mb_buf *buf);
bool mb_buf_ok(const struct mb_buf *buf);
void mb_buf_add(struct mb_buf *buf, const void *bytes, size_t len);
void mb_buf_add_text(struct mb_buf *buf, const char *text);
void mb_buf_add_str(struct mb_buf *buf, struct mb_str s);
void mb_buf_add_char(struct mb_buf *buf, char c);
/* Text for XML or HTML, between tags or in a value within double quotes: & < > " are written as the
 * entities that both know. */
void mb_buf_add_escaped(struct mb_buf *buf, struct mb_str text);
void mb_buf_printf(struct mb_buf *buf, const char *format, ...) MB_PRINTF(2, 3);
/* Room for len more bytes to be written by the caller, who then calls mb_buf_grew; NULL if full. */
char *mb_buf_room(struct mb_buf *buf, size_t len);
void mb_buf_grew(struct mb_buf *buf, size_t len);
struct mb_str mb_buf_str(const struct mb_buf *buf); /* borrowed */

#define MB_BUF_AUTO __attribute__((cleanup(mb_buf_done)))

#endif
