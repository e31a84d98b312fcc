/*
 * A spreadsheet taken in, all of it or nothing (docs/intake.md). Every row is tried, so that one
 * run tells all faults; the entries of good rows lie in an open group meanwhile, and are committed
 * only if there was no fault at all.
 */
#include <markerbed/intake.h>
#include <markerbed/record.h>

#include <stdlib.h>
#include <string.h>

#include "csv.h"
#include "fileio.h"
#include "intake_map.h"
#include "intake_split.h"
#include "session.h"
#include "sha256.h"
#include "story.h"
#include "text.h"

#define FAULTS_TOLD 100
#define PROGRESS_ROWS 500
#define KINDS_MAX 100

struct intake {
    mb_ledger *ledger;
    mb_arena *arena;   /* for what lasts */
    mb_arena *scratch; /* for one row */
    const struct mb_intake *what;
    struct mb_map map;
    mb_batch *batch;
    int64_t begin; /* seq before the first entry of this run */
    size_t rows, entries, already, faults;
    size_t *faulty_lines, faulty_room;
    mb_json *told;
    struct tally {
        const char *kind;
        int64_t count;
    } *tallies; /* of entries made, by kind */
    size_t tally_count;
    uint64_t *seen; /* hashes of subjects that `once` entries were made for, and of what was said */
    size_t seen_count, seen_room;
    /* of the subject met last, as it stood before this run: rows of one stand together */
    mb_arena *story_arena;
    const char *story_subject;
    mb_story *story;
};

/* ---- subjects met in this run ---- */

static uint64_t short_hash(struct mb_str text)
{
    struct mb_hash hash = mb_sha256_str(text);
    uint64_t out;

    memcpy(&out, hash.b, sizeof out);
    return out ? out : 1;
}

/* Upper and lower case are one in a subject. */
static uint64_t hash_of_subject(mb_arena *scratch, const struct mb_mapped *m)
{
    return short_hash(mb_str_of(mb_arena_printf(scratch, "%s %s", m->kind,
                                                mb_lower(scratch, mb_str_of(m->subject)))));
}

static uint64_t hash_of_all(mb_arena *scratch, const struct mb_mapped *m)
{
    mb_json *all = mb_json_object(scratch);

    mb_json_put_text(scratch, all, "", mb_arena_printf(scratch, "%s %s", m->kind,
                                                       mb_lower(scratch, mb_str_of(m->subject))));
    for (size_t i = 0; i < m->count; i++)
        mb_json_put_text(scratch, all, m->names[i], m->values[i]);
    return short_hash(mb_json_write(scratch, all));
}

static void seen_put(uint64_t *table, size_t room, uint64_t hash)
{
    size_t at = hash % room;

    while (table[at])
        at = (at + 1) % room;
    table[at] = hash;
}

static bool seen_before(const struct intake *in, uint64_t hash)
{
    if (in->seen_room == 0)
        return false;
    for (size_t at = hash % in->seen_room; in->seen[at]; at = (at + 1) % in->seen_room)
        if (in->seen[at] == hash)
            return true;
    return false;
}

static void keep_seen(struct intake *in, uint64_t hash)
{
    if (seen_before(in, hash))
        return;
    if (in->seen_count * 2 >= in->seen_room) {
        size_t room = in->seen_room ? in->seen_room * 4 : 4096;
        uint64_t *more = MB_ARRAY(in->arena, room, uint64_t);

        for (size_t i = 0; i < in->seen_room; i++)
            if (in->seen[i])
                seen_put(more, room, in->seen[i]);
        in->seen = more;
        in->seen_room = room;
    }
    seen_put(in->seen, in->seen_room, hash);
    in->seen_count++;
}

/* ---- faults ---- */

/* The field that a sentence of the door is about: "finds.csv: line 3: field eventDate: ...". */
static struct mb_str field_in(const char *sentence)
{
    const char *at = strstr(sentence, ": field ");
    size_t len = at ? strcspn(at + 8, ": ,") : 0;

    return len ? (struct mb_str){ at + 8, len } : (struct mb_str){ NULL, 0 };
}

/* The columns that this field is made from; NULL if the sentence names none. */
static const char *columns_of(const struct intake *in, const struct mb_mapped *mapped,
                              const char *sentence)
{
    struct mb_str field = field_in(sentence);

    return field.at ? mb_map_columns(&in->map, in->arena, mapped->rule, field) : NULL;
}

static void tell_fault(struct intake *in, size_t line, const struct mb_mapped *mapped,
                       const char *sentence)
{
    size_t most = in->what->most_faults ? in->what->most_faults : FAULTS_TOLD;
    const char *columns = mapped ? columns_of(in, mapped, sentence) : NULL;
    mb_json *row;

    if (in->faults == in->faulty_room) {
        size_t room = in->faulty_room ? in->faulty_room * 2 : 64;
        size_t *more = MB_ARRAY(in->arena, room, size_t);

        if (in->faults)
            memcpy(more, in->faulty_lines, in->faults * sizeof *more);
        in->faulty_lines = more;
        in->faulty_room = room;
    }
    in->faulty_lines[in->faults++] = line;
    if (in->faults > most)
        return;
    row = mb_json_add(in->told, mb_json_object(in->arena));
    mb_json_put_int(in->arena, row, "line", (int64_t)line);
    if (columns)
        mb_json_put_text(in->arena, row, "column", columns);
    mb_json_put_text(in->arena, row, "text", sentence);
}

/* ---- rows ---- */

static const char *where(const struct intake *in, size_t line)
{
    return mb_arena_printf(in->scratch, "%s: line %zu", mb_path_name(in->what->path), line);
}

static struct mb_recording recording_of(struct intake *in, const struct mb_mapped *m, size_t line)
{
    struct mb_typed *typed = MB_ARRAY(in->scratch, m->count + 1, struct mb_typed);

    for (size_t i = 0; i < m->count; i++)
        typed[i] = (struct mb_typed){ .name = m->names[i], .value = m->values[i] };
    return (struct mb_recording){ .kind = m->kind,
                                  .subject = m->subject,
                                  .typed = typed,
                                  .count = m->count,
                                  .where = where(in, line) };
}

static bool says_the_same(const struct mb_recording *what, const mb_json *fields,
                          const struct mb_told *told, bool corrected)
{
    for (size_t i = 0; i < what->count; i++) {
        const char *name = what->typed[i].name;
        const mb_json *said = corrected ? mb_told_field(told, name, NULL, NULL)
                                        : mb_entry_field(told->entry, name, NULL);

        if (!mb_json_equal(mb_json_get(fields, name), said))
            return false;
    }
    return true;
}

/* What a subject is, or how it came here: said once. Of other kinds there may be many entries that
 * differ, and all be true. */
static bool is_said_once(const char *kind)
{
    static const char *const kinds[] = { "party", "site", "horizon", "permission", "field-day",
                                         "dealing", "collecting", "arrival", "making" };

    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
        if (strcmp(kind, kinds[i]) == 0)
            return true;
    return false;
}

static enum mb_rc read_story(struct intake *in, const char *subject, struct mb_error *err)
{
    mb_arena *arena = in->story_arena;
    struct mb_entry *entries;
    int64_t *seqs;
    size_t count;
    enum mb_rc rc;

    if (in->story_subject && strcmp(in->story_subject, subject) == 0)
        return MB_OK;
    in->story_subject = NULL;
    mb_arena_reset(arena);
    rc = mb_log_chain(in->ledger->log, arena, mb_str_of(subject), in->begin, &seqs, &count, err);
    if (rc)
        return rc;
    in->story = mb_story_new(arena);
    entries = MB_ARRAY(arena, count + 1, struct mb_entry);
    for (size_t i = 0; !rc && i < count; i++) {
        rc = mb_log_entry(in->ledger->log, arena, seqs[i], &entries[i], err);
        if (!rc)
            mb_story_add(in->story, &entries[i]);
    }
    if (!rc)
        in->story_subject = mb_arena_text(arena, subject);
    return rc;
}

/* Does the ledger hold, from before this run, an entry of this kind that says just this, then or
 * since it was corrected? *other is true if it holds one that says something else. What was voided
 * counts for nothing: a table that was undone can be taken in again. */
static enum mb_rc recorded(struct intake *in, const struct mb_recording *what, bool *same,
                           bool *other, struct mb_error *err)
{
    const mb_json *tried = NULL;
    enum mb_rc rc = read_story(in, what->subject, err);

    *same = *other = false;
    if (rc)
        return rc;
    for (size_t i = mb_story_count(in->story); i-- > 0 && !*same;) {
        const struct mb_told *told = mb_story_at(in->story, i);

        if (told->voided_by >= 0 || !mb_str_is(told->entry->kind, what->kind))
            continue;
        *other = true;
        if (!tried && (rc = mb_batch_try(in->batch, in->scratch, what, &tried, err)))
            return rc;
        *same = says_the_same(what, mb_json_get(tried, "fields"), told, false)
                || (told->changes
                    && says_the_same(what, mb_json_get(tried, "fields"), told, true));
    }
    return MB_OK;
}

static void count_kind(struct intake *in, const char *kind)
{
    size_t at = 0;

    in->entries++;
    while (at < in->tally_count && strcmp(in->tallies[at].kind, kind) != 0)
        at++;
    if (at == KINDS_MAX)
        return; /* more kinds than there are: the door has refused them already */
    if (at == in->tally_count)
        in->tallies[in->tally_count++].kind = mb_arena_text(in->arena, kind);
    in->tallies[at].count++;
}

/* MB_NO: the ledger has it already. */
static enum mb_rc take_entry(struct intake *in, const struct mb_mapped *m, size_t line,
                             struct mb_error *err)
{
    struct mb_recording what = recording_of(in, m, line);
    bool said_once = is_said_once(m->kind), same, other;
    uint64_t hash = m->once     ? hash_of_subject(in->scratch, m)
                    : said_once ? hash_of_all(in->scratch, m)
                                : 0;
    enum mb_rc rc;

    if (m->once && seen_before(in, hash))
        return MB_NO;
    rc = recorded(in, &what, &same, &other, err);
    if (rc)
        return rc;
    if (m->once && (same || other))
        keep_seen(in, hash);
    if (same || (m->once && other))
        return MB_NO;
    if (other && said_once)
        return mb_fail(err, MB_REFUSED,
                       "%s: %s is in the ledger already and says something else; record a"
                       " correction instead of a second %s",
                       what.where, m->subject, m->kind);
    if (hash && seen_before(in, hash))
        return mb_fail(err, MB_REFUSED,
                       "%s: a row above says just the same of %s; take one of them out",
                       what.where, m->subject);
    rc = mb_batch_add(in->batch, in->scratch, &what, NULL, err);
    if (rc)
        return rc;
    /* a row that is refused leaves it to the next one to make what is made once */
    if (hash)
        keep_seen(in, hash);
    count_kind(in, m->kind);
    return MB_OK;
}

static enum mb_rc take_row(struct intake *in, const struct mb_csv_record *record,
                           struct mb_error *failure)
{
    struct mb_mapped *mapped;
    struct mb_error err = { 0 };
    size_t count, taken = 0;
    enum mb_rc rc = mb_map_row(&in->map, in->scratch, record, &mapped, &count, &err);

    if (rc) {
        mb_fail_where(&err, "%s", where(in, record->line));
        tell_fault(in, record->line, NULL, err.text);
        return MB_OK;
    }
    for (size_t i = 0; !rc && i < count; i++) {
        rc = take_entry(in, &mapped[i], record->line, &err);
        if (rc == MB_OK)
            taken++;
        else if (rc == MB_NO)
            rc = MB_OK;
        else if (rc == MB_REFUSED)
            tell_fault(in, record->line, &mapped[i], err.text);
    }
    if (rc == MB_OK && taken == 0)
        in->already++;
    if (rc == MB_OK || rc == MB_REFUSED)
        return MB_OK;
    return mb_fail(failure, rc, "%s", err.text[0] ? err.text : "the ledger cannot be written");
}

/* A line of commas alone, as spreadsheets leave them below a table. */
static bool is_blank(const struct mb_csv_record *record)
{
    for (size_t i = 0; i < record->count; i++)
        if (mb_str_trim(record->fields[i]).len)
            return false;
    return true;
}

static enum mb_rc take_rows(struct intake *in, mb_csv *csv, struct mb_error *err)
{
    struct mb_csv_record record;
    enum mb_rc rc;

    for (;;) {
        struct mb_error fault = { 0 };

        mb_arena_reset(in->scratch);
        rc = mb_csv_next(csv, &record, &fault);
        if (rc == MB_NO)
            return MB_OK;
        if (rc == MB_OK && is_blank(&record))
            continue;
        in->rows++;
        if (rc == MB_REFUSED)
            tell_fault(in, record.line, NULL,
                       mb_arena_printf(in->scratch, "%s: %s", where(in, record.line), fault.text));
        else if (rc)
            return mb_fail(err, rc, "%s", fault.text);
        else if ((rc = take_row(in, &record, err)))
            return rc;
        if (in->what->progress && in->rows % PROGRESS_ROWS == 0)
            in->what->progress(in->what->ctx, in->rows, 0);
    }
}

/* ---- the whole ---- */

static enum mb_rc check_header(const struct mb_csv_record *header, struct mb_error *err)
{
    for (size_t i = 0; i < header->count; i++) {
        struct mb_str name = mb_str_trim(header->fields[i]);

        for (size_t j = 0; name.len && j < i; j++)
            if (mb_str_equal(name, mb_str_trim(header->fields[j])))
                return mb_fail(err, MB_REFUSED,
                               "columns %zu and %zu are both called '%.*s'; give one of them"
                               " another name",
                               j + 1, i + 1, MB_STR_ARG(name));
    }
    return MB_OK;
}

static enum mb_rc read_header(struct intake *in, mb_csv *csv, struct mb_error *err)
{
    struct mb_csv_record header;
    enum mb_rc rc = mb_csv_next(csv, &header, err);

    if (rc == MB_NO)
        return mb_fail(err, MB_REFUSED, "%s: the table is empty", in->what->path);
    if (rc) {
        mb_fail_where(err, "%s: line 1", in->what->path);
        return rc;
    }
    rc = check_header(&header, err);
    if (rc) {
        mb_fail_where(err, "%s: line 1", in->what->path);
        return rc;
    }
    rc = mb_map_read(in->arena, in->what->map_path, header.fields, header.count, &in->map, err);
    if (rc && header.count == 1 && strpbrk(mb_arena_copy(in->arena, header.raw.at, header.raw.len),
                                           ";\t")) {
        *err = (struct mb_error){ 0 };
        rc = mb_fail(err, MB_REFUSED,
                     "%s: line 1 is one field: divide the columns by commas, not by semicolons or"
                     " tabs (a spreadsheet program asks for it where it saves as CSV)",
                     in->what->path);
    }
    return rc;
}

static mb_json *result_of(struct intake *in, const char *batch)
{
    mb_json *out = mb_json_object(in->arena), *kinds = mb_json_object(in->arena);

    mb_json_put_int(in->arena, out, "rows", (int64_t)in->rows);
    mb_json_put_int(in->arena, out, "entries", (int64_t)in->entries);
    mb_json_put_int(in->arena, out, "already", (int64_t)in->already);
    mb_json_put_int(in->arena, out, "faultsInAll", (int64_t)in->faults);
    mb_json_put(in->arena, out, "faults", in->told);
    for (size_t i = 0; i < in->tally_count; i++)
        mb_json_put_int(in->arena, kinds, in->tallies[i].kind, in->tallies[i].count);
    mb_json_put(in->arena, out, "kinds", kinds);
    mb_json_put_bool(in->arena, out, "dryRun", in->what->dry_run);
    if (in->entries && !in->faults && !in->what->dry_run)
        mb_json_put_text(in->arena, out, "batch", batch);
    return out;
}

static enum mb_rc finish(struct intake *in, const char *batch, const mb_json **out,
                         struct mb_error *err)
{
    bool keep = in->faults == 0 && !in->what->dry_run && in->entries > 0;
    enum mb_rc rc = MB_OK;
    mb_json *result;

    if (keep)
        rc = mb_batch_end(in->batch, err);
    else
        mb_batch_cancel(in->batch);
    if (rc)
        return rc;
    result = result_of(in, batch);
    if (in->faults && in->what->split)
        rc = mb_intake_split(in->arena, in->what->path, in->faulty_lines, in->faults, result, err);
    *out = result;
    if (!rc && in->faults)
        rc = mb_fail(err, MB_REFUSED, "%s: %zu fault%s in %zu row%s; nothing was recorded",
                     in->what->path, in->faults, in->faults == 1 ? "" : "s", in->rows,
                     in->rows == 1 ? "" : "s");
    return rc;
}

enum mb_rc mb_intake_file(mb_ledger *ledger, mb_arena *arena, const struct mb_intake *intake,
                          const mb_json **out, struct mb_error *err)
{
    struct intake in = { .ledger = ledger,
                         .arena = arena,
                         .what = intake,
                         .told = mb_json_array(arena),
                         .tallies = MB_ARRAY(arena, KINDS_MAX, struct tally) };
    uint8_t random[6];
    char hex[MB_HEX_LEN(6) + 1];
    const char *batch;
    mb_csv *csv;
    enum mb_rc rc;

    if (intake->split && strcmp(intake->path, "-") == 0)
        return mb_fail(err, MB_REFUSED,
                       "rows can be put apart only of a table that is a file: name it");
    rc = mb_csv_open(arena, intake->path, &csv, err);
    if (rc)
        return rc;
    mb_random(random, sizeof random);
    mb_hex_write(hex, random, sizeof random);
    batch = mb_arena_printf(arena, "intake-%s", hex);
    in.scratch = mb_arena_new();
    in.story_arena = mb_arena_new();
    rc = read_header(&in, csv, err);
    if (!rc)
        rc = mb_batch_begin(ledger, arena, batch, &in.batch, err);
    if (!rc) {
        in.begin = mb_log_next_seq(ledger->log);
        rc = take_rows(&in, csv, err);
        if (rc)
            mb_batch_cancel(in.batch);
        else
            rc = finish(&in, batch, out, err);
    }
    mb_csv_close(csv);
    mb_arena_free(in.scratch);
    mb_arena_free(in.story_arena);
    return rc;
}
