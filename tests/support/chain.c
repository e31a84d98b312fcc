#include "chain.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bytes_of.h"
#include "temp_ledger.h"
#include "text.h"

void chain_begin(struct chain *c)
{
    *c = (struct chain){ .arena = mb_arena_new(), .secret = secret_of_seed(0x20) };
}

void chain_end(struct chain *c)
{
    mb_secret_free(c->secret);
    mb_arena_free(c->arena);
}

const char *chain_leaf(struct chain *c, const struct mb_entry *entry)
{
    struct mb_str text = mb_b64u(c->arena, entry->leaf.b, sizeof entry->leaf.b);

    return mb_arena_copy(c->arena, text.at, text.len);
}

static bool is_hidden(struct mb_str name, const char *hidden)
{
    struct mb_str rest = mb_str_of(hidden), one;

    while (rest.len) {
        mb_str_cut(rest, ' ', &one, &rest);
        if (mb_str_is(one, "*") || mb_str_equal(one, name))
            return true;
    }
    return false;
}

static struct mb_entry *read_shown(struct chain *c, struct mb_str jws, struct mb_str tail,
                                   const char *hidden)
{
    struct mb_entry whole, *out = MB_NEW(c->arena, struct mb_entry);
    char *kept = mb_arena_text(c->arena, "");
    struct mb_error err = { 0 };

    if (mb_entry_read(c->arena, jws, &whole, &err)
        || mb_entry_disclose(c->arena, &whole, tail, &err)) {
        fprintf(stderr, "an entry of this test: %s\n", err.text);
        abort();
    }
    for (size_t i = 0; i < whole.disclosure_count; i++)
        if (!whole.disclosures[i].name.at || !is_hidden(whole.disclosures[i].name, hidden))
            kept =
                mb_arena_printf(c->arena, "%s%.*s~", kept, MB_STR_ARG(whole.disclosures[i].text));
    if (mb_entry_read(c->arena, jws, out, &err)
        || mb_entry_disclose(c->arena, out, mb_str_of(kept), &err))
        abort();
    return out;
}

const struct mb_entry *chain_add(struct chain *c, const char *sub, const char *kind,
                                 const char *fields, const char *hidden)
{
    struct mb_draft draft = { .iss = MB_STR("ledger.example"),
                              .sub = sub,
                              .kind = kind,
                              .iat = 1767225600 + c->seq,
                              .seq = c->seq };
    struct mb_error err = { 0 };
    struct mb_str jws, tail;

    draft.fields = temp_fields(c->arena, fields, &draft.count);
    if (mb_entry_write(c->arena, &draft, c->secret, &jws, &tail, &err)) {
        fprintf(stderr, "an entry of this test: %s\n", err.text);
        abort();
    }
    c->seq++;
    return read_shown(c, jws, tail, hidden);
}

const struct mb_entry *chain_correct(struct chain *c, const struct mb_entry *target,
                                     const char *action, const char *fields, const char *hidden)
{
    const char *sub = mb_arena_copy(c->arena, target->sub.at, target->sub.len);
    const char *more = fields[0] == '{' && fields[1] != '}' ? "," : "";

    return chain_add(
        c, sub, "correction",
        mb_arena_printf(c->arena, "{\"open\":{\"target\":{\"entry\":\"%s\"},\"action\":\"%s\"}%s%s",
                        chain_leaf(c, target), action, more, fields + 1),
        hidden);
}
