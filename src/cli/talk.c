#include "talk.h"

#include <string.h>
#include <unistd.h>

#include "buf.h"
#include "text.h"

enum { ANSWER_MAX = 64 << 10 };

void talk_begin(struct talk *talk, const struct call *call)
{
    talk->call = call;
    talk->ended = false;
    screen_open(&talk->screen, call_json(call) ? stderr : stdout, call->arena);
}

const char *talk_ask(struct talk *talk, const char *prompt)
{
    MB_BUF_AUTO struct mb_buf buf;
    struct mb_str text;
    int c;

    fprintf(talk->screen.to, "%s ", prompt);
    fflush(talk->screen.to);
    mb_buf_init(&buf, ANSWER_MAX);
    while ((c = getchar()) != EOF && c != '\n')
        mb_buf_add_char(&buf, (char)c);
    if (c == EOF && buf.len == 0) {
        talk->ended = true;
        fputc('\n', talk->screen.to);
        return "";
    }
    text = mb_str_trim(mb_buf_str(&buf));
    if (!isatty(STDIN_FILENO)) /* nobody sees what came through a pipe, unless we show it */
        fprintf(talk->screen.to, "%.*s\n", MB_STR_ARG(screen_clean(talk->screen.arena, text)));
    return mb_arena_copy(talk->call->arena, text.at, text.len);
}

bool talk_yes(struct talk *talk, const char *prompt, bool fallback)
{
    const char *full =
        mb_arena_printf(talk->call->arena, "%s yes or no [%s]:", prompt, fallback ? "yes" : "no");

    for (;;) {
        const char *answer = talk_ask(talk, full);
        if (talk->ended)
            return false;
        if (*answer == '\0')
            return fallback;
        answer = mb_lower(talk->call->arena, mb_str_of(answer));
        if (strcmp(answer, "yes") == 0 || strcmp(answer, "y") == 0)
            return true;
        if (strcmp(answer, "no") == 0 || strcmp(answer, "n") == 0)
            return false;
    }
}
