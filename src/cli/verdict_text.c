#include "verdict_text.h"

#include <string.h>

#include "statement_text.h"
#include "wording.h"

/* ---- findings ---- */

static const struct {
    const char *severity, *word;
    enum style style;
} severities[] = {
    { "fault", "FAULT", BAD },
    { "unsure", "NOT CHECKED", DOUBT },
    { "remark", "Remark", PLAIN },
};
enum { SEVERITY_COUNT = sizeof severities / sizeof *severities };

static void tell_finding(const struct call *call, const struct screen *screen,
                         const mb_json *finding, size_t severity)
{
    mb_arena *arena = call->arena;
    const char *file = wording_of(arena, finding, "file"), *seq = wording_of(arena, finding, "seq");
    const char *subject = wording_of(arena, finding, "subject");
    const char *mend = wording_of(arena, finding, "mend");

    screen_say(screen, severities[severity].style, 0, "%s %s%s%s%s%s%s%s: %s",
               severities[severity].word, wording_of(arena, finding, "name"), file ? ", " : "",
               file ? file : "", subject ? ", " : "", subject ? subject : "",
               seq ? ", entry #" : "", seq ? seq : "", wording_of(arena, finding, "text"));
    if (mend != NULL && *mend != '\0')
        screen_say(screen, PLAIN, 4, "%s", mend);
}

/* What was not kept of the findings stands in a last row that has no name but a count. */
static void tell_findings(const struct call *call, const struct screen *screen,
                          const mb_json *findings)
{
    if (findings == NULL || findings->count == 0)
        return;
    screen_heading(screen, "What was found");
    for (size_t i = 0; i < SEVERITY_COUNT; i++)
        MB_JSON_EACH(finding, findings)
            if (mb_json_text_is(mb_json_get(finding, "severity"), severities[i].severity))
                tell_finding(call, screen, finding, i);
    MB_JSON_EACH(finding, findings)
        if (mb_json_get(finding, "severity") == NULL)
            screen_say(screen, PLAIN, 0, "And more: %s", wording(call->arena, finding));
}

/* ---- files ---- */

static const char *audience_words(mb_arena *arena, const char *audience)
{
    if (audience == NULL)
        return NULL;
    if (strcmp(audience, "public") == 0 || strcmp(audience, "auditor") == 0)
        return mb_arena_printf(arena, "%s; not a disclosure for a sale", audience);
    return audience;
}

static void tell_withheld(const struct call *call, const struct screen *screen,
                          const mb_json *withheld)
{
    mb_arena *arena = call->arena;

    if (withheld == NULL || withheld->count == 0)
        return;
    screen_say(screen, STRONG, 2, "What is held back here");
    MB_JSON_EACH(one, withheld) {
        const char *field = wording_of(arena, one, "field"), *in = wording_of(arena, one, "class");
        const char *subject = wording_of(arena, one, "subject");
        screen_say(screen, PLAIN, 4, "%s%s%s: %s", subject ? subject : "", subject ? ", " : "",
                   field ? field
                         : mb_arena_printf(arena, "a field of the class %s", in ? in : "unknown"),
                   wording_of(arena, one, "reason"));
    }
}

static void tell_certificate(const struct call *call, const struct screen *screen,
                             const mb_json *certificate)
{
    mb_arena *arena = call->arena;
    struct pairs pairs = { .arena = arena };
    const mb_json *own = mb_json_get(certificate, "own");

    pairs_add(&pairs, "Of", wording_of(arena, certificate, "subject"));
    pairs_add(&pairs, "Issued to", wording_of(arena, certificate, "to"));
    pairs_add(&pairs, "Issued to", wording_of(arena, own, "to"));
    pairs_add(&pairs, "Certificate", wording_of(arena, certificate, "id"));
    pairs_add(&pairs, "Certificate", wording_of(arena, certificate, "certificate"));
    pairs_print(screen, 2, &pairs);
    statement_print(screen, 2, "What follows from the entries",
                    mb_json_get(certificate, "statement"), STATEMENT_FOLLOWS);
    statement_print(screen, 2, "What the issuer alone says", mb_json_get(certificate, "statement"),
                    STATEMENT_STATED);
}

static const char *signer_words(mb_arena *arena, const mb_json *signer)
{
    const char *holder = wording_of(arena, signer, "holder");
    const char *retired = wording_of(arena, signer, "retired");
    int64_t entries = mb_json_int(mb_json_get(signer, "entries"), 0);

    return mb_arena_printf(arena, "%s: %s, with the key %s%s%s", holder ? holder : "unknown",
                           wording_count(arena, entries, "entry", "entries"),
                           wording_of(arena, signer, "kid"),
                           retired ? ", retired later by entry #" : "", retired ? retired : "");
}

/* One-sided until a key that somebody here knows stands for the other side. */
static void tell_countersigned(const struct call *call, const struct screen *screen,
                               const mb_json *list)
{
    mb_arena *arena = call->arena;

    if (list == NULL)
        return;
    screen_say(screen, STRONG, 2, "Signed by the other side");
    MB_JSON_EACH(one, list) {
        bool known = mb_json_true(mb_json_get(one, "known"));
        const char *by = wording_of(arena, one, "by");

        screen_say(screen, known ? PLAIN : DOUBT, 4,
                   "%s, entry #%s of %s: countersigned as %s %s; %s",
                   wording_of(arena, one, "subject"),
                   wording_of(arena, one, "over"), wording_of(arena, one, "origin"),
                   wording_of(arena, one, "role"),
                   strncmp(by, "key/", 4) == 0
                       ? mb_arena_printf(arena, "with the key %s", wording_of(arena, one, "kid"))
                       : mb_arena_printf(arena, "for %s, with the key %s", by,
                                         wording_of(arena, one, "kid")),
                   known ? "two-sided" : "one-sided: nobody here knows that key");
    }
}

void verdict_print_file(const struct call *call, const struct screen *screen, const mb_json *file)
{
    mb_arena *arena = call->arena;
    struct pairs pairs = { .arena = arena };
    const char *what = wording_of(arena, file, "what"), *path = wording_of(arena, file, "path");
    const mb_json *trusted = mb_json_get(file, "trusted");
    const mb_json *certificates = mb_json_get(file, "certificates");

    if (path != NULL)
        screen_heading(screen, mb_arena_printf(arena, "%s: %s", path, what ? what : ""));
    else /* one that is carried inside another */
        screen_heading(screen, mb_arena_printf(arena, "Its story before: from the ledger %s",
                                               wording_of(arena, file, "origin")));
    pairs_add(&pairs, "Ledger", wording_of(arena, file, "origin"));
    pairs_add(&pairs, "Fingerprint", wording_of(arena, file, "fingerprintGrouped"));
    if (trusted != NULL)
        pairs_add(&pairs, "Known here",
                  mb_json_true(trusted) ? "yes, your trust file names it"
                                        : "no: compare the fingerprint with the one that the issuer"
                                          " gave you by another way");
    pairs_add(&pairs, "Made for", audience_words(arena, wording_of(arena, file, "audience")));
    pairs_add(&pairs, "Entries", wording_of(arena, file, "entries"));
    pairs_add(&pairs, "Recorded until", wording_of(arena, file, "recordedAt"));
    MB_JSON_EACH(signer, mb_json_get(file, "signers"))
        pairs_add(&pairs, "Signed by", signer_words(arena, signer));
    pairs_print(screen, 2, &pairs);
    MB_JSON_EACH(certificate, certificates)
        tell_certificate(call, screen, certificate);
    if (certificates == NULL)
        tell_certificate(call, screen, file);
    tell_withheld(call, screen, mb_json_get(file, "withheld"));
    tell_countersigned(call, screen, mb_json_get(file, "countersigned"));
    MB_JSON_EACH(foreign, mb_json_get(file, "foreign"))
        verdict_print_file(call, screen, foreign);
}

void verdict_print_code(const struct screen *screen, const mb_json *code, mb_arena *arena)
{
    struct pairs pairs = { .arena = arena };
    const mb_json *summary = mb_json_get(code, "summary");

    if (code == NULL)
        return;
    screen_heading(screen, "The code on the paper");
    pairs_add(&pairs, "Ledger", wording_of(arena, code, "origin"));
    pairs_add(&pairs, "Certificate", wording_of(arena, code, "certificate"));
    pairs_add(&pairs, "Its file", mb_json_get(code, "file") ? wording_of(arena, code, "file")
                                                            : "not among what was given");
    pairs_add(&pairs, "Of", wording_of(arena, code, "subject"));
    pairs_add(&pairs, "Made for", wording_of(arena, code, "audience"));
    pairs_add(&pairs, "Issued on", wording_of(arena, code, "issuedOn"));
    MB_JSON_EACH(text, mb_json_get(code, "says"))
        pairs_add(&pairs, "It says", wording(arena, text));
    pairs_add(&pairs, "Signed summary",
              mb_json_text_is(summary, "fits") ? "signed by the key that signed the certificate;"
                                                 " compare its words with the lines of the file"
              : mb_json_text_is(summary, "not checked")
                  ? "its signature is not checked without the file"
                  : wording(arena, summary));
    pairs_print(screen, 2, &pairs);
}

void verdict_print(const struct call *call, const struct screen *screen, const mb_json *result)
{
    const mb_json *verdict = mb_json_get(result, "verdict"), *words = mb_json_get(result, "words");
    enum style style = mb_json_text_is(verdict, "holds")           ? GOOD
                       : mb_json_text_is(verdict, "does not hold") ? BAD
                                                                   : DOUBT;

    MB_JSON_EACH(word, words)
        screen_say(screen, word == mb_json_at(words, 1) ? style : PLAIN, 0, "%s",
                   wording(call->arena, word));
    tell_findings(call, screen, mb_json_get(result, "findings"));
}
