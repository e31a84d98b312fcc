/* The command that each kind shows as its example is one that the door lets through. The examples
 * are data written by hand (schema/kinds), so this holds the two against each other. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "kinds.h"
#include "outside.h"
#include "session.h"
#include "text.h"
#include "workbench.h"

enum { WORDS_MOST = 40 };

static struct workbench b;

static void put(const char *kind, const char *subject, const char *extra)
{
    if (strcmp(kind, "site") == 0)
        workbench_must(&b, kind, subject, "siteName=x", "countryCode=US", "stateProvince=Kansas",
                       "county=Gove", "decimalLatitude=not known", "decimalLongitude=not known",
                       NULL);
    else if (strcmp(kind, "permission") == 0)
        workbench_must(&b, kind, subject, "permissionType=own land", "grantor=P001",
                       "holder=P001", "validFrom=2024-01-01", "validUntil=until ended",
                       "document=none", NULL);
    else if (strcmp(kind, "party") == 0)
        workbench_must(&b, kind, subject, "partyType=person", "name=x", "namedTo=anyone", NULL);
    else if (strcmp(kind, "collecting") == 0)
        workbench_must(&b, kind, subject, "fieldDay=D001", "recordNumber=none",
                       "verbatimIdentification=x", "objectForm=lot", "objectQuantity=1600",
                       "quantityHow=counted", "materialClass=invertebrate", "horizon=H-A",
                       "inPlace=in place", extra, NULL);
}

/* What the examples speak of and do not make themselves. */
static void set_up(void)
{
    static const char *const pieces[] = { "26-0115", "26-0116", "26-0201", "26-0240" };

    workbench_now += 400 * 86400LL; /* some examples are dated in 2026, after the bench's day */
    workbench_house(&b);
    for (int i = 4; i <= 12; i++)
        put("party", mb_arena_printf(b.arena, "P%03d", i), NULL);
    for (int i = 2; i <= 7; i++)
        put("site", mb_arena_printf(b.arena, "S%03d", i), NULL);
    for (int i = 2; i <= 5; i++)
        put("permission", mb_arena_printf(b.arena, "L%03d", i), NULL);
    workbench_must(&b, "field-day", "D012", "site=S001", "permission=L001", "purpose=research",
                   "present=party:P003; role:named", "tools=hand tools", NULL);
    workbench_must(&b, "dealing", "J014", "type=preparation job",
                   "parties=party:P004; role:client", "specimens=not known", "signedPaper=none",
                   NULL);
    for (size_t i = 0; i < sizeof pieces / sizeof *pieces; i++)
        put("collecting", pieces[i], "remarks=for the examples");
}

static void tear_down(void)
{
    outside_end();
    workbench_done(&b);
}

TestSuite(examples, .init = set_up, .fini = tear_down);

/* Words as a shell divides them: blanks part, quotation marks of both sorts keep together. */
static size_t divide(const char *line, char **words)
{
    size_t count = 0;

    while (*line) {
        char *word = mb_arena_text(b.arena, line), *to = word;
        char quote = 0;

        for (; *line && (quote || *line != ' '); line++) {
            if (quote ? *line == quote : *line == '\'' || *line == '"')
                quote = quote ? 0 : *line;
            else
                *to++ = *line;
        }
        *to = '\0';
        line += *line == ' ';
        cr_assert_lt(count, WORDS_MOST);
        words[count++] = word;
    }
    return count;
}

/* "#12" in an example stands for some entry: here for the subject's own first. */
static const char *with_entry(const char *word, const char *subject)
{
    const char *equals = strchr(word, '=');
    int64_t *seqs;
    size_t count;

    if (!equals || strcmp(equals + 1, "#12") != 0)
        return word;
    cr_assert_eq(mb_log_chain(b.ledger->log, b.arena, mb_str_of(subject), MB_NEVER, &seqs, &count,
                              &b.err),
                 MB_OK);
    cr_assert_gt(count, 0, "%s", subject);
    return mb_arena_printf(b.arena, "%.*s=#%lld", (int)(equals - word), word, (long long)seqs[0]);
}

/* Files that an example attaches are made; a name with a point and a known ending is one. */
static void make_files(const char *word)
{
    static const char *const endings[] = { ".pdf", ".jpg", ".json", ".geojson", ".eml" };
    struct mb_str rest = mb_str_of(word), part;

    while (rest.len) {
        size_t at = 0;

        while (at < rest.len && !memchr("=:; |", rest.at[at], 5))
            at++;
        part = (struct mb_str){ rest.at, at };
        rest = (struct mb_str){ rest.at + at, rest.len - at };
        for (size_t i = 0; i < sizeof endings / sizeof *endings; i++)
            if (part.len > strlen(endings[i])
                && strncmp(part.at + part.len - strlen(endings[i]), endings[i],
                           strlen(endings[i])) == 0)
                outside_file(b.arena, mb_arena_copy(b.arena, part.at, part.len),
                             MB_STR("{\"type\":\"Point\",\"coordinates\":[1,2]}"));
        if (rest.len)
            rest = (struct mb_str){ rest.at + 1, rest.len - 1 };
    }
}

static enum mb_rc run(const struct mb_kind *kind, char **words, size_t count)
{
    struct mb_typed typed[WORDS_MOST];
    struct mb_recording what = { .kind = words[2], .subject = words[3], .typed = typed };

    if (strcmp(kind->name.at, "collecting") == 0)
        what.subject = "specimen/26-0999"; /* the others need theirs to be there before */
    for (size_t i = 4; i < count; i++) {
        const char *word = with_entry(words[i], words[3]);
        const char *equals = strchr(word, '=');

        cr_assert(equals, "%s", word);
        make_files(word);
        typed[what.count++] = (struct mb_typed){
            .name = mb_arena_copy(b.arena, word, (size_t)(equals - word)), .value = equals + 1
        };
    }
    b.err = (struct mb_error){ 0 };
    return mb_record(b.ledger, b.arena, &what, &b.out, &b.err);
}

Test(examples, pass_the_door)
{
    size_t recorded = 0;

    cr_assert_eq(chdir(outside_path(b.arena, ".")), 0);
    for (size_t i = 0; i < mb_kinds_count(); i++) {
        const struct mb_kind *kind = mb_kinds_at(i);
        char *words[WORDS_MOST];
        size_t count;

        if (kind->writer)
            continue;
        count = divide(kind->example, words);
        cr_assert_gt(count, 4);
        cr_assert_str_eq(words[2], kind->name.at);
        cr_expect_eq(run(kind, words, count), MB_OK, "%s: %s", kind->name.at, b.err.text);
        recorded++;
    }
    cr_assert_geq(recorded, 25);
    cr_assert_eq(chdir("/"), 0);
    cr_assert_str_eq(workbench_verify(&b), "unknown-ledger");
}
