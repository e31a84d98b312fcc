#include <string.h>

#include "checking.h"
#include "ids.h"
#include "landwords.h"
#include "plss.h"
#include "text.h"

/* Fields that name a person, a firm or a place in words. */
static const char *const names[] = { "name", "siteName", "verbatimLocality", "administrativeUnit" };

static struct mb_str shared_in(const struct mb_checking *c, const struct mb_told *told)
{
    struct mb_str shared = { NULL, 0 };

    for (size_t i = 0; !shared.at && i < sizeof names / sizeof *names; i++) {
        const struct mb_kind_field *field = mb_kind_field(c->kind, mb_str_of(names[i]));
        const mb_json *value = told ? mb_told_field(told, names[i], NULL, NULL)
                               : field ? c->values[field - c->kind->fields]
                                       : NULL;

        if (mb_json_is(value, MB_JSON_STRING))
            shared = mb_id_shares(c->id, value->text);
    }
    return shared;
}

/* The site and parties that an entry names have names too: TESSALY-0115 tells where it lay. */
static enum mb_rc shared_with_others(struct mb_checking *c, struct mb_str *shared,
                                     struct mb_error *err)
{
    for (size_t i = 0; !shared->at && i < c->kind->count; i++) {
        struct mb_str subject = mb_ref_of(c->values[i]), prefix, id;
        const mb_story *story;
        enum mb_rc rc;

        if (!subject.at || c->kind->fields[i].type != MB_V_REF)
            continue;
        mb_str_cut(subject, '/', &prefix, &id);
        if (!mb_str_is(prefix, "site") && !mb_str_is(prefix, "party"))
            continue;
        rc = mb_subjects_story(c->ledger, subject, &story, err);
        if (rc)
            return rc;
        for (size_t n = 0; !shared->at && n < mb_story_count(story); n++)
            *shared = shared_in(c, mb_story_at(story, n));
    }
    return MB_OK;
}

/* Numbers and short marks tell nothing, and most IDs are such. */
static bool could_tell(struct mb_str id)
{
    size_t run = 0;

    for (size_t i = 0; i < id.len && run < MB_ID_WORD_MIN; i++)
        run = (id.at[i] | 0x20) >= 'a' && (id.at[i] | 0x20) <= 'z' ? run + 1 : 0;
    return run >= MB_ID_WORD_MIN;
}

/* How a land description was read, so that a slip is seen; it is kept as written all the same. */
static void tell_land(struct mb_checking *c)
{
    const struct mb_kind_field *field = mb_kind_field(c->kind, MB_STR("legalDescription"));
    const mb_json *value = field ? c->values[field - c->kind->fields] : NULL, *land;
    struct mb_str read;

    if (!mb_json_is(value, MB_JSON_STRING) || c->way.batch)
        return;
    land = mb_landwords(c->arena, value->text);
    read = mb_json_str(mb_json_get(land, "read"));
    if (!read.at)
        mb_checking_warn(c, "the land description is kept as written, and was not read as"
                            " township, range and section (%s)",
                         mb_json_cstr(c->arena, mb_json_get(land, "notRead")));
    else
        mb_checking_warn(c, "the land description was read as %.*s. %s", MB_STR_ARG(read),
                         MB_PLSS_CAUTION);
}

/* IDs travel in the open where names do not. Only who begins a record chooses its ID. */
enum mb_rc mb_caution(struct mb_checking *c, struct mb_error *err)
{
    const char *offer = NULL, *prefix;
    struct mb_str shared;
    enum mb_rc rc;

    if (mb_str_is(c->kind->name, "site"))
        tell_land(c);
    if (c->known || !could_tell(c->id))
        return MB_OK;
    shared = shared_in(c, NULL);
    rc = shared_with_others(c, &shared, err);
    if (rc || !shared.at)
        return rc;
    prefix = mb_arena_copy(c->arena, c->prefix.at, c->prefix.len);
    rc = mb_ids_next(c->ledger, c->arena, prefix, NULL, &offer, err);
    if (rc)
        return rc;
    mb_checking_warn(c,
                     "the ID '%.*s' gives away the name '%.*s', and IDs are seen where names are"
                     " held back; %s would say nothing",
                     MB_STR_ARG(c->id), MB_STR_ARG(shared), offer);
    return MB_OK;
}
