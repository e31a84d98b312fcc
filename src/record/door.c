#include "door.h"

#include <stdarg.h>
#include <string.h>

#include "cautions.h"
#include "checking.h"
#include "date.h"
#include "fill.h"
#include "text.h"

enum { MISSING_TOLD = 12, CLOSE = 12 };

/* ---- what the ledger keeps for its door ---- */

enum mb_rc mb_door_open(mb_ledger *ledger, struct mb_error *err)
{
    struct mb_door *door = ledger->door;

    (void)err;
    if (!door) {
        door = ledger->door = MB_NEW(ledger->arena, struct mb_door);
        door->subject_arena = mb_arena_new();
        door->story_arena = mb_arena_new();
        door->group_arena = mb_arena_new();
    }
    mb_arena_reset(door->story_arena);
    mb_arena_reset(door->group_arena);
    door->stories = NULL;
    door->settings = NULL;
    door->rights = MB_ARRAY(door->group_arena, mb_kinds_count(), signed char);
    return MB_OK;
}

void mb_door_forget(struct mb_door *door)
{
    if (!door)
        return;
    mb_arena_reset(door->subject_arena);
    door->subjects = NULL;
    door->subject_count = door->subject_room = 0;
    mb_arena_reset(door->story_arena);
    door->stories = NULL;
}

struct mb_door *mb_door_free(struct mb_door *door)
{
    if (door) {
        door->backwards = mb_stmt_free(door->backwards);
        mb_arena_free(door->subject_arena);
        mb_arena_free(door->story_arena);
        mb_arena_free(door->group_arena);
    }
    return NULL;
}

void mb_checking_warn(struct mb_checking *c, const char *format, ...)
{
    va_list args;

    va_start(args, format);
    mb_json_add_text(c->arena, c->warnings, mb_arena_vprintf(c->arena, format, args));
    va_end(args);
}

static void take_note(void *ctx, const char *sentence)
{
    mb_checking_warn(ctx, "%s", sentence);
}

/* ---- kind and subject ---- */

static enum mb_rc find_kind(struct mb_checking *c, struct mb_error *err)
{
    /* these change keys or vouch for others, so they are made by commands that do all of it */
    static const char *const made_elsewhere[][2] = {
        { "founding", "found" },
        { "key-enrolment", "key add" },
        { "key-retirement", "key retire" },
        { "checkpoint-key", "key checkpoint" },
        { "certificate", "sheet" },
    };
    struct mb_str name = mb_str_of(c->what->kind);
    size_t count = mb_kinds_count();
    const char **names, *near;

    for (size_t i = 0; i < sizeof made_elsewhere / sizeof *made_elsewhere; i++)
        if (mb_str_is(name, made_elsewhere[i][0]))
            return mb_fail(err, MB_REFUSED, "a %s is made by `markerbed %s` alone",
                           made_elsewhere[i][0], made_elsewhere[i][1]);
    c->kind = name.at ? mb_kind_find(name) : NULL;
    if (c->kind)
        return MB_OK;
    names = MB_ARRAY(c->arena, count + 1, const char *);
    for (size_t i = 0; i < count; i++)
        names[i] = mb_kinds_at(i)->name.at;
    near = mb_nearest(name, names, count);
    if (near)
        return mb_fail(err, MB_REFUSED, "there is no kind '%.*s'; did you mean %s?",
                       MB_STR_ARG(name), near);
    return mb_fail(err, MB_REFUSED, "there is no kind '%.*s'; there are: %s", MB_STR_ARG(name),
                   mb_kinds_join(c->arena, names, count, count));
}

/* May a record begin with what a person writes of this kind? The side of a division that begins one
 * is written by the program. */
static bool begins_with(const struct mb_checking *c, struct mb_str kind)
{
    struct mb_words kinds = mb_kinds_beginning(c->prefix);

    return mb_words_has(&kinds, kind) && !mb_str_is(kind, "division");
}

/* An ID alone says enough where the kind is recorded on one sort of subject, or where only one that
 * is there has this ID. */
static enum mb_rc find_prefix(struct mb_checking *c, struct mb_str id, struct mb_error *err)
{
    const struct mb_words *prefixes = &c->kind->subjects;
    struct mb_str subject;
    size_t hits = 0;

    c->id = id;
    c->prefix = mb_str_of(prefixes->at[0]);
    if (prefixes->count == 1)
        return MB_OK;
    for (size_t i = 0; mb_id_ok(id) && i < prefixes->count; i++) {
        struct mb_str prefix = mb_str_of(prefixes->at[i]);
        enum mb_rc rc = mb_subjects_find(c->ledger, c->arena, prefix, id, &subject, err);

        if (rc && rc != MB_NO)
            return rc;
        if (rc == MB_OK) {
            c->prefix = prefix;
            hits++;
        }
    }
    if (hits == 1)
        return MB_OK;
    return mb_fail(err, MB_REFUSED, "'%.*s' does not say what it is; write one of: %s, as %s/ID",
                   MB_STR_ARG(id),
                   mb_kinds_join(c->arena, prefixes->at, prefixes->count, CLOSE),
                   prefixes->at[0]);
}

static enum mb_rc find_subject(struct mb_checking *c, struct mb_error *err)
{
    const struct mb_words *prefixes = &c->kind->subjects;
    struct mb_str typed = mb_str_trim(mb_str_of(c->what->subject)), subject;
    enum mb_rc rc;

    if (typed.len == 0 || prefixes->count == 0)
        return mb_fail(err, MB_REFUSED, "say what it is about, like %s/ID",
                       prefixes->count ? prefixes->at[0] : "specimen");
    if (!mb_str_cut(typed, '/', &c->prefix, &c->id)) {
        rc = find_prefix(c, typed, err);
        if (rc)
            return rc;
    }
    if (!mb_words_has(prefixes, c->prefix))
        return mb_fail(err, MB_REFUSED, "%s is recorded on %s, not on '%.*s'", c->kind->name.at,
                       mb_kinds_join(c->arena, prefixes->at, prefixes->count, CLOSE),
                       MB_STR_ARG(typed));
    if (!mb_id_ok(c->id))
        return mb_fail(err, MB_REFUSED,
                       "'%.*s' is no ID: 1-64 letters, digits, '.', '_' and '-', beginning with a"
                       " letter or digit",
                       MB_STR_ARG(c->id));
    rc = mb_subjects_find(c->ledger, c->arena, c->prefix, c->id, &subject, err);
    if (rc && rc != MB_NO)
        return rc;
    c->known = rc == MB_OK;
    c->subject = mb_arena_copy(c->arena, subject.at, subject.len);
    if (!c->known && !begins_with(c, c->kind->name))
        return mb_subjects_unknown(c->ledger, c->arena,
                                   mb_arena_copy(c->arena, c->prefix.at, c->prefix.len), c->id,
                                   err);
    return MB_OK;
}

/* A find is found once; the same number again is the commonest slip of all. Another kind that
 * begins a record may well come again (a piece that was sold arrives once more, a party moves), but
 * it is worth a look. */
static enum mb_rc check_number_free(struct mb_checking *c, struct mb_error *err)
{
    bool once = mb_str_is(c->kind->name, "collecting") || mb_str_is(c->kind->name, "making");
    const struct mb_told *told;
    const mb_story *story;
    enum mb_rc rc;

    if (!c->known || !begins_with(c, c->kind->name) || mb_str_is(c->prefix, "place")
        || (c->way.batch && !once))
        return MB_OK;
    rc = mb_subjects_story(c->ledger, mb_str_of(c->subject), &story, err);
    if (rc)
        return rc;
    told = mb_story_newest(story, c->kind->name);
    if (told && once && !c->way.trying)
        return mb_fail(err, MB_REFUSED,
                       "%s was recorded already, by entry #%lld: give another number, or put that"
                       " entry right with a correction",
                       c->subject, (long long)told->entry->seq);
    if (told)
        mb_checking_warn(c, "%s was recorded already, by entry #%lld; this says more of the same",
                         c->subject, (long long)told->entry->seq);
    return MB_OK;
}

/* ---- what was typed ---- */

enum mb_rc mb_checking_no_field(struct mb_checking *c, const struct mb_kind *kind,
                                const char *name, struct mb_error *err)
{
    const char **names = MB_ARRAY(c->arena, kind->count + 1, const char *), *near;

    for (size_t i = 0; i < kind->count; i++)
        names[i] = kind->fields[i].name.at;
    near = mb_nearest(mb_str_of(name), names, kind->count);
    if (near)
        return mb_fail(err, MB_REFUSED, "%s has no field '%s'; did you mean %s?", kind->name.at,
                       name, near);
    return mb_fail(err, MB_REFUSED, "%s has no field '%s'; it has: %s; see `markerbed record %s"
                                    " --help`",
                   kind->name.at, name, mb_kinds_join(c->arena, names, kind->count, CLOSE),
                   kind->name.at);
}

enum mb_rc mb_checking_take(struct mb_checking *c, const struct mb_typed *typed,
                            const struct mb_kind_field *field, mb_json **out,
                            struct mb_error *err)
{
    enum mb_rc rc;

    c->new_pieces = mb_str_is(c->kind->name, "division") && mb_str_is(field->name, "into");
    rc = typed->value_json ? mb_value_take(&c->in, field, typed->value_json, out, err)
                           : mb_value_read(&c->in, field, mb_str_of(typed->value), out, err);
    c->new_pieces = false;
    if (rc)
        mb_fail_where(err, "field %s", field->name.at);
    return rc;
}

static bool is_empty(const struct mb_typed *typed)
{
    return typed->value_json ? mb_json_is(typed->value_json, MB_JSON_NULL)
                             : mb_str_trim(mb_str_of(typed->value)).len == 0;
}

static bool is_left_out(const struct mb_typed *typed)
{
    return typed->value_json ? mb_json_text_is(typed->value_json, MB_LEAVE_OUT)
                             : mb_str_is(mb_str_trim(mb_str_of(typed->value)), MB_LEAVE_OUT);
}

static enum mb_rc take_typed(struct mb_checking *c, struct mb_error *err)
{
    for (size_t i = 0; i < c->what->count; i++) {
        const struct mb_typed *typed = &c->what->typed[i];
        const struct mb_kind_field *field = mb_kind_field(c->kind, mb_str_of(typed->name));
        size_t at;
        mb_json *value;
        enum mb_rc rc;

        if (!field && mb_str_is(c->kind->name, "correction"))
            continue; /* of the entry that is corrected: correct.c */
        if (!field)
            return mb_checking_no_field(c, c->kind, typed->name, err);
        at = (size_t)(field - c->kind->fields);
        if (is_empty(typed))
            continue;
        if (c->settled[at])
            return mb_fail(err, MB_REFUSED, "field %s: it is given twice", field->name.at);
        c->settled[at] = true;
        if (is_left_out(typed))
            continue;
        rc = mb_checking_take(c, typed, field, &value, err);
        if (rc)
            return rc;
        c->values[at] = value;
    }
    return MB_OK;
}

/* ---- attached files ---- */

static const struct mb_kind_field *file_column(const struct mb_kind_field *field)
{
    for (size_t i = 0; i < field->column_count; i++)
        if (field->columns[i].type == MB_V_FILE)
            return &field->columns[i];
    return NULL;
}

/* Puts a file where the field has room for one. */
static enum mb_rc put_file(struct mb_checking *c, const struct mb_kind_field *field, mb_json *file,
                           struct mb_error *err)
{
    size_t at = (size_t)(field - c->kind->fields);
    const struct mb_kind_field *column = file_column(field);
    bool list = field->type == MB_V_LIST && field->of->type == MB_V_FILE;
    mb_json *many;

    if (field->type == MB_V_FILE && !c->values[at]) {
        c->values[at] = file;
        c->settled[at] = true;
        return MB_OK;
    }
    if (!list && !column)
        return mb_fail(err, MB_REFUSED, field->type == MB_V_FILE ? "field %s: it takes one file"
                                                                 : "field %s: it takes no file",
                       field->name.at);
    many = mb_json_is(c->values[at], MB_JSON_ARRAY) ? mb_json_copy(c->arena, c->values[at])
                                                    : mb_json_array(c->arena);
    if (column) {
        mb_json *row = mb_json_object(c->arena);

        for (size_t i = 0; i < field->column_count; i++)
            if (field->columns[i].required == MB_REQUIRED_YES && &field->columns[i] != column)
                return mb_fail(err, MB_REFUSED,
                               "field %s: a row needs more than a file; write %s:...; %s:PATH",
                               field->name.at, field->columns[i].name.at, column->name.at);
        mb_json_put_str(c->arena, row, column->name, file);
        file = row;
    }
    mb_json_add(many, file);
    c->values[at] = many;
    c->settled[at] = true;
    return MB_OK;
}

static enum mb_rc take_attached(struct mb_checking *c, struct mb_error *err)
{
    for (size_t i = 0; i < c->what->attach_count; i++) {
        struct mb_str whole = mb_str_of(c->what->attach[i]), name, path;
        const struct mb_kind_field *field = NULL;
        mb_json *file;
        enum mb_rc rc;

        if (mb_str_cut(whole, '=', &name, &path))
            field = mb_kind_field(c->kind, name);
        if (!field)
            path = whole;
        if (!field)
            field = mb_kind_field(c->kind, MB_STR("photos"));
        if (!field)
            return mb_fail(err, MB_REFUSED, "a %s has no photos; attach the file to a field, as"
                                            " FIELD=PATH",
                           c->kind->name.at);
        rc = mb_checking_file(c, field, path, &file, err);
        if (!rc)
            rc = put_file(c, field, file, err);
        if (rc)
            return rc;
    }
    return MB_OK;
}

/* ---- is it whole? ---- */

static const char *hint_of(struct mb_checking *c, const struct mb_kind_field *field)
{
    if (field->answers.count == 0)
        return field->name.at;
    return mb_arena_printf(c->arena, "%s (or '%s')", field->name.at, field->answers.at[0]);
}

static bool is_missing(const struct mb_checking *c, size_t at)
{
    const struct mb_kind_field *field = &c->kind->fields[at];

    if (c->values[at])
        return false;
    switch (field->required) {
    case MB_REQUIRED_YES:
    case MB_REQUIRED_ANSWER:
        return true;
    case MB_REQUIRED_WHEN:
        return field->if_field >= 0 && mb_fill_applies(c, field);
    default:
        return false;
    }
}

enum mb_rc mb_checking_whole(struct mb_checking *c, struct mb_error *err)
{
    const char **missing = MB_ARRAY(c->arena, c->kind->count + 1, const char *), *who = "";
    bool recorder = false;
    size_t count = 0;

    for (size_t i = 0; i < c->kind->count; i++)
        if (is_missing(c, i)) {
            missing[count++] = hint_of(c, &c->kind->fields[i]);
            recorder |= mb_words_has(&c->kind->fields[i].from, MB_STR("recorder"));
        }
    if (count == 0)
        return MB_OK;
    if (recorder && c->recorder_unknown)
        who = mb_arena_printf(c->arena, "; once %.*s is recorded, who did it is filled in",
                              MB_STR_ARG(c->ledger->recorder));
    return mb_fail(err, MB_REFUSED, "still missing: %s%s; see `markerbed record %s --help`",
                   mb_kinds_join(c->arena, missing, count, MISSING_TOLD), who, c->kind->name.at);
}

static struct mb_str text_of(const struct mb_checking *c, const char *name)
{
    const struct mb_kind_field *field = mb_kind_field(c->kind, mb_str_of(name));

    return field ? mb_json_str(c->values[field - c->kind->fields]) : (struct mb_str){ NULL, 0 };
}

/* What no single field can say by itself. */
static enum mb_rc check_together(const struct mb_checking *c, struct mb_error *err)
{
    static const char *const spans[][2] = { { "validFrom", "validUntil" }, { "from", "until" } };
    struct mb_str latitude = text_of(c, "decimalLatitude");
    struct mb_str longitude = text_of(c, "decimalLongitude");

    if ((latitude.at != NULL) != (longitude.at != NULL))
        return mb_fail(err, MB_REFUSED,
                       "field %s: latitude and longitude are given both or not at all",
                       latitude.at ? "decimalLongitude" : "decimalLatitude");
    for (size_t i = 0; i < sizeof spans / sizeof *spans; i++) {
        struct mb_str from = text_of(c, spans[i][0]), until = text_of(c, spans[i][1]);
        struct mb_days first, last;

        if (from.at && until.at && mb_days_read(from, &first) && mb_days_read(until, &last)
            && last.last < first.first)
            return mb_fail(err, MB_REFUSED, "field %s: '%.*s' lies before %s '%.*s'", spans[i][1],
                           MB_STR_ARG(until), spans[i][0], MB_STR_ARG(from));
    }
    return MB_OK;
}

/* ---- the whole way ---- */

static void put_field(struct mb_field *to, const struct mb_kind_field *field, const mb_json *value)
{
    *to = (struct mb_field){ .name = field->name.at,
                             .in = field->in,
                             .value = value,
                             .salted = field->salted && mb_json_is(value, MB_JSON_ARRAY) };
}

static void make_fields(struct mb_checking *c, struct mb_field **fields, size_t *count)
{
    *fields = MB_ARRAY(c->arena, c->kind->count + 1, struct mb_field);
    *count = 0;
    for (size_t i = 0; i < c->kind->count; i++)
        if (c->values[i])
            put_field(&(*fields)[(*count)++], &c->kind->fields[i], c->values[i]);
}

/* The batch that an entry was typed in, whether or not its form has a place for it. */
static void put_batch(struct mb_checking *c, struct mb_field *fields, size_t *count)
{
    size_t at = 0;

    if (!c->way.batch)
        return;
    while (at < *count && strcmp(fields[at].name, "batch") != 0)
        at++;
    fields[at] = (struct mb_field){ .name = "batch",
                                    .in = MB_PRIVATE,
                                    .value = mb_json_string(c->arena, c->way.batch) };
    *count += at == *count;
}

/* What was seen in or on the piece before, as far as it stands. */
static enum mb_rc caution_of_piece(struct mb_checking *c, struct mb_cautions *cautions,
                                   struct mb_error *err)
{
    static const char *const names[] = { "hazards", "hazardsSeen" };
    const mb_story *story;
    enum mb_rc rc = mb_subjects_story(c->ledger, mb_str_of(c->subject), &story, err);

    for (size_t i = 0; !rc && story && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);

        for (size_t n = 0; told->voided_by < 0 && n < sizeof names / sizeof *names; n++)
            mb_cautions_piece(cautions, mb_str_of(names[n]),
                              mb_told_field(told, names[n], NULL, NULL));
    }
    return rc;
}

/* Of the methods and materials in it, for whoever writes down one entry or is about to. */
static enum mb_rc take_cautions(struct mb_checking *c, struct mb_error *err)
{
    struct mb_cautions cautions = mb_cautions_new(c->arena);
    bool bench = mb_str_is(c->kind->name, "preparation") || mb_str_is(c->kind->name, "making");
    enum mb_rc rc = MB_OK;

    if (!bench || (c->way.batch && !c->way.trying))
        return MB_OK;
    for (size_t i = 0; i < c->kind->count; i++)
        if (c->values[i])
            mb_cautions_value(&cautions, &c->kind->fields[i], c->values[i]);
    if (c->known)
        rc = caution_of_piece(c, &cautions, err);
    c->cautions = cautions.list->count ? cautions.list : NULL;
    return rc;
}

static enum mb_rc check(struct mb_checking *c, struct mb_field **fields, size_t *count,
                        struct mb_error *err)
{
    enum mb_rc rc = find_kind(c, err);

    if (!rc)
        rc = find_subject(c, err);
    if (rc)
        return rc;
    c->in.kind = c->kind->name.at;
    c->values = MB_ARRAY(c->arena, c->kind->count + 1, const mb_json *);
    c->settled = MB_ARRAY(c->arena, c->kind->count + 1, bool);
    rc = check_number_free(c, err);
    if (!rc)
        rc = take_typed(c, err);
    if (!rc)
        rc = take_attached(c, err);
    if (!rc)
        rc = mb_fill(c, err);
    if (!rc && mb_str_is(c->kind->name, "correction"))
        rc = mb_correct_check(c, fields, count, err);
    else if (!rc) {
        rc = mb_checking_whole(c, err);
        if (!rc)
            rc = check_together(c, err);
        if (!rc)
            make_fields(c, fields, count);
    }
    if (!rc)
        rc = mb_otherside_check(c, err);
    if (!rc)
        rc = mb_caution(c, err);
    if (!rc)
        rc = take_cautions(c, err);
    if (!rc)
        put_batch(c, *fields, count);
    return rc;
}

enum mb_rc mb_door_check(mb_ledger *ledger, mb_arena *arena, const struct mb_recording *what,
                         struct mb_door_way way, struct mb_checked *out, struct mb_error *err)
{
    struct mb_checking c = {
        .ledger = ledger,
        .door = ledger->door,
        .arena = arena,
        .what = what,
        .way = way,
        .filled = mb_json_object(arena),
        .warnings = mb_json_array(arena),
    };
    struct mb_field *fields = NULL;
    size_t count = 0;
    enum mb_rc rc;

    mb_subjects_trim(ledger->door);
    c.in = (struct mb_value_in){ .arena = arena,
                                 .today = (int32_t)(mb_now() / 86400),
                                 .ctx = &c,
                                 .ref = mb_checking_ref,
                                 .entry = mb_checking_entry,
                                 .file = mb_checking_file,
                                 .note = take_note };
    rc = check(&c, &fields, &count, err);
    if (rc) {
        if (what->where)
            mb_fail_where(err, "%s", what->where);
        return rc;
    }
    *out = (struct mb_checked){ .kind = c.kind,
                                .subject = c.subject,
                                .fields = fields,
                                .count = count,
                                .values = c.values,
                                .filled = c.filled,
                                .warnings = c.warnings,
                                .cautions = c.cautions,
                                .files = c.files };
    return MB_OK;
}
