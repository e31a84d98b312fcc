/*
 * A small HTTP server, by libmicrohttpd: the only file that knows it. One request after another is
 * handed to one function, in a thread of the server's own; the answer's bytes live in the arena
 * that comes with the request.
 */
#ifndef MB_HTTP_H
#define MB_HTTP_H

#include <markerbed/arena.h>

struct mb_http_request {
    struct mb_str method, path; /* the path as it came, without what stands behind a ? */
    struct mb_str body;
};

struct mb_http_answer {
    unsigned status;
    const char *type; /* Content-Type */
    struct mb_str body;
};

typedef void mb_http_fn(void *ctx, mb_arena *arena, const struct mb_http_request *request,
                        struct mb_http_answer *answer);

typedef struct mb_http mb_http;

/* Listens on a numeric IPv4 address and port (0: any free one). A body longer than body_max is
 * answered with 413 and never kept. MB_REFUSED for an address that is none; MB_UNABLE where the
 * port is not to be had. */
MB_CHECK enum mb_rc mb_http_start(const char *address, unsigned port, size_t body_max,
                                  mb_http_fn *answer, void *ctx, mb_http **out,
                                  struct mb_error *err);
unsigned mb_http_port(const mb_http *http);
mb_http *mb_http_stop(mb_http *http); /* accepts NULL, returns NULL; waits for what is under way */

#endif
