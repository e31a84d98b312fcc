#include "http.h"

#include <arpa/inet.h>
#include <microhttpd.h>
#include <stdbool.h>
#include <string.h>

enum { SECONDS_IDLE = 20, CONNECTIONS_MAX = 32 };

struct mb_http {
    mb_arena *arena; /* of the server itself */
    struct MHD_Daemon *daemon;
    size_t body_max;
    mb_http_fn *answer;
    void *ctx;
};

/* One request on its way in. */
struct coming {
    mb_arena *arena;
    char *body;
    size_t len, room;
    bool too_long;
};

static bool keep(struct coming *coming, const char *bytes, size_t len, size_t max)
{
    if (len > max - coming->len)
        return false;
    if (coming->len + len > coming->room) {
        size_t room = 2 * (coming->len + len);
        char *more = mb_arena_get(coming->arena, room);

        if (coming->len)
            memcpy(more, coming->body, coming->len);
        coming->body = more;
        coming->room = room;
    }
    memcpy(coming->body + coming->len, bytes, len);
    coming->len += len;
    return true;
}

static enum MHD_Result send_answer(struct MHD_Connection *connection, unsigned status,
                                   const char *type, struct mb_str body)
{
    union {
        const char *is;
        void *was; /* the library copies and never writes */
    } bytes = { body.at };
    struct MHD_Response *response =
        MHD_create_response_from_buffer(body.len, bytes.was, MHD_RESPMEM_MUST_COPY);
    enum MHD_Result sent;

    if (!response)
        return MHD_NO;
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
    MHD_add_response_header(response, "X-Content-Type-Options", "nosniff");
    sent = MHD_queue_response(connection, status, response);
    MHD_destroy_response(response);
    return sent;
}

static enum MHD_Result take(void *ctx, struct MHD_Connection *connection, const char *url,
                            const char *method, const char *version, const char *bytes,
                            size_t *len, void **state)
{
    struct mb_http *http = ctx;
    struct coming *coming = *state;
    struct mb_http_request request;
    struct mb_http_answer answer = { 500, "text/plain; charset=utf-8", { "", 0 } };

    (void)version;
    if (!coming) {
        mb_arena *arena = mb_arena_new();

        coming = MB_NEW(arena, struct coming);
        coming->arena = arena;
        *state = coming;
        return MHD_YES;
    }
    if (*len) {
        coming->too_long = coming->too_long || !keep(coming, bytes, *len, http->body_max);
        *len = 0;
        return MHD_YES;
    }
    if (coming->too_long)
        return send_answer(connection, 413, answer.type, MB_STR("the request is too long\n"));
    request.method = (struct mb_str){ method, strlen(method) };
    request.path = (struct mb_str){ url, strlen(url) };
    request.body = (struct mb_str){ coming->body ? coming->body : "", coming->len };
    http->answer(http->ctx, coming->arena, &request, &answer);
    return send_answer(connection, answer.status, answer.type, answer.body);
}

static void done(void *ctx, struct MHD_Connection *connection, void **state,
                 enum MHD_RequestTerminationCode why)
{
    struct coming *coming = *state;

    (void)ctx;
    (void)connection;
    (void)why;
    if (coming)
        mb_arena_free(coming->arena);
    *state = NULL;
}

enum mb_rc mb_http_start(const char *address, unsigned port, size_t body_max, mb_http_fn *answer,
                         void *ctx, mb_http **out, struct mb_error *err)
{
    struct sockaddr_in at = { .sin_family = AF_INET };
    mb_arena *arena;
    struct mb_http *http;

    if (port > 65535 || inet_pton(AF_INET, address, &at.sin_addr) != 1)
        return mb_fail(err, MB_REFUSED, "%s, port %u, is no address to listen on: numbers like"
                       " 127.0.0.1, and a port up to 65535",
                       address, port);
    at.sin_port = htons((uint16_t)port);
    arena = mb_arena_new();
    http = MB_NEW(arena, struct mb_http);
    *http = (struct mb_http){ .arena = arena, .body_max = body_max, .answer = answer, .ctx = ctx };
    http->daemon = MHD_start_daemon(MHD_USE_INTERNAL_POLLING_THREAD | MHD_USE_AUTO, 0, NULL, NULL,
                                    take, http, MHD_OPTION_SOCK_ADDR, &at,
                                    MHD_OPTION_NOTIFY_COMPLETED, done, http,
                                    MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)SECONDS_IDLE,
                                    MHD_OPTION_CONNECTION_LIMIT, (unsigned)CONNECTIONS_MAX,
                                    MHD_OPTION_END);
    if (!http->daemon) {
        mb_arena_free(arena);
        return mb_fail(err, MB_UNABLE, "cannot listen on %s, port %u: it is in use, or not this"
                       " machine's",
                       address, port);
    }
    *out = http;
    return MB_OK;
}

unsigned mb_http_port(const mb_http *http)
{
    const union MHD_DaemonInfo *info = MHD_get_daemon_info(http->daemon, MHD_DAEMON_INFO_BIND_PORT);

    return info ? info->port : 0;
}

mb_http *mb_http_stop(mb_http *http)
{
    if (http) {
        MHD_stop_daemon(http->daemon);
        mb_arena_free(http->arena);
    }
    return NULL;
}
