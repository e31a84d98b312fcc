#include "request.h"

#include <string.h>

#include "kinds.h"
#include "text.h"

/* ---- reasons ---- */

static const struct mb_kind_field *column_of(const struct mb_kind_field *field, const char *name)
{
    for (size_t i = 0; i < field->column_count; i++)
        if (mb_str_is(field->columns[i].name, name))
            return &field->columns[i];
    return NULL;
}

enum mb_rc mb_request_reason(mb_arena *arena, const char *kind, const char *field,
                             const char *column, const char *reason, const char *what,
                             struct mb_error *err)
{
    const struct mb_kind *of = mb_kind_find(mb_str_of(kind));
    const struct mb_kind_field *at = of ? mb_kind_field(of, mb_str_of(field)) : NULL;
    const struct mb_choices *choices;

    at = at && column ? column_of(at, column) : at;
    choices = at ? at->choices : NULL;
    if (!choices)
        return mb_fail(err, MB_UNABLE, "kind %s has no choices for %s", kind, field);
    if (reason && mb_choice_find(choices, mb_str_of(reason)) >= 0)
        return MB_OK;
    return mb_fail(err, MB_REFUSED, "'%s' is no reason to %s; choose one of: %s",
                   reason ? reason : "", what,
                   mb_kinds_join(arena, choices->ids.at, choices->ids.count, choices->ids.count));
}

/* ---- fields ---- */

struct standing {
    bool known, classed, own; /* somewhere a field; somewhere not open; a certificate's own */
};

static struct standing standing_of(struct mb_str name)
{
    struct standing out = { 0 };

    for (size_t i = 0; i < mb_kinds_count(); i++) {
        const struct mb_kind_field *field = mb_kind_field(mb_kinds_at(i), name);

        if (!field)
            continue;
        out.known = true;
        out.classed = out.classed || (field->in != MB_OPEN && field->in != MB_OWN);
        out.own = out.own || field->in == MB_OWN;
    }
    return out;
}

static const char *nearest_field(mb_arena *arena, struct mb_str name)
{
    const char **names;
    size_t count = 0;

    for (size_t i = 0; i < mb_kinds_count(); i++)
        count += mb_kinds_at(i)->count;
    names = MB_ARRAY(arena, count + 1, const char *);
    count = 0;
    for (size_t i = 0; i < mb_kinds_count(); i++)
        for (size_t j = 0; j < mb_kinds_at(i)->count; j++)
            names[count++] = mb_kinds_at(i)->fields[j].name.at;
    return mb_nearest(name, names, count);
}

static enum mb_rc check_known(mb_arena *arena, const char *name, struct standing standing,
                              const char *what, struct mb_error *err)
{
    const char *near;

    if (standing.known)
        return MB_OK;
    near = nearest_field(arena, mb_str_of(name));
    return mb_fail(err, MB_REFUSED, "there is no field '%s' to %s%s%s%s", name, what,
                   near ? " (did you mean '" : "", near ? near : "", near ? "'?)" : "");
}

static enum mb_rc check_withheld(mb_arena *arena, const struct mb_withhold *one,
                                 struct mb_error *err)
{
    struct standing standing = standing_of(mb_str_of(one->field));
    enum mb_rc rc = check_known(arena, one->field, standing, "withhold", err);

    if (!rc && !standing.classed && standing.own)
        rc = mb_fail(err, MB_REFUSED, "'%s' is part of every certificate, and cannot be withheld",
                     one->field);
    if (!rc && !standing.classed)
        rc = mb_fail(err, MB_REFUSED,
                     "'%s' is open: it stands in clear in every file, and cannot be withheld",
                     one->field);
    if (!rc)
        rc = mb_request_reason(arena, "certificate", "withheld", "reason", one->because,
                               "withhold", err);
    return rc;
}

enum mb_rc mb_request_check(mb_arena *arena, const struct mb_issue *issue,
                            enum mb_audience *audience, struct mb_error *err)
{
    const char *name = issue->audience ? issue->audience : "buyer";
    enum mb_rc rc = MB_OK;

    if (!mb_audience_of(mb_str_of(name), audience))
        return mb_fail(err, MB_REFUSED,
                       "there is no audience '%s'; choose public, buyer, institution or auditor",
                       name);
    for (size_t i = 0; !rc && i < issue->withhold_count; i++)
        rc = check_withheld(arena, &issue->withhold[i], err);
    for (size_t i = 0; !rc && i < issue->reveal_count; i++)
        rc = check_known(arena, issue->reveal[i], standing_of(mb_str_of(issue->reveal[i])),
                         "reveal", err);
    return rc;
}

/* ---- afterwards ---- */

static void say(mb_arena *arena, mb_json *warnings, const char *text)
{
    MB_JSON_EACH(one, warnings)
    {
        if (mb_json_text_is(one, text))
            return;
    }
    mb_json_add_text(arena, warnings, text);
}

/* Was anything of this name kept back because it was asked to be? */
static void warn_withheld(mb_arena *arena, const char *name, const struct mb_closure *closure,
                          mb_json *warnings)
{
    bool hit = false;

    for (size_t i = 0; i < closure->kept_back_count; i++)
        hit = hit || (closure->kept_back[i].listed && mb_str_is(closure->kept_back[i].field, name));
    for (size_t i = 0; i < closure->count; i++) {
        const struct mb_entry *entry = &closure->entries[i].stored;

        if (!mb_entry_open(entry, name))
            continue;
        hit = true;
        say(arena, warnings,
            mb_arena_printf(arena, "'%s' of entry %lld (%.*s) is open: it stays in clear.", name,
                            (long long)entry->seq, MB_STR_ARG(entry->kind)));
    }
    if (!hit)
        say(arena, warnings,
            mb_arena_printf(arena,
                            "Nothing is called '%s' in what this reader would be shown;"
                            " withholding it changes nothing.",
                            name));
}

static bool is_shown(const struct mb_closure *closure, const char *name)
{
    for (size_t i = 0; i < closure->count; i++) {
        const struct mb_entry *entry = &closure->entries[i].shown;

        for (size_t j = 0; j < entry->disclosure_count; j++)
            if (mb_str_is(entry->disclosures[j].name, name))
                return true;
    }
    return false;
}

static void warn_revealed(mb_arena *arena, const char *name, const struct mb_closure *closure,
                          mb_json *warnings)
{
    bool kept = false;

    for (size_t i = 0; i < closure->kept_back_count; i++) {
        const struct mb_kept_back *back = &closure->kept_back[i];

        if (!mb_str_is(back->field, name))
            continue;
        kept = true;
        say(arena, warnings,
            mb_arena_printf(arena, "'%s' of %.*s stays hidden (%s).", name,
                            MB_STR_ARG(back->subject), back->reason));
    }
    if (!kept && !is_shown(closure, name))
        say(arena, warnings,
            mb_arena_printf(arena, "Nothing is called '%s' in what comes along; revealing it"
                                   " changes nothing.",
                            name));
}

void mb_request_warn(mb_arena *arena, const struct mb_issue *issue,
                     const struct mb_closure *closure, mb_json *warnings)
{
    for (size_t i = 0; i < issue->withhold_count; i++)
        warn_withheld(arena, issue->withhold[i].field, closure, warnings);
    for (size_t i = 0; i < issue->reveal_count; i++)
        warn_revealed(arena, issue->reveal[i], closure, warnings);
}

void mb_request_warn_unexamined(mb_arena *arena, const struct mb_issue *issue,
                                enum mb_audience audience, const struct mb_str *subjects,
                                const struct mb_closure *closure, mb_json *warnings)
{
    for (size_t i = 0; audience == MB_BUYER && i < issue->count; i++) {
        bool examined = false;

        for (size_t j = 0; j < closure->count; j++)
            examined = examined
                       || (mb_str_equal(closure->entries[j].stored.sub, subjects[i])
                           && mb_str_is(closure->entries[j].stored.kind, "condition"));
        if (!examined)
            mb_json_add_text(arena, warnings,
                             mb_arena_printf(arena,
                                             "%.*s has no condition on record: the sheet will say"
                                             " 'not examined'.",
                                             MB_STR_ARG(subjects[i])));
    }
}

/* What the issuer says beside what follows from the entries: the standing, rules alone. */
