/* A witness on HTTP: C2SP tlog-witness's two addresses. */
#include "http.h"
#include "text.h"
#include "witness_folder.h"

#define PLAIN_TEXT "text/plain; charset=utf-8"
enum { HEX = 64 };

struct mb_witness_server {
    mb_witness *witness;
    mb_http *http;
};

static void say(struct mb_http_answer *answer, unsigned status, struct mb_str body)
{
    answer->status = status;
    answer->type = PLAIN_TEXT;
    answer->body = body;
}

static void add_checkpoint(mb_witness *witness, mb_arena *arena, struct mb_str body,
                           struct mb_http_answer *answer)
{
    struct mb_error err = { 0 };
    const mb_json *result;
    enum mb_rc rc = mb_witness_answer(witness, arena, body, &result, &err);

    if (rc != MB_OK && rc != MB_NO) {
        say(answer, 500, mb_str_of(mb_arena_printf(arena, "%s\n", err.text)));
        return;
    }
    say(answer, (unsigned)mb_json_int(mb_json_get(result, "status"), 500),
        mb_json_str(mb_json_get(result, "body")));
    if (answer->status == MB_WITNESS_STALE)
        answer->type = "text/x.tlog.size";
}

/* "/HEX/checkpoint": which of the origins it is told of that is. */
static void give_checkpoint(mb_witness *witness, mb_arena *arena, struct mb_str path,
                            struct mb_http_answer *answer)
{
    struct mb_str hex, rest = { path.at + 1, path.len - 1 };
    struct mb_error err = { 0 };
    struct mb_witness_log *logs;
    size_t count = 0;

    say(answer, 404, MB_STR("this witness has signed nothing of that name\n"));
    if (!mb_str_cut(rest, '/', &hex, &rest) || !mb_str_is(rest, "checkpoint") || hex.len != HEX
        || mb_witness_logs(witness, arena, &logs, &count, &err))
        return;
    for (size_t i = 0; i < count; i++) {
        struct mb_witness_seen seen;
        struct mb_str note;
        int64_t when;

        if (!mb_str_is(hex, mb_witness_origin_hex(arena, logs[i].origin)))
            continue;
        if (mb_witness_last(witness, arena, logs[i].origin, &note, &seen, &when, &err))
            say(answer, 500, mb_str_of(mb_arena_printf(arena, "%s\n", err.text)));
        else if (note.at)
            say(answer, 200, note);
        return;
    }
}

static void answer_request(void *ctx, mb_arena *arena, const struct mb_http_request *request,
                           struct mb_http_answer *answer)
{
    struct mb_witness_server *server = ctx;
    bool adds = mb_str_is(request->path, "/add-checkpoint");

    if (adds && mb_str_is(request->method, "POST"))
        add_checkpoint(server->witness, arena, request->body, answer);
    else if (!adds && mb_str_is(request->method, "GET"))
        give_checkpoint(server->witness, arena, request->path, answer);
    else
        say(answer, 405, MB_STR("POST /add-checkpoint or GET /HEX/checkpoint\n"));
}

enum mb_rc mb_witness_serve(mb_witness *witness, const char *address, unsigned port,
                            mb_witness_server **out, struct mb_error *err)
{
    struct mb_witness_server *server = MB_NEW(witness->arena, struct mb_witness_server);
    enum mb_rc rc;

    if (!witness->secret)
        return mb_fail(err, MB_REFUSED, "the witness's key is not open: its passphrase first");
    server->witness = witness;
    rc = mb_http_start(address, port, MB_WITNESS_REQUEST_MAX, answer_request, server,
                       &server->http, err);
    if (!rc)
        *out = server;
    return rc;
}

unsigned mb_witness_serve_port(const mb_witness_server *server)
{
    return mb_http_port(server->http);
}

void mb_witness_serve_end(mb_witness_server *server)
{
    server->http = mb_http_stop(server->http);
}
