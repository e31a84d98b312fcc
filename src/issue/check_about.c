#include "check_about.h"

#include <markerbed/verify.h>

#include "date.h"
#include "fileio.h"

#define POLICY_MAX (1u << 20)

static void put(mb_arena *arena, mb_json *out, const char *name, struct mb_str text)
{
    mb_json_put(arena, out, name, mb_json_string_str(arena, text));
}

mb_json *mb_log_check_about(mb_arena *arena, const struct mb_log_check *check)
{
    mb_json *out = mb_json_object(arena);
    const struct mb_hash *print = mb_log_fingerprint(check->log);
    char *moment = mb_moment_write(arena, check->iat_last);

    put(arena, out, "origin", mb_log_origin(check->log));
    put(arena, out, "fingerprint", mb_base32(arena, print->b, 32, false));
    put(arena, out, "fingerprintGrouped", mb_base32(arena, print->b, 32, true));
    mb_json_put_bool(arena, out, "trusted", check->trusted);
    mb_json_put_int(arena, out, "entries", (int64_t)check->entries);
    mb_json_put_int(arena, out, "disclosures", (int64_t)check->disclosures);
    mb_json_put_int(arena, out, "attachments", (int64_t)check->attachments);
    mb_json_put_int(arena, out, "checkpoints", (int64_t)check->checkpoints);
    mb_json_put_int(arena, out, "checkpointSize", check->checkpoint_size);
    mb_json_put_text(arena, out, "recordedAt", moment);
    mb_json_put_text(arena, out, "asOf", mb_arena_copy(arena, moment, 10));
    return out;
}

static const char *verdict_sentence(const struct mb_check_said *c, enum mb_rc rc)
{
    if (rc == MB_NO && c->withdrawn && !mb_findings_count(c->findings, MB_FAULT))
        return "This no longer stands: its signatures hold, and the ledger has withdrawn it.";
    if (rc == MB_NO && c->withdrawn_inside && !mb_findings_count(c->findings, MB_FAULT))
        return "What this goes on from no longer stands: all signatures hold, and another ledger"
               " has withdrawn its certificate inside.";
    if (rc == MB_NO)
        return c->count == 1
                   ? "This does not hold: at least one signature, hash, link or rule is broken."
                   : "Not all of this holds: at least one signature, hash, link or rule is broken.";
    if (mb_findings_of(c->findings, MB_F_UNKNOWN_VERSION)
        || mb_findings_of(c->findings, MB_F_UNKNOWN_DERIVATION)
        || mb_findings_of(c->findings, MB_F_UNKNOWN_CHANGE))
        return "This could not be checked to the end: part of it is newer than this program.";
    if (rc == MB_UNABLE && c->unsigned_notes)
        return "A checkpoint could not be checked: none of these files holds the key that signed"
               " it.";
    if (rc == MB_UNABLE && mb_findings_of(c->findings, MB_F_PUBLISHED_UNREADABLE))
        return "What the ledger has published could not be read to the end.";
    if (rc == MB_UNABLE && !mb_findings_of(c->findings, MB_F_UNKNOWN_LEDGER)
        && !mb_findings_of(c->findings, MB_F_FOREIGN_MISSING))
        return "Everything fits together, and the ledger is one that you trust, but the witnesses"
               " that your policy asks for have not seen it.";
    if (rc == MB_UNABLE && !mb_findings_of(c->findings, MB_F_UNKNOWN_LEDGER))
        return "What is here fits together, but the story before it came into this ledger could not"
               " be checked: a certificate of another ledger is missing.";
    if (rc == MB_UNABLE)
        return "Everything fits together, but whose ledger this is nobody here has said."
               " Compare the fingerprint with the one the issuer gave you by another way.";
    if (c->several_ledgers)
        return "All signatures, hashes and links hold, through all of its ledgers, and each is one"
               " that you trust.";
    return "All signatures, hashes and links hold, and the ledger is one that you trust.";
}

/* NULL where there is nothing to say. */
static const char *measured_sentence(mb_arena *arena, const struct mb_check_said *c)
{
    const struct mb_remeasured *m = &c->measured;
    size_t all = m->agree + m->differ + m->unchecked;

    if (all == 0)
        return NULL;
    return mb_arena_printf(
        arena,
        "Measured shares: of %zu condition entr%s with measured shares, %zu agree%s with what"
        " their outlines or counts give when measured again%s%s.",
        all, all == 1 ? "y" : "ies", m->agree, m->agree == 1 ? "s" : "",
        m->differ ? mb_arena_printf(arena, "; %zu do%s not", m->differ,
                                    m->differ == 1 ? "es" : "")
                  : "",
        m->unchecked ? mb_arena_printf(arena, "; %zu not checked here", m->unchecked) : "");
}

mb_json *mb_check_words(mb_arena *arena, const struct mb_check_said *c, enum mb_rc rc)
{
    mb_json *list = mb_json_array(arena);

    mb_json_add_text(arena, list,
                     mb_arena_printf(arena, "As of %s; says nothing of later.",
                                     c->as_of ? c->as_of : "an unknown day"));
    mb_json_add_text(arena, list, verdict_sentence(c, rc));
    mb_json_add_text(
        arena, list,
        "Checked: signatures, the signers' rights, the chain of every subject, and that"
        " nothing was left out, cut away or rewritten. Not tested: whether what was"
        " written down is true, or whether it belongs to another stone.");
    if (measured_sentence(arena, c))
        mb_json_add_text(arena, list, measured_sentence(arena, c));
    if (c->pdf || c->page)
        mb_json_add_text(arena, list,
                         c->pdf ? "The data inside the PDF was checked, not the printed page:"
                                  " compare the page with the lines below."
                                : "The data inside the web page was checked, not what the page"
                                  " shows: compare it with the lines below.");
    if (c->not_for_sale)
        mb_json_add_text(arena, list, "This is not a disclosure for a sale.");
    MB_JSON_EACH(sentence, c->published)
    {
        mb_json_add(list, mb_json_copy(arena, sentence));
    }
    if (c->witnessed->count == 0)
        mb_json_add_text(arena, list,
                         c->policy ? "It is the ledger's own word, unwitnessed."
                                   : "It is the ledger's own word, unwitnessed: no policy was given"
                                     " that says whose cosignatures count.");
    MB_JSON_EACH(sentence, c->witnessed)
    {
        mb_json_add(list, mb_json_copy(arena, sentence));
    }
    return list;
}

const char *mb_check_verdict(enum mb_rc rc)
{
    return rc == MB_OK ? "holds" : rc == MB_NO ? "does not hold" : "could not be checked";
}

void mb_check_measured(mb_arena *arena, mb_json *file, const struct mb_remeasured *measured,
                       struct mb_remeasured *all)
{
    mb_json *out;

    all->agree += measured->agree;
    all->differ += measured->differ;
    all->unchecked += measured->unchecked;
    if (measured->agree + measured->differ + measured->unchecked == 0)
        return;
    out = mb_json_put(arena, file, "measured", mb_json_object(arena));
    mb_json_put_int(arena, out, "agree", (int64_t)measured->agree);
    mb_json_put_int(arena, out, "differ", (int64_t)measured->differ);
    mb_json_put_int(arena, out, "unchecked", (int64_t)measured->unchecked);
}

enum mb_rc mb_check_policy(mb_arena *arena, const char *path, mb_policy **out,
                           struct mb_error *err)
{
    struct mb_str bytes;
    enum mb_rc rc = mb_file_read(arena, path, POLICY_MAX, &bytes, err);

    if (!rc) {
        rc = mb_policy_read(arena, bytes, out, err);
        if (rc)
            mb_fail_where(err, "%s", path);
    }
    return rc;
}

const mb_json *mb_finding_list(mb_arena *arena)
{
    mb_json *list = mb_json_array(arena);

    for (int id = 0; id < MB_FINDING_COUNT; id++) {
        const struct mb_finding_kind *kind = &mb_finding_kinds[id];
        mb_json *row = mb_json_add(list, mb_json_object(arena));

        mb_json_put_text(arena, row, "name", kind->name);
        mb_json_put_text(arena, row, "severity", mb_severity_name[kind->severity]);
        mb_json_put_text(arena, row, "means", kind->means);
        mb_json_put_text(arena, row, "mend", kind->mend);
    }
    return list;
}
