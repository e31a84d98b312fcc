/*
 * A spreadsheet taken in, all of it or nothing (docs/intake.md). Every row is tried, so that one
 * run tells all faults; the entries of good rows lie in an open group meanwhile, and are committed
 * only if there was no fault at all.
 */
#include <markerbed/intake.h>
#include <markerbed/record.h>

#include <stdlib.h>
#include <string.h>

#include "buf.h"
#include "csv.h"
#include "fileio.h"
#include "intake_map.h"
#include "session.h"
#include "sha256.h"
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
    uint64_t *seen; /* hashes of subjects that `once` entries were made for */
    size_t seen_count, seen_room;
};

/* ---- subjects met in this run ---- */

static uint64_t hash_of(const char *kind, const char *subject)
{
    struct mb_hash hash = mb_sha256_tagged('s', kind, strlen(kind), subject, strlen(subject));
    uint64_t out;

    memcpy(&out, hash.b, sizeof out);
    return out ? out : 1;
}

static void seen_put(uint64_t *table, size_t room, uint64_t hash)
{
    size_t at = hash % room;

    while (table[at])
        at = (at + 1) % room;
    table[at] = hash;
}

static bool seen_before(struct intake *in, const char *kind, const char *subject)
{
    uint64_t hash = hash_of(kind, subject);

    if (in->seen_count * 2 >= in->seen_room) {
        size_t room = in->seen_room ? in->seen_room * 4 : 4096;
        uint64_t *more = MB_ARRAY(in->arena, room, uint64_t);

        for (size_t i = 0; i < in->seen_room; i++)
            if (in->seen[i])
                seen_put(more, room, in->seen[i]);
        in->seen = more;
        in->seen_room = room;
    }
    for (size_t at = hash % in->seen_room; in->seen[at]; at = (at + 1) % in->seen_room)
        if (in->seen[at] == hash)
            return true;
    seen_put(in->seen, in->seen_room, hash);
    in->seen_count++;
    return false;
}

/* ---- faults ---- */

/* The columns that a field is made from, as the map has them; NULL if the sentence names none. */
static const char *columns_of(const struct intake *in, const char *kind, const char *sentence)
{
    const char *at = strstr(sentence, "field ");
    const char *end = at ? strchr(at, ':') : NULL;
    struct mb_str field;

    if (!end)
        return NULL;
    field = (struct mb_str){ at + 6, (size_t)(end - at) - 6 };
    MB_JSON_EACH(entry, mb_json_get(in->map.json, "entries"))
    {
        const mb_json *rule = mb_json_get_str(mb_json_get(entry, "fields"), field);

        if (rule && (mb_json_text_is(mb_json_get(entry, "kind"), kind) || rule->next == NULL))
            return mb_json_cstr(in->arena,
                                rule->type == MB_JSON_OBJECT ? mb_json_get(rule, "from") : rule);
    }
    return NULL;
}

static void tell_fault(struct intake *in, size_t line, const char *kind, const char *sentence)
{
    size_t most = in->what->most_faults ? in->what->most_faults : FAULTS_TOLD;
    const char *columns = kind ? columns_of(in, kind, sentence) : NULL;
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

/* Does the ledger hold, from before this run, an entry of this kind that says just this? *other is
 * true if it holds one that says something else. */
static enum mb_rc recorded(struct intake *in, const struct mb_recording *what, bool *same,
                           bool *other, struct mb_error *err)
{
    const mb_json *tried;
    struct mb_entry entry;
    int64_t *seqs;
    size_t count;
    enum mb_rc rc = mb_log_chain(in->ledger->log, in->scratch, mb_str_of(what->subject), in->begin,
                                 &seqs, &count, err);

    *same = *other = false;
    if (rc || count == 0)
        return rc;
    rc = mb_batch_try(in->batch, in->scratch, what, &tried, err);
    for (size_t i = count; !rc && i-- > 0 && !*same;) {
        bool equal = true;

        rc = mb_log_entry(in->ledger->log, in->scratch, seqs[i], &entry, err);
        if (rc || !mb_str_is(entry.kind, what->kind))
            continue;
        *other = true;
        for (size_t j = 0; j < what->count && equal; j++)
            equal = mb_json_equal(mb_json_get(mb_json_get(tried, "fields"), what->typed[j].name),
                                  mb_entry_field(&entry, what->typed[j].name, NULL));
        *same = equal;
    }
    return rc;
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
    bool same, other;
    enum mb_rc rc;

    if (m->once && seen_before(in, m->kind, m->subject))
        return MB_NO;
    rc = recorded(in, &what, &same, &other, err);
    if (rc)
        return rc;
    if (same || (m->once && other))
        return MB_NO;
    if (other)
        return mb_fail(err, MB_REFUSED,
                       "%s: %s is in the ledger already and says something else; record a"
                       " correction instead of a second %s",
                       what.where, m->subject, m->kind);
    rc = mb_batch_add(in->batch, in->scratch, &what, NULL, err);
    if (!rc)
        count_kind(in, m->kind);
    return rc;
}

static enum mb_rc take_row(struct intake *in, const struct mb_csv_record *record)
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
            tell_fault(in, record->line, mapped[i].kind, err.text);
    }
    if (rc == MB_OK && taken == 0)
        in->already++;
    return rc == MB_REFUSED ? MB_OK : rc;
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
        in->rows++;
        if (rc == MB_REFUSED) {
            tell_fault(in, record.line, NULL,
                       mb_arena_printf(in->scratch, "%s: %s", where(in, record.line), fault.text));
            rc = MB_OK;
        } else if (!rc) {
            rc = take_row(in, &record);
        }
        if (rc)
            return mb_fail(err, rc, "%s",
                           fault.text[0] ? fault.text : "the ledger cannot be written");
        if (in->what->progress && in->rows % PROGRESS_ROWS == 0)
            in->what->progress(in->what->ctx, in->rows, 0);
    }
}

/* ---- good and faulty rows apart ---- */

static int by_line(const void *a, const void *b)
{
    size_t x = *(const size_t *)a, y = *(const size_t *)b;

    return (x > y) - (x < y);
}

static bool is_faulty(const struct intake *in, size_t line)
{
    return bsearch(&line, in->faulty_lines, in->faults, sizeof line, by_line) != NULL;
}

static enum mb_rc split(struct intake *in, mb_json *out, struct mb_error *err)
{
    MB_BUF_AUTO struct mb_buf good = { 0 }, faulty = { 0 };
    const char *good_path = mb_arena_printf(in->arena, "%s.good.csv", in->what->path);
    const char *faulty_path = mb_arena_printf(in->arena, "%s.faulty.csv", in->what->path);
    struct mb_csv_record record;
    bool header = true;
    mb_csv *csv;
    enum mb_rc rc = mb_csv_open(in->arena, in->what->path, &csv, err);

    if (rc)
        return rc;
    mb_buf_init(&good, SIZE_MAX / 4);
    mb_buf_init(&faulty, SIZE_MAX / 4);
    while ((rc = mb_csv_next(csv, &record, NULL)) != MB_NO && rc != MB_UNABLE) {
        if (header || is_faulty(in, record.line)) {
            mb_buf_add_str(&faulty, record.raw);
            mb_buf_add_text(&faulty, "\r\n");
        }
        if (header || !is_faulty(in, record.line)) {
            mb_buf_add_str(&good, record.raw);
            mb_buf_add_text(&good, "\r\n");
        }
        header = false;
    }
    mb_csv_close(csv);
    rc = mb_file_write(good_path, mb_buf_str(&good), 0644, err);
    if (!rc)
        rc = mb_file_write(faulty_path, mb_buf_str(&faulty), 0644, err);
    if (rc)
        return rc;
    mb_json_put_text(in->arena, out, "good", good_path);
    mb_json_put_text(in->arena, out, "faulty", faulty_path);
    return MB_OK;
}

/* ---- the whole ---- */

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
    return mb_map_read(in->arena, in->what->map_path, header.fields, header.count, &in->map, err);
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
        rc = split(in, result, err);
    *out = result;
    if (!rc && in->faults)
        rc = mb_fail(err, MB_REFUSED, "%s: %zu fault%s in %zu rows; nothing was recorded",
                     in->what->path, in->faults, in->faults == 1 ? "" : "s", in->rows);
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
    enum mb_rc rc = mb_csv_open(arena, intake->path, &csv, err);

    if (rc)
        return rc;
    mb_random(random, sizeof random);
    mb_hex_write(hex, random, sizeof random);
    batch = mb_arena_printf(arena, "intake-%s", hex);
    in.scratch = mb_arena_new();
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
    return rc;
}
