/*
 * Certificates that a ledger issues against the rules: each is signed properly, by the ledger's own
 * keys, and must still be found out, by the finding that it deserves. The issuer here is the test's
 * own, so that it can cheat.
 */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "sha256.h"
#include "temp_ledger.h"
#include "text.h"
#include "verify_bundle.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define SPECIMEN "specimen/26-0001"
#define PHOTO "any bytes will do for a photograph"

/* What the issuer does otherwise than it should. NULL, 0, false: as it should. */
struct cheat {
    const char *what, *found;        /* the findings, beside remarks that any certificate has */
    const char *audience;            /* "buyer" if NULL */
    const char *hide;                /* fields not shown, with blanks between */
    bool say_so;                     /* ... but listed in `withheld` */
    const char *erased_on;           /* ... or erased, by an erasure on this subject */
    const char *leave_out;           /* entries of this subject are not in the file */
    bool held_too;                   /* ... and `held` is over those that are */
    const char *line_from, *line_to; /* a change in the statement's JSON */
    const char *derivation;          /* another one */
    const char *photo;               /* the attached bytes; "" none; NULL the right ones */
    bool sign_by_preparator;
    bool no_own;    /* its own fields are not shown */
    bool note_last; /* another entry stands behind the certificate */
    int64_t anchor; /* a checkpoint of this size comes along */
    bool anchor_forged;
};

struct maker {
    struct temp_ledger t;
    const struct cheat *cheat;
    struct mb_hash leaves[40], digests[80];
    size_t leaf_count, digest_count;
    mb_json *entries, *withheld;
    int64_t seqs[40];
};

/* A site, a party, a specimen with a photograph, a condition and a preparation, and one
 * correction. */
static void fill(struct maker *m)
{
    struct temp_ledger *t = &m->t;
    struct mb_hash photo = mb_sha256(PHOTO, strlen(PHOTO));
    char hex[65], leaf[44];
    struct mb_entry e;

    mb_hex_write(hex, photo.b, 32);
    temp_ledger_new(t);
    temp_ledger_begin(t);
    temp_ledger_put_by(
        t, t->owner, "party/P001", "party",
        "{\"sale\":{\"neutralLabel\":\"the lab\"},\"science\":{\"name\":\"O. Harrow\"}}");
    temp_ledger_put_by(t, t->owner, "site/S001", "site",
                       "{\"open\":{\"countryCode\":\"US\"},\"sale\":{\"stateProvince\":\"Kansas\"},"
                       "\"science\":{\"siteName\":\"Sallow Draw\"}}");
    e = temp_ledger_put_by(
        t, t->owner, SPECIMEN, "collecting",
        mb_arena_printf(
            t->arena,
            "{\"open\":{\"objectForm\":\"slab\"},\"sale\":{\"eventDate\":\"2026-05-02\","
            "\"recordedBy\":[{\"ref\":\"party/P001\"}],\"site\":{\"ref\":\"site/S001\"},"
            "\"view\":{\"file\":\"%s\"}},\"land\":{\"permissionText\":\"by word\"}}",
            hex));
    mb_b64u_write(leaf, e.leaf.b, 32);
    temp_ledger_put_by(
        t, t->preparator, SPECIMEN, "preparation",
        "{\"sale\":{\"preparationDate\":\"2026-05-03\"},\"private\":{\"hours\":\"2\"}}");
    temp_ledger_put_by(t, t->preparator, SPECIMEN, "condition",
                       "{\"sale\":{\"examinedOn\":\"2026-05-04\",\"care\":\"keep dry\"}}");
    temp_ledger_put_by(t, t->owner, SPECIMEN, "correction",
                       mb_arena_printf(t->arena,
                                       "{\"open\":{\"target\":{\"entry\":\"%s\"},\"action\":"
                                       "\"change fields\",\"changesFacts\":true},"
                                       "\"sale\":{\"eventDate\":\"2026-05-01\"}}",
                                       leaf));
    temp_ledger_put_by(t, t->owner, "specimen/26-0002", "note", "{}");
    temp_ledger_commit(t);
}

static bool named(const char *names, struct mb_str name);

/* An erasure of the hidden fields of the specimen's condition. */
static void erase(struct maker *m)
{
    char *digests = mb_arena_text(m->t.arena, "");
    struct mb_entry e;

    cr_assert_eq(mb_log_entry(m->t.log, m->t.arena, 7, &e, NULL), MB_OK);
    for (size_t i = 0; i < e.disclosure_count; i++)
        if (named(m->cheat->hide, e.disclosures[i].name))
            digests =
                mb_arena_printf(m->t.arena, "%s%s\"%.*s\"", digests, digests[0] ? "," : "",
                                MB_STR_ARG(mb_b64u(m->t.arena, e.disclosures[i].digest.b, 32)));
    cr_assert(digests[0]);
    temp_ledger_add(&m->t, m->cheat->erased_on, "erasure",
                    mb_arena_printf(m->t.arena,
                                    "{\"open\":{\"target\":{\"entry\":\"%.*s\"},\"digests\":[%s],"
                                    "\"ground\":\"a person asked\"}}",
                                    MB_STR_ARG(mb_b64u(m->t.arena, e.leaf.b, 32)), digests));
}

static bool named(const char *names, struct mb_str name)
{
    struct mb_str rest = mb_str_of(names), one;

    while (rest.len) {
        mb_str_cut(rest, ' ', &one, &rest);
        if (mb_str_equal(one, name))
            return true;
    }
    return false;
}

static enum mb_audience audience_of(const struct maker *m)
{
    enum mb_audience audience = MB_BUYER;

    if (m->cheat->audience)
        cr_assert(mb_audience_of(mb_str_of(m->cheat->audience), &audience));
    return audience;
}

static void withhold(struct maker *m, const struct mb_disclosure *d)
{
    mb_json *row = mb_json_object(m->t.arena);

    mb_json_put(m->t.arena, row, "digest",
                mb_json_string_str(m->t.arena, mb_b64u(m->t.arena, d->digest.b, 32)));
    mb_json_put_text(m->t.arena, row, "reason", "the landowner asked");
    mb_json_add(m->withheld, row);
}

/* One entry of the file, with what this audience is shown of it. */
static struct mb_str shown_entry(struct maker *m, const struct mb_entry *e)
{
    char *text = mb_arena_printf(m->t.arena, "%.*s~", MB_STR_ARG(e->jws));

    for (size_t i = 0; i < e->disclosure_count; i++) {
        const struct mb_disclosure *d = &e->disclosures[i];
        bool own = mb_str_is(e->kind, "certificate") && !m->cheat->no_own;

        if (e->slots[d->slot].in == MB_OWN
                ? !own
                : !mb_audience_sees(audience_of(m), e->slots[d->slot].in))
            continue;
        if (d->name.at && named(m->cheat->hide, d->name)) {
            if (m->cheat->say_so)
                withhold(m, d);
            continue;
        }
        text = mb_arena_printf(m->t.arena, "%s%.*s~", text, MB_STR_ARG(d->text));
        if (!mb_str_is(e->kind, "certificate"))
            m->digests[m->digest_count++] = d->digest;
    }
    return mb_str_of(text);
}

static struct mb_entry read_shown(struct maker *m, struct mb_str sd_jwt)
{
    struct mb_error err = { 0 };
    struct mb_entry e;

    cr_assert_eq(mb_entry_read_sd(m->t.arena, sd_jwt, &e, &err), MB_OK, "%s", err.text);
    return e;
}

/* Everything but the other specimen, as the file will show it. */
static mb_stories *gather(struct maker *m)
{
    mb_stories *stories = mb_stories_new(m->t.arena);
    int64_t size;

    cr_assert_eq(mb_log_size(m->t.log, &size, NULL), MB_OK);
    for (int64_t seq = 0; seq < size; seq++) {
        struct mb_entry whole, *e = MB_NEW(m->t.arena, struct mb_entry);
        bool out;

        cr_assert_eq(mb_log_entry(m->t.log, m->t.arena, seq, &whole, NULL), MB_OK);
        if (mb_str_is(whole.sub, "specimen/26-0002"))
            continue;
        out = m->cheat->leave_out && mb_str_is(whole.sub, m->cheat->leave_out);
        if (!out || !m->cheat->held_too)
            m->leaves[m->leaf_count++] = whole.leaf;
        if (out)
            continue;
        m->seqs[m->entries->count] = seq;
        mb_json_add(m->entries, mb_json_string_str(m->t.arena, shown_entry(m, &whole)));
        *e = read_shown(m, mb_json_str(m->entries->last));
        mb_stories_add(stories, e);
    }
    return stories;
}

static mb_json *statement_of(struct maker *m, const mb_stories *stories)
{
    mb_arena *arena = m->t.arena;
    mb_json *statement = mb_json_object(arena);
    const mb_json *table = mb_statement_table(arena, mb_statement_current(arena)), *changed;
    struct mb_str text;
    const char *at;

    mb_json_put(arena, statement, "lines",
                mb_statement_lines(arena, table, stories, MB_STR(SPECIMEN), MB_JSON_INTEGER_MAX));
    if (!m->cheat->line_from)
        return statement;
    text = mb_json_write(arena, statement);
    at = memmem(text.at, text.len, m->cheat->line_from, strlen(m->cheat->line_from));
    cr_assert_not_null(at, "%s is not in %.*s", m->cheat->line_from, MB_STR_ARG(text));
    text = mb_str_of(mb_arena_printf(arena, "%.*s%s%s", (int)(at - text.at), text.at,
                                     m->cheat->line_to, at + strlen(m->cheat->line_from)));
    cr_assert_eq(mb_json_read(arena, text, MB_JSON_STRICT, &changed, NULL), MB_OK, "%.*s",
                 MB_STR_ARG(text));
    return mb_json_copy(arena, changed);
}

static mb_json *text_value(struct maker *m, struct mb_str text)
{
    return mb_json_string_str(m->t.arena, text);
}

/* Records the certificate entry, and puts it behind the others. */
static void certify(struct maker *m, mb_json *statement)
{
    mb_arena *arena = m->t.arena;
    mb_json *to = mb_json_string(arena, "bearer");
    struct mb_str made[2] = {
        mb_disclosure_make(arena, "statement", statement, &m->digests[m->digest_count]),
        mb_disclosure_make(arena, "to", to, &m->digests[m->digest_count + 1]),
    };
    struct mb_field fields[] = {
        { .name = "audience", .value = mb_json_string(arena, mb_audience_name[audience_of(m)]) },
        { .name = "derivation",
          .value = m->cheat->derivation ? mb_json_string(arena, m->cheat->derivation)
                                        : text_value(m, mb_statement_current(arena)) },
        { .name = "held",
          .value = text_value(m, mb_digest_of_set(arena, m->leaves, m->leaf_count)) },
        { .name = "shown",
          .value = text_value(m, mb_digest_of_set(arena, m->digests,
                                                  m->digest_count + (m->cheat->no_own ? 0 : 2))) },
        { .name = "withheld", .value = m->withheld },
        { .name = "statement", .in = MB_OWN, .value = statement, .made = made[0] },
        { .name = "to", .in = MB_OWN, .value = to, .made = made[1] },
    };
    struct mb_append append = { SPECIMEN, "certificate", fields, COUNT(fields), NULL };
    struct mb_error err = { 0 };
    struct mb_entry e;
    int64_t seq;

    temp_ledger_begin(&m->t);
    seq = mb_log_next_seq(m->t.log);
    cr_assert_eq(mb_log_append(m->t.log, arena, &append,
                               m->cheat->sign_by_preparator ? m->t.preparator : m->t.owner, NULL,
                               &err),
                 MB_OK, "%s", err.text);
    cr_assert_eq(mb_log_entry(m->t.log, arena, seq, &e, NULL), MB_OK);
    m->seqs[m->entries->count] = e.seq;
    mb_json_add(m->entries, mb_json_string_str(arena, shown_entry(m, &e)));
    if (m->cheat->note_last) {
        e = temp_ledger_put_by(&m->t, m->t.owner, SPECIMEN, "note", "{}");
        m->seqs[m->entries->count] = e.seq;
        mb_json_add(m->entries, mb_json_string_str(arena, shown_entry(m, &e)));
    }
    temp_ledger_commit(&m->t);
}

static mb_json *path_json(mb_arena *arena, const struct mb_path *path)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < path->count; i++)
        mb_json_add(list, mb_json_string_str(arena, mb_b64(arena, path->node[i].b, 32)));
    return list;
}

static void anchor(struct maker *m, mb_json *file, int64_t size)
{
    mb_arena *arena = m->t.arena;
    mb_json *row = mb_json_object(arena), *list = mb_json_array(arena);
    struct mb_path path;
    struct mb_str note;
    char *text;

    cr_assert_eq(mb_log_checkpoint(m->t.log, arena, m->cheat->anchor, &note, NULL, NULL), MB_OK);
    cr_assert_eq(mb_log_prove_growth(m->t.log, m->cheat->anchor, size, &path, NULL), MB_OK);
    if (m->cheat->anchor_forged)
        path.node[0].b[0] ^= 1;
    text = mb_arena_copy(arena, note.at, note.len);
    mb_json_put_text(arena, row, "checkpoint", text);
    mb_json_put(arena, row, "consistency", path_json(arena, &path));
    mb_json_add(list, row);
    mb_json_put(arena, file, "anchors", list);
}

static mb_json *bundle_up(struct maker *m)
{
    mb_arena *arena = m->t.arena;
    mb_json *file = mb_json_object(arena), *rows = mb_json_array(arena), *files;
    struct mb_hash photo = mb_sha256(PHOTO, strlen(PHOTO));
    const char *bytes = m->cheat->photo ? m->cheat->photo : PHOTO;
    struct mb_str note;
    int64_t size;
    char hex[65];
    size_t i = 0;

    cr_assert_eq(mb_log_checkpoint(m->t.log, arena, 0, &note, &size, NULL), MB_OK);
    MB_JSON_EACH(sd_jwt, m->entries) {
        mb_json *row = mb_json_add(rows, mb_json_object(arena));
        struct mb_path path;

        cr_assert_eq(mb_log_prove(m->t.log, m->seqs[i], size, &path, NULL), MB_OK);
        mb_json_put_int(arena, row, "index", m->seqs[i++]);
        mb_json_put(arena, row, "sd_jwt", mb_json_string_str(arena, sd_jwt->text));
        mb_json_put(arena, row, "proof", path_json(arena, &path));
    }
    mb_json_put_text(arena, file, "format", MB_BUNDLE_FORMAT);
    mb_json_put_text(arena, file, "origin", TEMP_LEDGER_ORIGIN);
    mb_json_put(arena, file, "checkpoint", mb_json_string_str(arena, note));
    mb_json_put(arena, file, "entries", rows);
    if (bytes[0]) {
        mb_hex_write(hex, photo.b, 32);
        files = mb_json_object(arena);
        mb_json_put(arena, files, hex,
                    mb_json_string_str(arena, mb_b64(arena, bytes, strlen(bytes))));
        mb_json_put(arena, file, "files", files);
    }
    if (m->cheat->anchor)
        anchor(m, file, size);
    return file;
}

static const char *judged(struct maker *m, const mb_json *file, enum mb_rc *rc)
{
    struct mb_trusted ledger = { MB_STR(TEMP_LEDGER_ORIGIN), *mb_log_fingerprint(m->t.log) };
    struct mb_trust trust = { &ledger, 1, NULL, 0 };
    struct mb_bundle bundle;
    struct mb_bundle_check check = { .arena = m->t.arena,
                                     .bundle = &bundle,
                                     .trust = &trust,
                                     .findings = mb_findings_new(m->t.arena, 0),
                                     .foreign_left = MB_FOREIGN_MAX };
    struct mb_error err = { 0 };
    const char *names = "";

    cr_assert_eq(mb_bundle_read(m->t.arena, file, &bundle, &err), MB_OK, "%s", err.text);
    mb_bundle_verify(&check);
    *rc = mb_findings_rc(check.findings);
    for (int id = 0; id < MB_FINDING_COUNT; id++)
        if (mb_findings_of(check.findings, (enum mb_finding_id)id))
            names = mb_arena_printf(m->t.arena, "%s%s%s", names, names[0] ? " " : "",
                                    mb_finding_kinds[id].name);
    return names;
}

static const struct cheat cheats[] = {
    { .what = "nothing", .found = "" },
    { .what = "nothing, for an institution", .audience = "institution", .found = "" },
    { .what = "nothing, for an auditor", .audience = "auditor", .found = "" },
    { .what = "nothing, for all", .audience = "public", .photo = "", .found = "" },
    { .what = "withheld, and said", .hide = "care", .say_so = true, .found = "" },
    { .what = "withheld in silence", .hide = "care", .found = "withheld-from-audience" },
    { .what = "erased, and said", .hide = "care", .erased_on = SPECIMEN, .found = "erased" },
    { .what = "erased by an entry on another subject",
      .hide = "care",
      .erased_on = "party/P001",
      .found = "withheld-from-audience" },
    { .what = "withheld and erased",
      .hide = "care",
      .say_so = true,
      .erased_on = SPECIMEN,
      .found = "" },
    { .what = "a correction withheld in silence",
      .hide = "eventDate",
      .found = "withheld-from-audience" },
    { .what = "science withheld from an institution",
      .audience = "institution",
      .hide = "siteName",
      .found = "withheld-from-audience" },
    { .what = "science withheld from a buyer", .hide = "siteName", .found = "" },
    { .what = "land withheld from an auditor",
      .audience = "auditor",
      .hide = "permissionText",
      .found = "withheld-from-audience" },
    { .what = "its own fields not shown",
      .no_own = true,
      .found = "withheld-from-audience statement-missing" },
    { .what = "the site left out", .leave_out = "site/S001", .found = "left-out subject-missing" },
    { .what = "the site left out, and not held",
      .leave_out = "site/S001",
      .held_too = true,
      .found = "subject-missing" },
    { .what = "the finder left out, and not held",
      .leave_out = "party/P001",
      .held_too = true,
      .found = "subject-missing" },
    { .what = "a line changed",
      .line_from = "keep dry",
      .line_to = "none needed",
      .found = "statement-differs" },
    { .what = "the old date for the corrected one",
      .line_from = "2026-05-01",
      .line_to = "2026-05-02",
      .found = "statement-differs" },
    { .what = "a value written otherwise",
      .line_from = "\"value\":\"US\"",
      .line_to = "\"value\":[\"US\"]",
      .found = "statement-differs" },
    { .what = "a line renamed",
      .line_from = "\"name\":\"care\"",
      .line_to = "\"name\":\"hazards\"",
      .found = "statement-differs statement-missing" },
    { .what = "a line twice",
      .line_from = "{\"lines\":[",
      .line_to = "{\"lines\":[{\"attested\":true,\"name\":\"standing\",\"value\":\"x\"},"
                 "{\"attested\":true,\"name\":\"standing\",\"value\":\"y\"},",
      .found = "statement-differs" },
    { .what = "a line attested that follows",
      .line_from = "{\"lines\":[",
      .line_to = "{\"lines\":[{\"attested\":true,\"name\":\"shares\",\"value\":\"100\"},",
      .found = "statement-differs" },
    { .what = "a line of no name in the table",
      .line_from = "{\"lines\":[",
      .line_to = "{\"lines\":[{\"from\":[],\"name\":\"beauty\",\"value\":\"great\"},",
      .found = "statement-differs" },
    { .what = "a statement of another form",
      .line_from = "{\"lines\":[",
      .line_to = "{\"more\":1,\"lines\":[",
      .found = "malformed" },
    { .what = "a table that nobody knows",
      .derivation = "VQYWsZICa11ViPyLjO2O6iRg4mXVKBH2e1mhS0xDjQw",
      .found = "unknown-derivation" },
    { .what = "no photograph", .photo = "", .found = "file-not-here no-view" },
    { .what = "another photograph", .photo = "swapped", .found = "file-changed" },
    { .what = "signed by one who may not",
      .sign_by_preparator = true,
      .found = "key-without-right" },
    { .what = "a note behind it", .note_last = true, .found = "no-certificate" },
    { .what = "an older checkpoint with it", .anchor = 3, .found = "" },
    { .what = "an older checkpoint of another history",
      .anchor = 3,
      .anchor_forged = true,
      .found = "forked" },
};

Test(verify_certificate, what_its_issuer_did_is_found_out)
{
    for (size_t i = 0; i < COUNT(cheats); i++) {
        struct maker m = { .cheat = &cheats[i] };
        const char *names;
        enum mb_rc rc;

        fill(&m);
        if (cheats[i].erased_on)
            erase(&m);
        m.entries = mb_json_array(m.t.arena);
        m.withheld = mb_json_array(m.t.arena);
        certify(&m, statement_of(&m, gather(&m)));
        names = judged(&m, bundle_up(&m), &rc);
        cr_expect_str_eq(names, cheats[i].found, "%s: %s", cheats[i].what, names);
        temp_ledger_done(&m.t);
    }
}
