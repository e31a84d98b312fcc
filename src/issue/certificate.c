/* Issuing a certificate: docs/format.md section 6. */
#include <markerbed/certificate.h>

#include <string.h>

#include "bundle.h"
#include "draft.h"
#include "guard.h"
#include "issuing.h"
#include "recorder.h"
#include "request.h"
#include "session.h"
#include "standing.h"
#include "statement.h"
#include "text.h"
#include "ties.h"
#include "verify_log.h"

static enum mb_rc resolve(struct mb_issuing *is, struct mb_error *err)
{
    is->subjects = MB_ARRAY(is->arena, is->issue->count + 1, struct mb_str);
    if (is->issue->count == 0 || is->issue->count > MB_ISSUED_MAX)
        return mb_fail(err, MB_REFUSED, "name 1 to %d specimens", MB_ISSUED_MAX);
    for (size_t i = 0; i < is->issue->count; i++) {
        const char *name = is->issue->specimens[i];
        const char *full = strchr(name, '/') ? name
                                             : mb_arena_printf(is->arena, "specimen/%s", name);
        int64_t seq, nth;
        enum mb_rc rc = mb_log_head(is->ledger->log, is->arena, mb_str_of(full), MB_NEVER, &seq,
                                    &nth, &is->subjects[i], err);

        if (rc == MB_NO || (rc == MB_OK && !mb_is_specimen(is->subjects[i])))
            return mb_fail(err, MB_REFUSED,
                           "there is no specimen '%s' in this ledger; `markerbed find` searches",
                           name);
        if (rc)
            return rc;
        for (size_t j = 0; j < i; j++)
            if (mb_str_equal(is->subjects[i], is->subjects[j]))
                return mb_fail(err, MB_REFUSED, "specimen '%s' is named twice", name);
    }
    return MB_OK;
}

static enum mb_rc resolve_to(struct mb_issuing *is, struct mb_error *err)
{
    const char *to = is->issue->to;
    struct mb_str party;
    mb_json *ref;
    int64_t seq, nth;
    enum mb_rc rc;

    if (!to || strcmp(to, "bearer") == 0) {
        is->to = mb_json_string(is->arena, "bearer");
        return MB_OK;
    }
    if (!strchr(to, '/'))
        to = mb_arena_printf(is->arena, "party/%s", to);
    rc = mb_log_head(is->ledger->log, is->arena, mb_str_of(to), MB_NEVER, &seq, &nth, &party, err);
    if (rc == MB_NO || (rc == MB_OK && !mb_str_starts(party, "party/")))
        return mb_fail(err, MB_REFUSED,
                       "there is no party '%s': record it first, or say --to bearer",
                       is->issue->to);
    if (rc)
        return rc;
    ref = mb_json_object(is->arena);
    mb_json_put(is->arena, ref, "ref", mb_json_string_str(is->arena, party));
    is->to = ref;
    return MB_OK;
}

static void attest(struct mb_issuing *is, mb_json *lines, size_t which)
{
    mb_json *line = mb_json_object(is->arena);

    if (!is->stood || !mb_statement_may_attest(is->table, MB_STR("standing")))
        return;
    mb_json_put_text(is->arena, line, "name", "standing");
    mb_json_put_text(is->arena, line, "value", is->stood[which].words);
    mb_json_put_bool(is->arena, line, "attested", true);
    mb_json_add(lines, line);
}

static void make_statements(struct mb_issuing *is, int64_t before)
{
    is->table = mb_statement_table(is->arena, mb_statement_current(is->arena));
    is->statements = MB_ARRAY(is->arena, is->issue->count, const mb_json *);
    for (size_t i = 0; i < is->issue->count; i++) {
        mb_json *statement = mb_json_object(is->arena);
        mb_json *lines = mb_statement_lines(is->arena, is->table, is->closure.stories,
                                            is->subjects[i], before);

        attest(is, lines, i);
        mb_json_put(is->arena, statement, "lines", lines);
        is->statements[i] = statement;
    }
}

/* ---- what ties a buyer's sheet to the piece ---- */

struct looking {
    const struct mb_issuing *is;
    bool found;
};

static void look_along(void *ctx, struct mb_str sha256)
{
    struct looking *looking = ctx;

    looking->found = looking->found || mb_json_get_str(looking->is->files, sha256);
}

/* Does a photo that its own entries name come along? */
static bool is_pictured(const struct mb_issuing *is, struct mb_str subject)
{
    struct looking looking = { is, false };

    for (size_t i = 0; is->files && i < is->closure.count; i++) {
        const struct mb_entry *entry = &is->closure.entries[i].shown;

        for (size_t j = 0; mb_str_equal(entry->sub, subject) && j < entry->disclosure_count; j++)
            if (mb_str_is(entry->disclosures[j].name, "photos")
                || mb_str_is(entry->disclosures[j].name, "identifyingMarks"))
                mb_value_files(entry->disclosures[j].value, look_along, &looking);
    }
    return looking.found;
}

static enum mb_rc check_ties(struct mb_issuing *is, struct mb_error *err)
{
    for (size_t i = 0; is->audience == MB_BUYER && i < is->issue->count; i++) {
        const char *missing = mb_ties_missing(is->arena, mb_json_get(is->statements[i], "lines"),
                                              is_pictured(is, is->subjects[i]));

        if (!missing)
            continue;
        if (is->issue->unmarked) {
            mb_json_add_text(is->arena, is->warnings,
                             mb_arena_printf(is->arena,
                                             "Nothing ties this sheet to %.*s alone, and it says"
                                             " so; missing: %s.",
                                             MB_STR_ARG(is->subjects[i]), missing));
            continue;
        }
        is->refusal = mb_arena_printf(
            is->arena,
            "a sheet for a sale has to tell %.*s from any other piece, and its record does not"
            " show %s: record a condition with them, or add --unmarked and the sheet will say so",
            MB_STR_ARG(is->subjects[i]), missing);
        return is->issue->preview ? MB_OK : mb_fail(err, MB_REFUSED, "%s", is->refusal);
    }
    return MB_OK;
}

/* Each of the k certificates names the fields kept back of its own specimen; those of all others
 * are shared out among them, for an entry is small. */
static mb_json *withheld_list(struct mb_issuing *is, size_t which)
{
    mb_json *list = mb_json_array(is->arena);

    for (size_t i = 0; i < is->closure.kept_back_count; i++) {
        const struct mb_kept_back *kept = &is->closure.kept_back[i];
        size_t where = 0;
        mb_json *row;

        if (!kept->listed)
            continue;
        while (where < is->issue->count && !mb_str_equal(is->subjects[where], kept->subject))
            where++;
        if ((where < is->issue->count ? where : i % is->issue->count) != which)
            continue;
        row = mb_json_add(list, mb_json_object(is->arena));
        mb_json_put(is->arena, row, "digest",
                    mb_json_string_str(is->arena, mb_b64u(is->arena, kept->digest.b, 32)));
        mb_json_put_text(is->arena, row, "reason", kept->reason);
    }
    return list;
}

/* A certificate's own two fields, salted before any of the k entries is written. */
struct own {
    struct mb_str to, statement;
};

static struct own *make_own(struct mb_issuing *is, struct mb_hash *digests, size_t *count)
{
    struct own *own = MB_ARRAY(is->arena, is->issue->count, struct own);

    for (size_t i = 0; i < is->issue->count; i++) {
        own[i].to = mb_disclosure_make(is->arena, "to", is->to, &digests[(*count)++]);
        own[i].statement = mb_disclosure_make(is->arena, "statement", is->statements[i],
                                              &digests[(*count)++]);
    }
    return own;
}

enum { HELD = 2, SHOWN = 3, FIELDS = 7 };

/* Those of a certificate's entry, but for what it commits to. */
static void fill_fields(struct mb_issuing *is, size_t which, const struct own *own,
                        struct mb_field fields[FIELDS])
{
    mb_arena *arena = is->arena;

    fields[0] = mb_field_open("audience",
                              mb_json_string(arena, mb_audience_name[is->audience]));
    fields[1] = mb_field_open("derivation",
                              mb_json_string_str(arena, mb_statement_current(arena)));
    fields[HELD] = mb_field_open("held", mb_json_string(arena, ""));
    fields[SHOWN] = mb_field_open("shown", mb_json_string(arena, ""));
    fields[4] = mb_field_open("withheld", withheld_list(is, which));
    fields[5] = (struct mb_field){ "to", MB_OWN, is->to, false, own->to };
    fields[6] = (struct mb_field){ "statement", MB_OWN, is->statements[which], false,
                                   own->statement };
}

static enum mb_rc append_one(struct mb_issuing *is, size_t which, const struct own *own,
                             struct mb_str held, struct mb_str shown, struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new(); /* of what is written, only what is read back is kept */
    struct mb_field fields[FIELDS + MB_KEEPING_MAX];
    size_t count = FIELDS;
    enum mb_rc rc;

    fill_fields(is, which, own, fields);
    fields[HELD].value = mb_json_string_str(scratch, held);
    fields[SHOWN].value = mb_json_string_str(scratch, shown);
    if (which + 1 == is->issue->count) /* once, on the one that the file is known by */
        mb_issuing_keep(is, fields, &count);
    rc = mb_recorder_append(is->ledger, scratch, "certificate",
                            mb_arena_copy(scratch, is->subjects[which].at,
                                          is->subjects[which].len),
                            fields, count, &is->certificates[which], err);
    if (!rc)
        rc = mb_log_entry(is->ledger->log, is->arena, is->certificates[which].seq,
                          &is->certificates[which], err); /* with its disclosures */
    mb_arena_free(scratch);
    return rc;
}

static enum mb_rc append_all(struct mb_issuing *is, struct mb_error *err)
{
    struct mb_hash *digests = MB_ARRAY(is->arena, 2 * is->issue->count + 1, struct mb_hash);
    struct mb_str held = mb_issuing_held(is), shown;
    size_t count = 0;
    struct own *own = make_own(is, digests, &count);
    enum mb_rc rc = MB_OK;

    shown = mb_issuing_shown(is, digests, count);
    is->certificates = MB_ARRAY(is->arena, is->issue->count, struct mb_entry);
    for (size_t i = 0; i < is->issue->count && !rc; i++)
        rc = append_one(is, i, &own[i], held, shown, err);
    return rc;
}

static void titled_lines(struct mb_issuing *is, mb_json *out, size_t which)
{
    MB_JSON_EACH(line, mb_json_get(is->statements[which], "lines"))
    {
        mb_json *copy = mb_json_add(out, mb_json_copy(is->arena, line));

        mb_json_put(is->arena, copy, "title",
                    mb_json_string_str(is->arena,
                                       mb_statement_title(is->table,
                                                          mb_json_str(mb_json_get(line, "name")))));
        if (is->issue->count > 1)
            mb_json_put(is->arena, copy, "subject",
                        mb_json_string_str(is->arena, is->subjects[which]));
    }
}

static mb_json *result_of(struct mb_issuing *is, struct mb_str file)
{
    mb_arena *arena = is->arena;
    mb_json *out = mb_json_object(arena), *lines = mb_json_array(arena);
    mb_json *withheld = mb_json_array(arena);

    if (file.at) {
        const struct mb_entry *last = &is->certificates[is->issue->count - 1];

        mb_json_put(arena, out, "file", mb_json_string_str(arena, file));
        mb_json_put(arena, out, "id",
                    mb_json_string_str(arena, mb_b64u(arena, last->leaf.b, 32)));
        mb_json_put_int(arena, out, "seq", last->seq);
    }
    mb_json_put_text(arena, out, "audience", mb_audience_name[is->audience]);
    for (size_t i = 0; i < is->issue->count; i++)
        titled_lines(is, lines, i);
    mb_json_put(arena, out, "statement", lines);
    for (size_t i = 0; i < is->closure.kept_back_count; i++) {
        const struct mb_kept_back *kept = &is->closure.kept_back[i];
        mb_json *row;

        if (!kept->listed)
            continue;
        row = mb_json_add(withheld, mb_json_object(arena));
        mb_json_put(arena, row, "subject", mb_json_string_str(arena, kept->subject));
        mb_json_put(arena, row, "field", mb_json_string_str(arena, kept->field));
        mb_json_put_text(arena, row, "reason", kept->reason);
    }
    mb_json_put(arena, out, "withheld", withheld);
    mb_json_put(arena, out, "warnings", is->warnings);
    if (is->refusal)
        mb_json_put_text(arena, out, "refusal", is->refusal);
    return out;
}

static enum mb_rc prepare(struct mb_issuing *is, int64_t before, struct mb_error *err)
{
    struct mb_showing showing = { .audience = is->audience, .issue = is->issue,
                                  .specimen_count = is->issue->count, .guard = &is->guard };
    enum mb_rc rc = resolve(is, err);

    showing.specimens = is->subjects;
    if (!rc)
        rc = resolve_to(is, err);
    if (!rc)
        rc = mb_closure_make(is->ledger, is->arena, &showing, mb_ref_of(is->to), before,
                             &is->closure, err);
    if (rc)
        return rc;
    mb_request_warn(is->arena, is->issue, &is->closure, is->warnings);
    mb_request_warn_unexamined(is->arena, is->issue, is->audience, is->subjects, &is->closure,
                               is->warnings);
    make_statements(is, before);
    rc = mb_issuing_enclose(is, before, err);
    if (rc)
        return rc;
    return check_ties(is, err);
}

/* What the land record shows of each, in words; the reasons behind are let go. */
static enum mb_rc stand_all(struct mb_issuing *is, struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    size_t count = is->issue->count;
    enum mb_rc rc;

    is->stood = MB_ARRAY(is->arena, count, struct mb_stood);
    rc = mb_standings(is->ledger, scratch, is->subjects, count, is->stood, err);
    for (size_t i = 0; !rc && i < count; i++) {
        struct mb_stood *stood = &is->stood[i];

        stood->acts = NULL;
        stood->words = mb_arena_text(is->arena, stood->words);
        stood->bar = stood->bar ? mb_arena_text(is->arena, stood->bar) : NULL;
    }
    mb_arena_free(scratch);
    return rc;
}

/* Looked at before the group begins, for the views are not seen from inside it. A rule on file that
 * does not allow a sale stops a sheet for one. */
static enum mb_rc look_at_standing(struct mb_issuing *is, struct mb_error *err)
{
    enum mb_rc rc = resolve(is, err);

    if (rc)
        return rc;
    rc = resolve_to(is, err);
    if (!rc)
        rc = mb_guard_make(is->ledger, is->arena, is->subjects, is->issue->count,
                           mb_ref_of(is->to), is->audience, &is->guard, err);
    if (rc)
        return rc;
    rc = stand_all(is, err);
    for (size_t i = 0; !rc && is->audience == MB_BUYER && i < is->issue->count; i++)
        if (is->stood[i].bar)
            rc = mb_fail(err, MB_REFUSED, "%s", is->stood[i].bar);
        else if (strstr(is->stood[i].words, "00 struck-out"))
            rc = mb_fail(err, MB_REFUSED,
                         "how %.*s came here was struck out, so no sheet for a sale is made of it;"
                         " record it again if it is a piece after all",
                         MB_STR_ARG(is->subjects[i]));
    return rc;
}

static enum mb_rc make_draft(struct mb_issuing *is, int64_t size, const mb_json **draft,
                             struct mb_error *err)
{
    mb_draft_file *file = mb_draft_begin(is->ledger, is->arena);
    static const struct own unsalted;
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < is->closure.count; i++)
        mb_draft_add(file, is->closure.entries[i].seq, is->closure.entries[i].sd_jwt);
    for (size_t i = 0; i < is->issue->count && !rc; i++) {
        struct mb_field fields[FIELDS];

        fill_fields(is, i, &unsalted, fields);
        rc = mb_draft_certificate(file, size + (int64_t)i, is->subjects[i], fields, FIELDS, err);
    }
    *draft = mb_draft_end(file, is->files, is->foreign.list);
    return rc;
}

static enum mb_rc preview(struct mb_issuing *is, const mb_json **draft, struct mb_error *err)
{
    int64_t size;
    enum mb_rc rc = mb_log_size(is->ledger->log, &size, err);

    if (!rc)
        rc = prepare(is, size, err);
    return !rc && draft ? make_draft(is, size, draft, err) : rc;
}

static enum mb_rc begin(struct mb_issuing *is, struct mb_error *err)
{
    enum mb_rc rc = mb_request_check(is->arena, is->issue, &is->audience, err);

    is->warnings = mb_json_array(is->arena);
    return rc ? rc : look_at_standing(is, err);
}

enum mb_rc mb_certificate_draft(mb_ledger *ledger, mb_arena *arena, const struct mb_issue *issue,
                                const mb_json **draft, const mb_json **out, struct mb_error *err)
{
    struct mb_issue looked_at = *issue;
    struct mb_issuing is = { .ledger = ledger, .arena = arena, .issue = &looked_at };
    enum mb_rc rc;

    looked_at.preview = true;
    rc = begin(&is, err);
    if (!rc)
        rc = preview(&is, draft, err);
    if (!rc)
        *out = result_of(&is, (struct mb_str){ NULL, 0 });
    return rc;
}

enum mb_rc mb_certificate_issue(mb_ledger *ledger, mb_arena *arena, const struct mb_issue *issue,
                                const mb_json **out, struct mb_error *err)
{
    struct mb_issuing is = { .ledger = ledger, .arena = arena, .issue = issue };
    struct mb_str file = { NULL, 0 };
    enum mb_rc rc;

    if (issue->preview)
        return mb_certificate_draft(ledger, arena, issue, NULL, out, err);
    rc = begin(&is, err);
    if (!rc)
        rc = mb_session_begin(ledger, err);
    if (rc)
        return rc;
    if (ledger->checkpoint_count == 0)
        rc = mb_fail(err, MB_REFUSED,
                     "this key does not sign checkpoints, and a certificate needs one: sign with"
                     " a key that does, or have it given with `markerbed key add`");
    /* inside the group: nobody records anything between the looking and the signing */
    if (!rc)
        rc = prepare(&is, mb_log_next_seq(ledger->log), err);
    if (!rc)
        rc = mb_anchors_choose(ledger, arena,
                               mb_log_next_seq(ledger->log) + (int64_t)issue->count, &is.cosigned,
                               err);
    if (!rc)
        rc = append_all(&is, err);
    if (rc) {
        mb_session_rollback(ledger);
        return rc;
    }
    rc = mb_session_commit(ledger, err);
    if (!rc)
        rc = mb_issuing_file(&is, &file, err);
    if (!rc)
        *out = result_of(&is, file);
    return rc;
}
