#include <markerbed/record.h>
#include <markerbed/show.h>

#include <string.h>

#include "command.h"
#include "fileio.h"
#include "story_text.h"
#include "text.h"
#include "wording.h"

/* ---- who is behind a key ---- */

static const mb_json *column(const mb_json *columns, const mb_json *row, const char *name)
{
    const mb_json *value = row->first;

    for (const mb_json *c = columns->first; c != NULL && value != NULL; c = c->next) {
        if (mb_json_text_is(c, name))
            return value;
        value = value->next;
    }
    return NULL;
}

static const char *name_of(mb_arena *arena, const mb_json *parties, const char *holder)
{
    const mb_json *columns = mb_json_get(parties, "columns");

    if (columns != NULL)
        MB_JSON_EACH(row, mb_json_get(parties, "rows"))
            if (mb_json_text_is(column(columns, row, "id"), mb_path_name(holder))) {
                const char *name = wording(arena, column(columns, row, "name"));
                return *name != '\0' ? name : holder;
            }
    return holder;
}

/* {thumbprint: name}; what cannot be found out is left as it is. */
static const mb_json *names(const struct call *call)
{
    mb_json *out = mb_json_object(call->arena);
    const mb_json *keys = NULL, *parties = NULL;
    struct mb_error ignored = { 0 };

    if (mb_key_list(call->ledger, call->arena, &keys, &ignored) != MB_OK)
        return NULL;
    if (mb_list(call->ledger, call->arena, "parties", NULL, &parties, &ignored) != MB_OK)
        parties = NULL;
    MB_JSON_EACH(key, keys) {
        const char *holder = wording_of(call->arena, key, "holder");
        const char *label = wording_of(call->arena, key, "label");
        if (holder != NULL && *holder != '\0')
            label = name_of(call->arena, parties, holder);
        if (label != NULL && *label != '\0')
            mb_json_put_str(call->arena, out, mb_json_str(mb_json_get(key, "kid")),
                            mb_json_string(call->arena, label));
    }
    return out;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *subject = strcmp(call->words[0], "ledger") == 0
                              ? "ledger"
                              : call_subject(call, "specimen", call->words[0]);
    enum mb_rc rc =
        mb_show(call->ledger, call->arena, subject, call_value(call, "as-of"), &call->result, err);

    if (rc == MB_OK && !call_json(call))
        call->aside = names(call);
    return rc;
}

static void tell(const struct call *call, const struct screen *screen)
{
    const char *as_of = call_value(call, "as-of");
    struct story_text text = { .screen = screen,
                               .story = call->result,
                               .names = call->aside,
                               .full = call_has(call, "full") };
    struct mb_error ignored = { 0 };

    if (mb_kinds(call->arena, &text.kinds, &ignored) != MB_OK)
        text.kinds = NULL;
    screen_say(screen, STRONG, 0, "%s%s%s", wording_of(call->arena, call->result, "subject"),
               as_of ? ", as it stood " : "", as_of ? as_of : "");
    story_print_now(&text);
    story_print_entries(&text);
    story_print_list(&text, mb_json_get(call->result, "holders"), "Who had it in hand");
    story_print_list(&text, mb_json_get(call->result, "owners"), "Who owned it");
    story_print_account(&text);
    story_print_list(&text, mb_json_get(call->result, "warnings"), "Please note");
}

static const char *const usage[] = { "SUBJECT", NULL };

static const struct option options[] = {
    { .name = "full", .help = "with every field of every entry, and who may see it" },
    { 0 },
};

static const struct example examples[] = {
    { "The story of one slab", "markerbed -L lab show 26-0115" },
    { "A place, with all that was said of it", "markerbed -L lab show site/S002 --full" },
    { 0 },
};

const struct command cmd_show = {
    .name = "show",
    .group = "Looking up",
    .line = "the story of one subject",
    .usage = usage,
    .about = "What it is, what was written down about it and when, who had it and who owned it, and"
             " where the pieces went. What was corrected or struck out stays visible and is marked."
             " A number alone means a specimen; others are written with their kind, like"
             " site/S002.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER | TAKES_AS_OF,
    .words_min = 1,
    .words_max = 1,
    .run = run,
    .tell = tell,
};
