/*
 * A certificate's file, made again. Its entry says by digest what was held back and what was shown
 * beyond the audience; the rest of what it held follows from the log below it. The sums `held` and
 * `shown`, which were signed then, say whether the outcome is the same.
 */
#include <markerbed/certificate.h>

#include <string.h>

#include "bundle.h"
#include "issuing.h"
#include "text.h"

enum { DIGITS_MOST = 15, NAMED_MOST = 5 };

struct remaking {
    struct mb_issuing is;
    struct mb_issue issue;
    struct mb_recalled recalled;
    int64_t before; /* the first certificate entry */
    bool same;      /* nothing stayed outside for which there may have been room before */
};

/* ---- which ---- */

static bool read_number(const char *text, int64_t *seq)
{
    size_t len = strspn(text, "0123456789");

    *seq = 0;
    for (size_t i = 0; i < len && i < DIGITS_MOST; i++)
        *seq = *seq * 10 + (text[i] - '0');
    return len > 0 && len <= DIGITS_MOST && text[len] == '\0';
}

static enum mb_rc find_newest(mb_ledger *ledger, mb_arena *arena, const char *name,
                              struct mb_entry *out, struct mb_error *err)
{
    const char *subject = strchr(name, '/') ? name : mb_arena_printf(arena, "specimen/%s", name);
    int64_t *seqs;
    size_t count;
    enum mb_rc rc =
        mb_log_chain(ledger->log, arena, mb_str_of(subject), MB_NEVER, &seqs, &count, err);

    for (size_t i = rc ? 0 : count; i-- > 0;) {
        rc = mb_log_entry(ledger->log, arena, seqs[i], out, err);
        if (rc || mb_str_is(out->kind, "certificate"))
            return rc;
    }
    if (!rc && count)
        rc = mb_fail(err, MB_REFUSED, "no certificate was ever issued for %s", subject);
    else if (!rc)
        rc = mb_fail(err, MB_REFUSED,
                     "'%s' is no specimen of this ledger, no certificate's identity (43"
                     " characters, printed on the sheet) and no entry like #12",
                     name);
    return rc;
}

static enum mb_rc find(mb_ledger *ledger, mb_arena *arena, const char *name, struct mb_entry *out,
                       struct mb_error *err)
{
    struct mb_hash leaf;
    int64_t seq, size = 0;
    enum mb_rc rc;

    if (mb_b64u_read_exact(mb_str_of(name), leaf.b, sizeof leaf.b))
        return mb_issuing_find(ledger, arena, name, out, err);
    if (name[0] != '#')
        return find_newest(ledger, arena, name, out, err);
    rc = mb_log_size(ledger->log, &size, err);
    if (!rc && (!read_number(name + 1, &seq) || seq >= size))
        rc = mb_fail(err, MB_REFUSED, "there is no entry %s", name);
    if (!rc)
        rc = mb_log_entry(ledger->log, arena, seq, out, err);
    if (!rc && !mb_str_is(out->kind, "certificate"))
        rc = mb_fail(err, MB_REFUSED, "entry %s is no certificate, but of kind %.*s", name,
                     MB_STR_ARG(out->kind));
    return rc;
}

static bool is_one_with(const struct mb_entry *a, const struct mb_entry *b)
{
    static const char *const same[] = { "held", "shown", "audience" };
    bool one = mb_str_is(a->kind, "certificate") && mb_str_is(b->kind, "certificate");

    for (size_t i = 0; one && i < 3; i++)
        one = mb_str_equal(mb_json_str(mb_entry_open(a, same[i])),
                           mb_json_str(mb_entry_open(b, same[i])));
    return one;
}

/* All that were issued in one file: entries one after the other with the same sums. */
static enum mb_rc gather(struct remaking *r, const struct mb_entry *one, struct mb_error *err)
{
    struct mb_issuing *is = &r->is;
    struct mb_entry other;
    int64_t first = one->seq, last = one->seq, size;
    enum mb_rc rc = mb_log_size(is->ledger->log, &size, err);

    for (bool more = true; !rc && more && first > 0; first -= more) {
        rc = mb_log_entry(is->ledger->log, is->arena, first - 1, &other, err);
        more = !rc && is_one_with(one, &other);
    }
    for (bool more = true; !rc && more && last + 1 < size; last += more) {
        rc = mb_log_entry(is->ledger->log, is->arena, last + 1, &other, err);
        more = !rc && is_one_with(one, &other);
    }
    if (rc)
        return rc;
    r->before = first;
    r->issue.count = (size_t)(last - first + 1);
    is->certificates = MB_ARRAY(is->arena, r->issue.count, struct mb_entry);
    for (size_t i = 0; !rc && i < r->issue.count; i++)
        rc = mb_log_entry(is->ledger->log, is->arena, first + (int64_t)i, &is->certificates[i],
                          err);
    return rc;
}

/* ---- how it was asked for ---- */

static void recall_issue(struct remaking *r)
{
    struct mb_issuing *is = &r->is;
    size_t count = r->issue.count, n = 0;
    const struct mb_entry *last = &is->certificates[count - 1];
    const mb_json *withholding = mb_entry_field(last, "withholding", NULL);
    struct mb_withhold *withhold =
        MB_ARRAY(is->arena, withholding ? withholding->count + 1 : 1, struct mb_withhold);
    const char **names = MB_ARRAY(is->arena, count, const char *);
    const mb_json **lists = MB_ARRAY(is->arena, count, const mb_json *);

    is->subjects = MB_ARRAY(is->arena, count, struct mb_str);
    is->statements = MB_ARRAY(is->arena, count, const mb_json *);
    for (size_t i = 0; i < count; i++) {
        const struct mb_entry *entry = &is->certificates[i];

        is->subjects[i] = entry->sub;
        names[i] = mb_arena_copy(is->arena, entry->sub.at, entry->sub.len);
        lists[i] = mb_entry_open(entry, "withheld");
        is->statements[i] = mb_entry_field(entry, "statement", NULL);
    }
    MB_JSON_EACH(field, withholding)
    {
        struct mb_str name = mb_json_str(field);

        withhold[n++] = (struct mb_withhold){ mb_arena_copy(is->arena, name.at, name.len),
                                              "held back" };
    }
    is->to = mb_entry_field(last, "to", NULL);
    r->issue.specimens = names;
    r->issue.withhold = withhold;
    r->issue.withhold_count = n;
    r->issue.files_beside = mb_json_text_is(mb_entry_field(last, "filesBeside", NULL), "yes");
    r->recalled = (struct mb_recalled){ lists, count, mb_entry_field(last, "revealed", NULL) };
    is->issue = &r->issue;
}

/* ---- is it the same? ---- */

static bool holds_digest(const struct mb_entry *entry, struct mb_str digest)
{
    struct mb_hash hash;

    if (!mb_b64u_read_exact(digest, hash.b, sizeof hash.b))
        return false;
    for (size_t i = 0; i < entry->slot_count; i++)
        if (mb_hash_equal(&entry->slots[i].digest, &hash))
            return true;
    return false;
}

static bool may_have_shown(const struct remaking *r, struct mb_str digest)
{
    for (size_t i = 0; i < r->is.closure.count; i++)
        if (holds_digest(&r->is.closure.entries[i].stored, digest))
            return true;
    for (size_t i = 0; i < r->issue.count; i++)
        if (holds_digest(&r->is.certificates[i], digest))
            return true;
    return false;
}

/* Erasures behind the certificate that took from the entries it held: "#31, #32". */
static enum mb_rc list_erasures(struct remaking *r, const char **out, struct mb_error *err)
{
    mb_arena *arena = r->is.arena;
    size_t count = 0;
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(mb_log_db(r->is.ledger->log),
                                 "SELECT seq FROM line WHERE kind = 'erasure' AND seq > ?1"
                                 " ORDER BY seq",
                                 &stmt, err);

    *out = NULL;
    if (rc)
        return rc;
    mb_bind_int(stmt, 1, r->before);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        struct mb_entry erasure;
        bool hit = false;

        rc = mb_log_entry(r->is.ledger->log, arena, mb_col_int(stmt, 0), &erasure, err);
        if (rc)
            break;
        MB_JSON_EACH(digest, mb_entry_open(&erasure, "digests"))
        {
            hit = hit || may_have_shown(r, mb_json_str(digest));
        }
        if (hit && count++ < NAMED_MOST)
            *out = mb_arena_printf(arena, "%s%s#%lld", *out ? *out : "", *out ? ", " : "",
                                   (long long)erasure.seq);
    }
    mb_stmt_free(stmt);
    if (count > NAMED_MOST)
        *out = mb_arena_printf(arena, "%s and %zu more", *out, count - NAMED_MOST);
    return rc;
}

static enum mb_rc say_why_not(struct remaking *r, struct mb_error *err)
{
    const char *erased;
    enum mb_rc rc = list_erasures(r, &erased, err);

    if (rc)
        return rc;
    if (erased)
        return mb_fail(err, MB_UNABLE,
                       "the certificate of entry #%lld cannot be made again as it was: fields that"
                       " it showed were erased since (%s); issue a new one",
                       (long long)r->before, erased);
    return mb_fail(err, MB_UNABLE,
                   "the certificate of entry #%lld cannot be made again: what is on record does not"
                   " give the sums that it was signed with; run `markerbed verify`, or issue a new"
                   " one",
                   (long long)r->before);
}

static bool is_whole(const struct remaking *r)
{
    for (size_t i = 0; i < r->issue.count; i++)
        if (!r->is.statements[i] || !mb_entry_field(&r->is.certificates[i], "to", NULL))
            return false;
    return true;
}

static bool is_same(struct remaking *r)
{
    struct mb_issuing *is = &r->is;
    const struct mb_entry *one = &is->certificates[0];
    struct mb_hash *own = MB_ARRAY(is->arena, 2 * r->issue.count, struct mb_hash);
    size_t n = 0;

    for (size_t i = 0; i < r->issue.count; i++) {
        const struct mb_entry *entry = &is->certificates[i];

        for (size_t j = 0; j < entry->disclosure_count && n < 2 * r->issue.count; j++) {
            const struct mb_disclosure *d = &entry->disclosures[j];

            if (d->slot >= 0 && entry->slots[d->slot].in == MB_OWN)
                own[n++] = d->digest;
        }
    }
    return mb_str_equal(mb_issuing_held(is), mb_json_str(mb_entry_open(one, "held")))
           && mb_str_equal(mb_issuing_shown(is, own, n),
                           mb_json_str(mb_entry_open(one, "shown")));
}

/* ---- making it ---- */

static enum mb_rc remake(struct remaking *r, struct mb_error *err)
{
    struct mb_issuing *is = &r->is;
    const struct mb_entry *last = &is->certificates[r->issue.count - 1];
    struct mb_showing showing = { .audience = is->audience,
                                  .issue = &r->issue,
                                  .specimens = is->subjects,
                                  .specimen_count = r->issue.count,
                                  .recalled = &r->recalled };
    enum mb_rc rc;

    if (!is_whole(r))
        return say_why_not(r, err);
    rc = mb_closure_make(is->ledger, is->arena, &showing, mb_ref_of(is->to), r->before,
                         &is->closure, err);
    if (!rc)
        rc = mb_issuing_enclose(is, r->before, err);
    if (rc)
        return rc;
    if (!is_same(r))
        return say_why_not(r, err);
    r->same = is->warnings->count == 0;
    if (!r->same)
        mb_json_add_text(is->arena, is->warnings,
                         "If that was there when the certificate was issued, the first copy holds"
                         " it and this one does not; both can be checked.");
    return mb_anchors_recall(is->ledger, is->arena, mb_entry_field(last, "witnessed", NULL),
                             &is->cosigned, err);
}

static enum mb_rc warn_withdrawn(struct remaking *r, struct mb_error *err)
{
    mb_arena *arena = r->is.arena;
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < r->issue.count && !rc; i++) {
        const struct mb_entry *one = &r->is.certificates[i];
        struct mb_str id = mb_b64u(arena, one->leaf.b, sizeof one->leaf.b);
        int64_t *seqs;
        size_t count;

        rc = mb_log_chain(r->is.ledger->log, arena, one->sub, MB_NEVER, &seqs, &count, err);
        for (size_t j = 0; !rc && j < count; j++) {
            struct mb_entry entry = { 0 };
            struct mb_str which;

            rc = mb_log_entry(r->is.ledger->log, arena, seqs[j], &entry, err);
            which = mb_json_str(mb_json_get(mb_entry_open(&entry, "which"), "entry"));
            if (!rc && mb_str_is(entry.kind, "withdrawal") && mb_str_equal(which, id))
                mb_json_add_text(arena, r->is.warnings,
                                 mb_arena_printf(arena, "It was withdrawn by entry #%lld.",
                                                 (long long)entry.seq));
        }
    }
    return rc;
}

enum mb_rc mb_certificate_again(mb_ledger *ledger, mb_arena *arena, const char *name,
                                const mb_json **out, struct mb_error *err)
{
    struct remaking r = { .is = { .ledger = ledger, .arena = arena } };
    mb_json *result = mb_json_object(arena), *specimens = mb_json_array(arena);
    const struct mb_entry *last;
    struct mb_str file;
    struct mb_entry one;
    enum mb_rc rc = find(ledger, arena, name, &one, err);

    r.is.warnings = mb_json_array(arena);
    if (!rc && !mb_audience_of(mb_json_str(mb_entry_open(&one, "audience")), &r.is.audience))
        rc = mb_fail(err, MB_UNABLE, "entry #%lld names an audience that this program does not"
                                     " know", (long long)one.seq);
    if (!rc)
        rc = gather(&r, &one, err);
    if (rc)
        return rc;
    recall_issue(&r);
    rc = remake(&r, err);
    if (!rc)
        rc = mb_issuing_file(&r.is, &file, err);
    if (!rc)
        rc = warn_withdrawn(&r, err);
    if (rc)
        return rc;
    last = &r.is.certificates[r.issue.count - 1];
    for (size_t i = 0; i < r.issue.count; i++)
        mb_json_add_text(arena, specimens, r.issue.specimens[i]);
    mb_json_put(arena, result, "file", mb_json_string_str(arena, file));
    mb_json_put(arena, result, "id",
                mb_json_string_str(arena, mb_b64u(arena, last->leaf.b, sizeof last->leaf.b)));
    mb_json_put_int(arena, result, "seq", last->seq);
    mb_json_put_text(arena, result, "audience", mb_audience_name[r.is.audience]);
    mb_json_put(arena, result, "specimens", specimens);
    mb_json_put_bool(arena, result, "same", r.same);
    mb_json_put(arena, result, "warnings", r.is.warnings);
    *out = result;
    return MB_OK;
}
