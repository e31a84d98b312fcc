#include <markerbed/audit.h>

#include <string.h>

#include "audit_files.h"
#include "audit_text.h"
#include "command.h"

/* Is there a finding at this severity or above? */
static bool has_finding(const struct call *call, const char *severity)
{
    MB_JSON_EACH (f, mb_json_get(call->result, "findings")) {
        const char *word = mb_json_cstr(call->arena, mb_json_get(f, "severity"));

        if (word && mb_severity_rank(word) >= mb_severity_rank(severity))
            return true;
    }
    return false;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    struct mb_audit_ask ask = {
        .site = call_value(call, "site"),
        .permission = call_value(call, "permission"),
        .specimen = call_value(call, "specimen"),
        .party = call_value(call, "party"),
        .agency = call_value(call, "agency"),
        .from = call_value(call, "from"),
        .until = call_value(call, "until"),
        .as_of = call_value(call, "as-of"),
        .rules = call_value(call, "rules"),
        .standing = call_has(call, "standing"),
    };
    const char *fail_on = call_value(call, "fail-on");
    enum mb_rc rc = audit_files_check(call, err);

    if (rc == MB_OK)
        rc = mb_audit(call->ledger, call->arena, &ask, &call->result, err);
    if (rc == MB_OK)
        rc = audit_files_write(call, err);
    if (rc == MB_OK && has_finding(call, fail_on ? fail_on : "conflict"))
        rc = MB_NO;
    return rc;
}

static void tell(const struct call *call, const struct screen *screen)
{
    if (call_has(call, "csv"))
        audit_tell_csv(screen, call->result);
    else
        audit_tell(screen, call->result);
    if (!call_has(call, "csv"))
        audit_files_tell(call, screen);
}

static const char *const severities[] = { "note", "gap", "conflict", "bar", NULL };

static const char *const papers[] = { "A4", "Letter", NULL };

static const struct option options[] = {
    { "site", 0, "SITE", false, OFFER_NOTHING, NULL, "only what was found at one site" },
    { "permission", 0, "ID", false, OFFER_NOTHING, NULL, "only what was found under one" },
    { "specimen", 0, "ID", false, OFFER_NOTHING, NULL, "only one piece and what it came out of" },
    { "party", 0, "ID", false, OFFER_NOTHING, NULL,
      "only what somebody collected, held, owned or gave permission for" },
    { "agency", 0, "PARTY", false, OFFER_NOTHING, NULL,
      "only what was found on the land of an agency or under its permits" },
    { "from", 0, "DAY", false, OFFER_NOTHING, NULL,
      "only what was collected, moved or sold on that day or later" },
    { "until", 0, "DAY", false, OFFER_NOTHING, NULL, "the same, on that day or earlier" },
    { "rules", 0, "FOLDER", false, OFFER_FOLDERS, NULL, "own rules too: docs/rules.md" },
    { "standing", 0, NULL, false, OFFER_NOTHING, NULL,
      "tell the standing of each piece, however many" },
    { "fail-on", 0, "SEVERITY", false, OFFER_CHOICES, severities,
      "end with exit code 1 where there is a finding of note, gap, conflict or bar, or above it;"
      " without this: conflict" },
    { "csv", 0, NULL, false, OFFER_NOTHING, NULL, "the findings as a spreadsheet" },
    { "pdf", 0, "FILE", false, OFFER_FILES, NULL,
      "the report on paper, with maps, accounts and timelines" },
    { "report", 0, "FILE", false, OFFER_FILES, NULL,
      "with --permission: what its agency wants reported; with --agency: what is recorded of its"
      " land, as PDF" },
    { "paper", 0, "SIZE", false, OFFER_CHOICES, papers, "A4 or Letter; A4 if nothing is said" },
    { 0 },
};

static const char *const usage[] = { "", NULL };

static const struct example examples[] = {
    { "Everything that is recorded", "markerbed -L lab audit" },
    { "One site, as a spreadsheet", "markerbed -L lab audit --site S002 --csv > S002.csv" },
    { "One site, on paper, for its owner", "markerbed -L lab audit --site S002 --pdf S002.pdf" },
    { "The yearly report on a permit",
      "markerbed -L lab audit --permission L004 --from 2024-01-01 --until 2024-12-31 \\\n"
      "    --report L004-2024.pdf" },
    { "One piece, with its standing for each act", "markerbed -L lab audit --specimen 26-0115" },
    { "With rules of your own, told even where the record only does not say",
      "markerbed -L lab audit --rules our-rules --fail-on gap" },
    { 0 },
};

const struct command cmd_audit = {
    .name = "audit",
    .group = "Looking up",
    .line = "land and permission: what the record shows, and what not",
    .usage = usage,
    .about = "Asks each rule of each find, permission and transfer that it applies to, and tells"
             " what does not fit and what cannot be told, with the entries behind it and how to"
             " mend the record.\n"
             "It shows what the record shows, not what the law is: ask the land manager and a"
             " licensed lawyer. A report you make may have to be handed over; ask counsel first"
             " if there is a dispute or inquiry. docs/rules.md lists the rules.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER | TAKES_AS_OF,
    .run = run,
    .tell = tell,
};
