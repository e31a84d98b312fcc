/* Receiving: what markerbed/receive.h promises. */
#include <markerbed/receive.h>
#include <markerbed/verify.h>

#include <string.h>

#include "bag_unpack.h"
#include "carrier.h"
#include "fileio.h"
#include "filetree.h"
#include "foreign.h"
#include "ids.h"
#include "keepsake.h"
#include "recorder.h"
#include "session.h"
#include "text.h"

#define SPECIMENS_MAX 500

/* One specimen of theirs. */
struct incoming {
    const struct mb_entry *certificate;
    const char *theirs; /* its number there */
    const mb_json *lines; /* the statement's, worked out from what is shown */
    const char *ours;     /* "specimen/..." , NULL until said */
    bool already;
    mb_json *told; /* its row of the answer */
};

struct receiving {
    mb_ledger *ledger;
    mb_arena *arena;
    const struct mb_receive *what;
    const char *named;   /* what was asked for */
    const char *path;    /* of the certificate: in a bag, or what was named */
    struct mb_str bytes; /* its own */
    struct mb_bundle bundle;
    struct mb_checkpoint checkpoint;
    struct incoming *incoming;
    size_t count;
    mb_json *result;
};

/* ---- reading ---- */

static enum mb_rc read_entries(struct receiving *r, mb_stories *stories, struct mb_error *err)
{
    for (size_t i = 0; i < r->bundle.count; i++) {
        struct mb_bundle_entry *e = &r->bundle.entries[i];
        enum mb_rc rc = mb_entry_read_sd(r->arena, e->sd_jwt, &e->entry, err);

        if (rc)
            return rc;
        mb_stories_add(stories, &e->entry);
    }
    return MB_OK;
}

/* The certificates at the end, by what verifying said of them. */
static void find_incoming(struct receiving *r, const mb_stories *stories)
{
    const mb_json *table = mb_statement_table(r->arena, mb_statement_current(r->arena));
    const mb_json *told = mb_json_get(mb_json_get(r->result, "file"), "certificates");

    r->count = told ? told->count : 0;
    r->incoming = MB_ARRAY(r->arena, r->count + 1, struct incoming);
    for (size_t i = 0; i < r->count; i++) {
        struct incoming *in = &r->incoming[i];
        const struct mb_bundle_entry *e = &r->bundle.entries[r->bundle.count - r->count + i];
        struct mb_str sub = e->entry.sub, number;

        mb_str_cut(sub, '/', &sub, &number);
        in->certificate = &e->entry;
        in->theirs = mb_arena_copy(r->arena, number.at, number.len);
        in->lines = mb_statement_lines(r->arena, table, stories, e->entry.sub, e->index);
    }
}

static enum mb_rc read_file(struct receiving *r, struct mb_error *err)
{
    mb_stories *stories = mb_stories_new(r->arena);
    struct mb_str file;
    struct mb_note note;
    const mb_json *json;
    enum mb_rc rc = mb_file_read(r->arena, r->path, 4 * (size_t)MB_BUNDLE_MAX, &file, err);

    if (!rc)
        rc = mb_carrier_open(r->arena, r->path, file, &r->bytes, err);
    if (!rc)
        rc = mb_json_read(r->arena, r->bytes, MB_JSON_STRICT, &json, err);
    if (!rc)
        rc = mb_bundle_read(r->arena, json, &r->bundle, err);
    if (!rc)
        rc = mb_note_read(r->arena, r->bundle.note, &note, err);
    if (!rc)
        rc = mb_checkpoint_read(note.text, &r->checkpoint, NULL, err);
    if (!rc)
        rc = read_entries(r, stories, err);
    if (!rc)
        find_incoming(r, stories);
    return rc;
}

/* ---- what is here already ---- */

static bool evidence_names(const struct receiving *r, const struct mb_entry *arrival,
                           const struct mb_entry *certificate)
{
    struct mb_str leaf = mb_b64u(r->arena, certificate->leaf.b, sizeof certificate->leaf.b);

    MB_JSON_EACH(row, mb_entry_open(arrival, "foreignEvidence"))
    {
        if (mb_str_equal(mb_json_str(mb_json_get(row, "entry")), leaf))
            return true;
    }
    return false;
}

/* An arrival that was struck out does not count: what it took can be received again. */
static enum mb_rc stands(struct receiving *r, const struct mb_entry *arrival, bool *out,
                         struct mb_error *err)
{
    mb_story *story = mb_story_new(r->arena);
    int64_t *seqs;
    size_t count;
    enum mb_rc rc = mb_log_chain(r->ledger->log, r->arena, arrival->sub, MB_NEVER, &seqs, &count,
                                 err);

    *out = false;
    for (size_t i = 0; !rc && i < count; i++) {
        struct mb_entry *entry = MB_NEW(r->arena, struct mb_entry);

        rc = mb_log_entry(r->ledger->log, r->arena, seqs[i], entry, err);
        if (!rc)
            mb_story_add(story, entry);
    }
    for (size_t i = 0; !rc && i < mb_story_count(story); i++)
        if (mb_story_at(story, i)->entry->seq == arrival->seq)
            *out = mb_story_at(story, i)->voided_by < 0;
    return rc;
}

static enum mb_rc note_already(struct receiving *r, const struct mb_entry *arrival,
                               struct mb_error *err)
{
    for (size_t i = 0; i < r->count; i++) {
        mb_json *here;
        bool counts;
        enum mb_rc rc;

        if (!evidence_names(r, arrival, r->incoming[i].certificate))
            continue;
        rc = stands(r, arrival, &counts, err);
        if (rc || !counts)
            return rc;
        r->incoming[i].already = true;
        here = mb_json_object(r->arena);
        mb_json_put(r->arena, here, "subject", mb_json_string_str(r->arena, arrival->sub));
        mb_json_put_int(r->arena, here, "seq", arrival->seq);
        mb_json_put(r->arena, r->incoming[i].told, "already", here);
    }
    return MB_OK;
}

static enum mb_rc find_already(struct receiving *r, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(mb_log_db(r->ledger->log),
                                 "SELECT seq FROM line WHERE kind = 'arrival'", &stmt, err);

    if (rc)
        return rc;
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        struct mb_entry entry;

        rc = mb_log_entry(r->ledger->log, r->arena, mb_col_int(stmt, 0), &entry, err);
        if (!rc)
            rc = note_already(r, &entry, err);
        if (rc)
            break;
    }
    mb_stmt_free(stmt);
    return rc;
}

/* ---- what it is ---- */

static const mb_json *value_of(const struct incoming *in, const char *name)
{
    MB_JSON_EACH(line, in->lines)
    {
        if (mb_json_text_is(mb_json_get(line, "name"), name))
            return mb_json_get(line, "value");
    }
    return NULL;
}

static const char *title_of(mb_arena *arena, const struct incoming *in)
{
    static const char *const names[] = { "vernacularName", "verbatimIdentification",
                                         "statedIdentification", "scientificName", "whatItIs" };

    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        const char *text = mb_json_cstr(arena, value_of(in, names[i]));

        if (text)
            return text;
    }
    return "not said";
}

static enum mb_rc describe(struct receiving *r, struct mb_error *err)
{
    mb_json *list = mb_json_array(r->arena);
    const char *next = NULL;

    for (size_t i = 0; i < r->count; i++) {
        struct incoming *in = &r->incoming[i];
        mb_json *one = mb_json_add(list, mb_json_object(r->arena));
        struct mb_str leaf = mb_b64u(r->arena, in->certificate->leaf.b, 32);

        in->told = one;
        mb_json_put_text(r->arena, one, "theirs", in->theirs);
        mb_json_put_text(r->arena, one, "title", title_of(r->arena, in));
        mb_json_put(r->arena, one, "certificate", mb_json_string_str(r->arena, leaf));
    }
    if (r->count == 1 && !mb_ids_next(r->ledger, r->arena, "specimen", NULL, &next, NULL))
        mb_json_put_text(r->arena, r->incoming[0].told, "proposed", next);
    mb_json_put(r->arena, r->result, "specimens", list);
    return find_already(r, err);
}

/* ---- our numbers for them ---- */

static struct incoming *incoming_of(struct receiving *r, struct mb_str theirs)
{
    for (size_t i = 0; i < r->count; i++)
        if (mb_str_is(theirs, r->incoming[i].theirs))
            return &r->incoming[i];
    return NULL;
}

static bool given_away(const struct receiving *r, const char *id)
{
    for (size_t i = 0; i < r->count; i++)
        if (r->incoming[i].ours && strcmp(r->incoming[i].ours + strlen("specimen/"), id) == 0)
            return true;
    return false;
}

/* "26-0199" to "26-0200": what is recorded in one go is not in the ledger yet. */
static const char *one_up(mb_arena *arena, const char *id)
{
    char *next = mb_arena_printf(arena, "%s", id);

    for (size_t at = strlen(next); at-- > 0 && next[at] >= '0' && next[at] <= '9';) {
        if (next[at] != '9') {
            next[at]++;
            return next;
        }
        next[at] = '0';
    }
    return mb_arena_printf(arena, "%s-1", id);
}

static enum mb_rc number(struct receiving *r, struct incoming *in, struct mb_str ours,
                         struct mb_error *err)
{
    const char *id = mb_arena_copy(r->arena, ours.at, ours.len);

    if (mb_str_starts(ours, "specimen/"))
        id += strlen("specimen/");
    if (strchr(id, '#')) {
        enum mb_rc rc = mb_ids_next(r->ledger, r->arena, "specimen", strcmp(id, "#") ? id : NULL,
                                    &id, err);

        if (rc)
            return rc;
        while (given_away(r, id))
            id = one_up(r->arena, id);
    }
    if (!mb_id_ok(mb_str_of(id)))
        return mb_fail(err, MB_REFUSED,
                       "--as %s: a number is 1-64 letters, digits, dots, dashes or underscores",
                       id);
    in->ours = mb_arena_printf(r->arena, "specimen/%s", id);
    return MB_OK;
}

static enum mb_rc number_one(struct receiving *r, const char *said, struct mb_error *err)
{
    struct mb_str theirs, ours;
    struct incoming *in = r->count == 1 ? r->incoming : NULL;

    if (mb_str_cut(mb_str_of(said), '=', &theirs, &ours)) {
        in = incoming_of(r, theirs);
        if (!in)
            return mb_fail(err, MB_REFUSED, "--as %s: the certificate is not for a specimen %.*s",
                           said, MB_STR_ARG(theirs));
    } else {
        ours = mb_str_of(said);
    }
    if (!in)
        return mb_fail(err, MB_REFUSED,
                       "the certificate is for %zu specimens: say --as THEIRS=OURS for each of"
                       " them, like --as %s=26-0142",
                       r->count, r->incoming[0].theirs);
    if (in->ours)
        return mb_fail(err, MB_REFUSED, "--as %s: that specimen has a number already", said);
    return number(r, in, ours, err);
}

static enum mb_rc number_all(struct receiving *r, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < r->what->as_count; i++)
        rc = number_one(r, r->what->as[i], err);
    for (size_t i = 0; !rc && i < r->count; i++) {
        if (!r->incoming[i].ours && !r->incoming[i].already)
            return mb_fail(err, MB_REFUSED,
                           "say under which of your numbers %s is to stand: --as %s=...",
                           r->incoming[i].theirs, r->incoming[i].theirs);
        for (size_t j = 0; j < i && r->incoming[i].ours; j++)
            if (r->incoming[j].ours && strcmp(r->incoming[i].ours, r->incoming[j].ours) == 0)
                return mb_fail(err, MB_REFUSED, "%s is named twice by --as", r->incoming[i].ours);
    }
    return rc;
}

/* ---- recording ---- */

struct typed_list {
    mb_arena *arena;
    struct mb_typed *at;
    size_t count;
};

static void type_in(struct typed_list *list, const char *name, const char *value,
                    const mb_json *json)
{
    for (size_t i = 0; i < list->count; i++)
        if (strcmp(list->at[i].name, name) == 0) {
            list->at[i] = (struct mb_typed){ name, value, json };
            return;
        }
    list->at[list->count++] = (struct mb_typed){ name, value, json };
}

static void type_line(struct typed_list *list, const struct incoming *in, const char *name,
                      const char *line, const char *otherwise)
{
    const mb_json *value = value_of(in, line);

    if (value)
        type_in(list, name, NULL, mb_json_copy(list->arena, value));
    else if (otherwise)
        type_in(list, name, otherwise, NULL);
}

static mb_json *evidence(const struct receiving *r, const struct incoming *in)
{
    mb_arena *arena = r->arena;
    mb_json *rows = mb_json_array(arena), *row = mb_json_add(rows, mb_json_object(arena));

    mb_json_put(arena, row, "origin", mb_json_string_str(arena, r->bundle.origin));
    mb_json_put_int(arena, row, "size", (int64_t)r->checkpoint.size);
    mb_json_put(arena, row, "root",
                mb_json_string_str(arena, mb_b64u(arena, r->checkpoint.root.b, 32)));
    mb_json_put(arena, row, "entry",
                mb_json_string_str(arena, mb_b64u(arena, in->certificate->leaf.b, 32)));
    mb_json_put(arena, row, "fingerprint",
                mb_json_string_str(arena,
                                   mb_b64u(arena, r->bundle.entries[0].entry.leaf.b, 32)));
    return rows;
}

/* What the certificate says of the piece, unless the receiver says otherwise; then what ties the
 * two ledgers together, which nobody may say otherwise. */
static struct typed_list typed_for(const struct receiving *r, const struct incoming *in)
{
    struct typed_list list = { r->arena, MB_ARRAY(r->arena, r->what->count + 16, struct mb_typed),
                               0 };
    const char *theirs = mb_arena_printf(r->arena, "%s of %.*s", in->theirs,
                                         MB_STR_ARG(r->bundle.origin));

    type_in(&list, "fromLabel", "another ledger", NULL);
    type_in(&list, "owner", "not known", NULL);
    type_line(&list, in, "objectForm", "objectForm", "single");
    type_line(&list, in, "objectQuantity", "objectQuantity", NULL);
    type_line(&list, in, "materialClass", "materialClass", "not examined");
    type_line(&list, in, "countryOfDiscovery", "countryOfDiscovery", "not known");
    type_line(&list, in, "countryOfDiscovery", "countryCode", NULL);
    type_in(&list, "statedIdentification", title_of(r->arena, in), NULL);
    type_in(&list, "verbatimLabel", "not examined", NULL);
    type_in(&list, "labelLink", "not examined", NULL);
    type_in(&list, "earlierWork", "not examined", NULL);
    type_in(&list, "hazardsSeen", "not examined", NULL);
    type_in(&list, "otherCatalogNumbers", theirs, NULL);
    for (size_t i = 0; i < r->what->count; i++)
        type_in(&list, r->what->typed[i].name, r->what->typed[i].value,
                r->what->typed[i].value_json);
    type_in(&list, "foreignEvidence", NULL, evidence(r, in));
    return list;
}

static enum mb_rc add_all(struct receiving *r, mb_batch *batch, const char *file, mb_json *list,
                          struct mb_error *err)
{
    const char *attach = mb_arena_printf(r->arena, "foreignFile=%s", file);
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < r->count; i++) {
        const struct incoming *in = &r->incoming[i];
        struct typed_list typed;
        struct mb_recording recording;
        const mb_json *out;

        if (in->already)
            continue;
        typed = typed_for(r, in);
        recording = (struct mb_recording){ .kind = "arrival",
                                           .subject = in->ours,
                                           .typed = typed.at,
                                           .count = typed.count,
                                           .attach = &attach,
                                           .attach_count = 1 };
        rc = mb_batch_add(batch, r->arena, &recording, &out, err);
        if (!rc)
            mb_json_add(list, mb_json_copy(r->arena, out));
    }
    return rc;
}

static enum mb_rc record_all(struct receiving *r, const char *file, struct mb_error *err)
{
    const struct mb_entry *last = r->incoming[r->count - 1].certificate;
    struct mb_str id = mb_b64u(r->arena, last->leaf.b, sizeof last->leaf.b);
    mb_json *list = mb_json_array(r->arena);
    const char *name;
    mb_batch *batch;
    int64_t size;
    enum mb_rc rc = mb_log_size(r->ledger->log, &size, err);

    if (rc)
        return rc;
    /* a name of its own, should it be struck out and received again */
    name = mb_arena_printf(r->arena, "received %.12s at %lld", id.at, (long long)size);
    rc = mb_batch_begin(r->ledger, r->arena, name, &batch, err);
    if (rc)
        return rc;
    rc = add_all(r, batch, file, list, err);
    if (rc) {
        mb_batch_cancel(batch);
        return rc;
    }
    rc = mb_batch_end(batch, err);
    if (rc)
        return rc;
    mb_json_put_text(r->arena, r->result, "batch", name);
    mb_json_put(r->arena, r->result, "arrivals", list);
    return MB_OK;
}

static bool all_here(const struct receiving *r)
{
    for (size_t i = 0; i < r->count; i++)
        if (!r->incoming[i].already)
            return false;
    return true;
}

static enum mb_rc carry_in(struct receiving *r, struct mb_error *err)
{
    struct mb_keepsake kept;
    enum mb_rc rc = number_all(r, err);

    if (rc)
        return rc;
    rc = mb_keepsake_make(r->arena, mb_log_folder(r->ledger->log),
                          mb_arena_printf(r->arena, "%s.certificate.json", r->incoming[0].theirs),
                          r->bytes, &kept, err);
    if (!rc)
        rc = record_all(r, kept.path, err);
    mb_keepsake_drop(&kept);
    return rc;
}

/* ---- all of it ---- */

/* May what could not be checked to the end be taken all the same? */
static bool is_acceptable(const struct receiving *r)
{
    MB_JSON_EACH(finding, mb_json_get(r->result, "findings"))
    {
        if (mb_json_text_is(mb_json_get(finding, "severity"), "unsure")
            && !mb_json_text_is(mb_json_get(finding, "name"), "unknown-ledger")
            && !mb_json_text_is(mb_json_get(finding, "name"), "foreign-missing"))
            return false;
    }
    return r->what->accept_unknown;
}

static enum mb_rc look(struct receiving *r, struct mb_error *err)
{
    struct mb_verify verify = { .paths = &r->what->path,
                                .count = 1,
                                .trust_path = r->what->trust_path,
                                .published = r->what->published,
                                .skip_views = true };
    const mb_json *told = NULL, *file = NULL;
    enum mb_rc rc = mb_verify(r->arena, &verify, &told, err);

    if (!told)
        return rc;
    MB_JSON_EACH(one, mb_json_get(told, "files"))
    {
        if (!file || mb_json_get(one, "certificates"))
            file = one; /* of a bag, the certificate inside */
    }
    r->path = mb_json_cstr(r->arena, mb_json_get(file, "path"));
    if (!r->path || mb_json_text_is(mb_json_get(file, "what"), "ledger")
        || mb_json_text_is(mb_json_get(file, "what"), "checkpoint"))
        return mb_fail(err, MB_REFUSED, "%s: this is no certificate, and nothing can be received"
                       " from it", r->what->path);
    MB_JSON_EACH(member, told)
    {
        if (!mb_str_is(member->name, "files"))
            mb_json_put_str(r->arena, r->result, member->name, mb_json_copy(r->arena, member));
    }
    mb_json_put(r->arena, r->result, "file", mb_json_copy(r->arena, file));
    return rc;
}

static enum mb_rc receive(struct receiving *r, struct mb_error *err)
{
    enum mb_rc verdict = look(r, err), rc;

    if (!mb_json_get(r->result, "verdict"))
        return verdict ? verdict : MB_REFUSED;
    if (verdict == MB_NO || !mb_json_get(mb_json_get(r->result, "file"), "certificates"))
        return verdict ? verdict : MB_NO;
    rc = read_file(r, verdict == MB_UNABLE ? NULL : err);
    if (rc)
        return verdict ? verdict : rc;
    rc = describe(r, err);
    if (rc)
        return rc;
    if (r->what->as_count == 0)
        return verdict;
    if (verdict == MB_UNABLE && !is_acceptable(r))
        return MB_UNABLE;
    return all_here(r) ? MB_OK : carry_in(r, err);
}

/* The file is told of by the name that the reader knows, not by where it was unpacked. */
static enum mb_rc receive_packed(struct receiving *r, struct mb_error *err)
{
    struct mb_receive inside = *r->what;
    const char *folder, *bag;
    const mb_json *file;
    enum mb_rc rc = mb_bag_unpack(r->arena, inside.path, NULL, &folder, &bag, err);

    if (rc)
        return rc;
    inside.path = bag;
    r->what = &inside;
    rc = receive(r, err);
    mb_filetree_delete(folder);
    file = mb_json_get(r->result, "file");
    if (file && r->path) {
        mb_json *named = mb_json_copy(r->arena, file);

        mb_json_put_text(r->arena, named, "path",
                         mb_arena_printf(r->arena, "%s: %s", r->named, mb_path_name(r->path)));
        mb_json_put(r->arena, r->result, "file", named);
    }
    return rc;
}

enum mb_rc mb_receive(mb_ledger *ledger, mb_arena *arena, const struct mb_receive *what,
                      const mb_json **out, struct mb_error *err)
{
    struct receiving r = { .ledger = ledger, .arena = arena, .what = what, .named = what->path };
    enum mb_rc rc;

    r.result = mb_json_object(arena);
    rc = mb_is_pack(what->path) ? receive_packed(&r, err) : receive(&r, err);
    if (rc != MB_REFUSED && mb_json_get(r.result, "verdict"))
        *out = r.result;
    return rc;
}
