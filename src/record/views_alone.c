/* A few subjects replayed alone: the story of one as of a moment gone by needs no more than that
 * one, what it speaks of, and what it came out of. */
#include <string.h>

#include "text.h"
#include "views_priv.h"

/* Whoever a subject speaks of, and its parts. */
static void gather(struct mb_views_run *run, mb_json *all, const mb_json *value)
{
    struct mb_str ref = mb_ref_of(value);

    if (ref.at) {
        MB_JSON_EACH(one, all)
        {
            if (mb_str_equal(one->text, ref))
                return;
        }
        mb_json_add(all, mb_json_string_str(run->names_arena, ref));
    } else if (value->type == MB_JSON_ARRAY || value->type == MB_JSON_OBJECT) {
        MB_JSON_EACH(child, value)
        {
            gather(run, all, child);
        }
    }
}

struct gathering {
    struct mb_views_run *run;
    mb_json *all;
};

static void gather_field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct gathering *g = ctx;

    (void)name;
    (void)in;
    gather(g->run, g->all, value);
}

/* A piece that came out of another, or was joined, needs those for what it takes over. */
static bool hands_on(const struct mb_entry *entry)
{
    return mb_str_is(entry->kind, "division") || mb_str_is(entry->kind, "descent")
           || mb_str_is(entry->kind, "joining");
}

static void gather_of(struct mb_views_run *run, mb_json *all, struct mb_str sub, bool asked)
{
    struct gathering g = { run, all };
    struct mb_tale tale;

    mb_arena_reset(run->arena);
    if (mb_run_failed(run, mb_tale_read(run->log, run->arena, sub, run->before, &tale, run->err)))
        return;
    for (size_t i = 0; i < tale.count; i++) {
        const struct mb_entry *entry = &tale.entries[i];
        mb_json *signer = mb_json_object(run->arena);

        if (asked || (hands_on(entry) && i == 0))
            mb_entry_fields(entry, gather_field, &g);
        else if (mb_str_is(entry->kind, "key-enrolment"))
            gather(run, all, mb_entry_open(entry, "holder"));
        if (!asked)
            continue;
        mb_json_put_text(run->arena, signer, "ref",
                         mb_arena_printf(run->arena, "key/%.*s", MB_STR_ARG(entry->kid)));
        gather(run, all, signer);
    }
}

enum mb_rc mb_views_catch_some(mb_log *log, mb_db *db, int64_t before, const struct mb_str *subs,
                               size_t count, struct mb_error *err)
{
    struct mb_views_run run;
    mb_json *all;
    size_t asked = 0;

    mb_views_run_begin(&run, log, db, err);
    run.before = before;
    all = mb_json_array(run.names_arena);
    for (size_t i = 0; i < count; i++)
        mb_json_add(all, mb_json_string_str(run.names_arena, subs[i]));
    mb_run_failed(&run, mb_db_begin(db, err));
    if (!run.rc)
        mb_run_failed(&run, mb_views_shape(db, err));
    /* the list grows while it is gone through; those that were asked for stand first */
    for (mb_json *one = all->first; one && !run.rc; one = one->next) {
        gather_of(&run, all, one->text, asked < count);
        asked++;
        if (!run.rc)
            mb_run_subject(&run, run.arena, one->text);
    }
    while (mb_run_next(&run))
        mb_arena_reset(run.arena);
    if (!run.rc)
        mb_run_failed(&run, mb_views_index(db, err));
    if (!run.rc)
        mb_run_failed(&run, mb_db_commit(db, err));
    mb_db_rollback(db);
    mb_views_run_end(&run);
    return run.rc;
}
