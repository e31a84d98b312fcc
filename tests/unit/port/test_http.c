/* The small server, asked over a socket by hand. What it serves is judged by Python's urllib in
 * tests/e2e/cli_witness.py. */
#include <arpa/inet.h>
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "http.h"

enum { BODY_MAX = 64, ANSWER_MAX = 4096 };

static void echo(void *ctx, mb_arena *arena, const struct mb_http_request *request,
                 struct mb_http_answer *answer)
{
    (void)ctx;
    answer->status = 200;
    answer->body.at = mb_arena_printf(arena, "%.*s %.*s %.*s", MB_STR_ARG(request->method),
                                      MB_STR_ARG(request->path), MB_STR_ARG(request->body));
    answer->body.len = strlen(answer->body.at);
}

/* Sends the bytes and reads to the end. */
static const char *ask(unsigned port, const char *bytes)
{
    static char answer[ANSWER_MAX];
    struct sockaddr_in at = { .sin_family = AF_INET, .sin_port = htons((uint16_t)port) };
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    size_t len = 0;
    ssize_t n;

    inet_pton(AF_INET, "127.0.0.1", &at.sin_addr);
    cr_assert_eq(connect(fd, (const struct sockaddr *)&at, sizeof at), 0);
    cr_assert_eq(write(fd, bytes, strlen(bytes)), (ssize_t)strlen(bytes));
    while ((n = read(fd, answer + len, sizeof answer - 1 - len)) > 0)
        len += (size_t)n;
    answer[len] = '\0';
    close(fd);
    return answer;
}

Test(http, one_function_answers)
{
    mb_http *http = NULL, *second = NULL;
    const char *got;
    unsigned port;

    cr_assert_eq(mb_http_start("127.0.0.1", 0, BODY_MAX, echo, NULL, &http, NULL), MB_OK);
    port = mb_http_port(http);
    cr_assert_gt(port, 0);
    got = ask(port, "POST /here?x=1 HTTP/1.1\r\nHost: h\r\nConnection: close\r\n"
                    "Content-Length: 5\r\n\r\nhello");
    cr_expect(strncmp(got, "HTTP/1.1 200", 12) == 0, "%s", got);
    cr_expect(strstr(got, "POST /here hello") != NULL, "%s", got);
    got = ask(port, "POST / HTTP/1.1\r\nHost: h\r\nConnection: close\r\nContent-Length: 65\r\n\r\n"
                    "0123456789012345678901234567890123456789012345678901234567890123x");
    cr_expect(strncmp(got, "HTTP/1.1 413", 12) == 0, "%s", got);
    cr_expect_eq(mb_http_start("127.0.0.1", port, BODY_MAX, echo, NULL, &second, NULL), MB_UNABLE);
    cr_expect_eq(mb_http_start("localhost", 0, BODY_MAX, echo, NULL, &second, NULL), MB_REFUSED);
    cr_expect_eq(mb_http_start("127.0.0.1", 70000, BODY_MAX, echo, NULL, &second, NULL),
                 MB_REFUSED);
    http = mb_http_stop(http);
    cr_expect_null(http);
}
