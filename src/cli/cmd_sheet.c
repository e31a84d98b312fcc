#include <markerbed/certificate.h>

#include <string.h>

#include "fileio.h"
#include "sheet_files.h"
#include "statement_text.h"
#include "text.h"
#include "withholding.h"
#include "wording.h"

enum { CERTIFICATE_MAX = 128 << 20 };

/* A preview signs nothing, and printing a page again needs a key for its code's summary alone. */
static unsigned needs(const struct call *call)
{
    if (call_has(call, "reprint"))
        return call_has(call, "key") ? NEEDS_KEY : NAMES_LEDGER;
    if (call_has(call, "again"))
        return call_has(call, "key") ? NEEDS_KEY : NEEDS_LEDGER;
    return call_has(call, "preview") ? NEEDS_LEDGER : NEEDS_KEY;
}

/* ---- what was asked for ---- */

static enum mb_rc read_issue(const struct call *call, struct mb_issue *issue, struct mb_error *err)
{
    const char *audience = call_value(call, "audience"), *to = call_value(call, "to");
    const char **specimens = MB_ARRAY(call->arena, call->word_count + 1, const char *);

    if (call->word_count == 0)
        return mb_fail(err, MB_REFUSED,
                       "name the specimens, as in markerbed sheet 26-0115 --to"
                       " bearer");
    if (to == NULL && !call_has(call, "preview"))
        return mb_fail(err, MB_REFUSED,
                       "say with --to who the sheet is for: a party, like --to P011, or --to bearer"
                       " for whoever holds it");
    for (size_t i = 0; i < call->word_count; i++)
        specimens[i] = call_subject(call, "specimen", call->words[i]);
    *issue = (struct mb_issue){ .specimens = specimens,
                                .count = call->word_count,
                                .audience = audience != NULL ? audience : "buyer",
                                .to = to != NULL ? to : "bearer",
                                .preview = true,
                                .unmarked = call_has(call, "unmarked") };
    issue->reveal = call_values(call, "reveal", &issue->reveal_count);
    return withholding_read(call, &issue->withhold, &issue->withhold_count, err);
}

/* ---- making ---- */

struct making {
    struct call *call;
    const struct mb_issue *whole;
    struct mb_issue *each; /* one for each certificate to be made */
    struct sheet_files *files;
    size_t count;
    mb_json *sheets;
};

static void divide(struct making *making)
{
    const struct mb_issue *whole = making->whole;
    bool together = call_has(making->call, "together");

    making->count = together ? 1 : whole->count;
    making->each = MB_ARRAY(making->call->arena, making->count, struct mb_issue);
    making->files = MB_ARRAY(making->call->arena, making->count, struct sheet_files);
    for (size_t i = 0; i < making->count; i++) {
        making->each[i] = *whole;
        if (!together) {
            making->each[i].specimens = &whole->specimens[i];
            making->each[i].count = 1;
        }
    }
}

static void keep(struct making *making, size_t i, const mb_json *issued)
{
    mb_arena *arena = making->call->arena;
    mb_json *sheet = mb_json_add(making->sheets, mb_json_object(arena));
    mb_json *specimens = mb_json_put(arena, sheet, "specimens", mb_json_array(arena));

    for (size_t s = 0; s < making->each[i].count; s++)
        mb_json_add_text(arena, specimens, making->each[i].specimens[s]);
    if (!making->each[i].preview)
        mb_json_put_text(arena, sheet, "certificate", making->files[i].certificate);
    mb_json_put_text(arena, sheet, "sheet", making->files[i].sheet);
    mb_json_put_text(arena, sheet, "web", making->files[i].web);
    MB_JSON_EACH(member, issued)
        if (!mb_str_is(member->name, "file"))
            mb_json_put_str(arena, sheet, member->name, mb_json_copy(arena, member));
}

static const char *first_of(const struct making *making, size_t i)
{
    return making->each[i].specimens[0];
}

/* Every one is looked at first, so that a refusal leaves none half way. */
static enum mb_rc look_at(struct making *making, mb_arena *arena, size_t i, struct mb_error *err)
{
    struct call *call = making->call;
    const mb_json *issued = NULL;
    enum mb_rc rc = sheet_files_choose(call, first_of(making, i), making->each[i].count - 1,
                                       making->count, &making->files[i], err);

    if (rc == MB_OK)
        rc = mb_certificate_issue(call->ledger, arena, &making->each[i], &issued, err);
    if (rc == MB_OK && mb_json_get(issued, "refusal"))
        rc = mb_fail(err, MB_REFUSED, "%s", wording_of(arena, issued, "refusal"));
    return rc;
}

static enum mb_rc preview_of(struct making *making, mb_arena *arena, size_t i,
                             struct mb_error *err)
{
    struct call *call = making->call;
    const char *paper = call_value(call, "paper");
    struct mb_sheet_pages pages;
    const mb_json *seen = NULL;
    enum mb_rc rc = sheet_files_preview(call, first_of(making, i), making->each[i].count - 1,
                                        making->count, &making->files[i], err);

    if (rc == MB_OK)
        rc = mb_sheet_preview(call->ledger, arena, &making->each[i], paper, &pages, &seen, err);
    if (rc == MB_OK)
        rc = sheet_files_write_pages(&making->files[i], &pages, err);
    if (rc == MB_OK)
        keep(making, i, seen);
    return rc;
}

static enum mb_rc issue_one(struct making *making, mb_arena *arena, size_t i, struct mb_error *err)
{
    struct call *call = making->call;
    const mb_json *issued = NULL;
    enum mb_rc rc;

    making->each[i].preview = false;
    rc = mb_certificate_issue(call->ledger, arena, &making->each[i], &issued, err);
    if (rc != MB_OK)
        return rc;
    keep(making, i, issued);
    rc = sheet_files_write(call, arena, &making->files[i],
                           mb_json_str(mb_json_get(issued, "file")), err);
    if (rc == MB_OK)
        return MB_OK;
    fprintf(stderr, "It is recorded as entry #%s; once there is room for its files:"
                    " markerbed sheet --again '#%s'\n",
            wording_of(arena, issued, "seq"), wording_of(arena, issued, "seq"));
    return MB_UNABLE; /* not "nothing changed" */
}

typedef enum mb_rc one_fn(struct making *making, mb_arena *arena, size_t i, struct mb_error *err);

/* What eighty of them need, photos and all, is not held at once. */
static enum mb_rc each(struct making *making, one_fn *one, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < making->count && rc == MB_OK; i++) {
        mb_arena *arena = mb_arena_new();

        rc = one(making, arena, i, err);
        mb_arena_free(arena);
    }
    return rc;
}

static void caution(const struct making *making)
{
    if (strcmp(making->whole->audience, "buyer") == 0)
        fprintf(stderr, "A description that is part of a sale can bind the seller:"
                        " make sure of every line before you hand it over.\n");
}

static enum mb_rc reprint(struct call *call, struct mb_error *err)
{
    const char *path = call_value(call, "reprint"), *out = call_value(call, "out");
    mb_json *result = mb_json_object(call->arena);
    struct mb_paper_code code = { NULL, NULL };
    struct mb_str certificate;
    enum mb_rc rc = mb_file_read(call->arena, path, CERTIFICATE_MAX, &certificate, err);

    if (rc != MB_OK)
        return rc;
    if (out == NULL || call->word_count > 0)
        return mb_fail(err, MB_REFUSED,
                       "--reprint takes a certificate's file and --out PAGE.pdf or PAGE.html, and"
                       " no specimens");
    if (call->ledger != NULL)
        rc = mb_sheet_code(call->ledger, call->arena, certificate, &code, err);
    if (rc == MB_OK)
        rc = sheet_files_page(call, call->arena, out, certificate, &code, err);
    if (rc != MB_OK)
        return rc;
    mb_json_put_text(call->arena, result, "sheet", out);
    call->result = result;
    return MB_OK;
}

/* The three files of a certificate that was issued before, from the ledger's own records. */
static enum mb_rc again(struct call *call, struct mb_error *err)
{
    mb_arena *arena = call->arena;
    mb_json *result = mb_json_object(arena), *sheet = mb_json_object(arena);
    const mb_json *made = NULL, *specimens;
    struct sheet_files files;
    enum mb_rc rc;

    if (call->word_count > 0)
        return mb_fail(err, MB_REFUSED,
                       "--again takes the certificate, or its specimen, behind it, and no further"
                       " specimens");
    rc = mb_certificate_again(call->ledger, arena, call_value(call, "again"), &made, err);
    if (rc != MB_OK)
        return rc;
    specimens = mb_json_get(made, "specimens");
    rc = sheet_files_choose(call, wording(arena, mb_json_at(specimens, 0)), specimens->count - 1,
                            1, &files, err);
    if (rc == MB_OK)
        rc = sheet_files_write(call, arena, &files, mb_json_str(mb_json_get(made, "file")), err);
    if (rc != MB_OK)
        return rc;
    mb_json_put_text(arena, sheet, "certificate", files.certificate);
    mb_json_put_text(arena, sheet, "sheet", files.sheet);
    mb_json_put_text(arena, sheet, "web", files.web);
    MB_JSON_EACH(member, made)
        if (!mb_str_is(member->name, "file"))
            mb_json_put_str(arena, sheet, member->name, mb_json_copy(arena, member));
    mb_json_put_bool(arena, sheet, "again", true);
    mb_json_add(mb_json_put(arena, result, "sheets", mb_json_array(arena)), sheet);
    call->result = result;
    return MB_OK;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    mb_json *result = mb_json_object(call->arena);
    struct mb_issue issue;
    struct making making = { .call = call, .whole = &issue };
    enum mb_rc rc;

    if (call_has(call, "reprint"))
        return reprint(call, err);
    if (call_has(call, "again"))
        return again(call, err);
    rc = read_issue(call, &issue, err);
    if (rc != MB_OK)
        return rc;
    making.sheets = mb_json_array(call->arena);
    divide(&making);
    if (call_has(call, "preview")) {
        rc = each(&making, preview_of, err);
    } else {
        rc = each(&making, look_at, err);
        if (rc == MB_OK) {
            caution(&making);
            rc = each(&making, issue_one, err);
        }
    }
    if (making.sheets->count > 0) {
        mb_json_put_bool(call->arena, result, "preview", call_has(call, "preview"));
        mb_json_put(call->arena, result, "sheets", making.sheets);
        call->result = result;
    }
    return rc;
}

/* ---- telling ---- */

static void tell_lines(const struct call *call, const struct screen *screen, const mb_json *sheet)
{
    mb_arena *arena = call->arena;

    statement_print(screen, 2, NULL, mb_json_get(sheet, "statement"), STATEMENT_FOLLOWS);
    statement_print(screen, 2, "What you alone say", mb_json_get(sheet, "statement"),
                    STATEMENT_STATED);
    MB_JSON_EACH(one, mb_json_get(sheet, "withheld"))
        screen_say(screen, PLAIN, 2, "Held back: %s, %s", wording_of(arena, one, "field"),
                   wording_of(arena, one, "reason"));
}

static void tell_sheet(const struct call *call, const struct screen *screen, const mb_json *sheet)
{
    mb_arena *arena = call->arena;
    const char *audience = wording_of(arena, sheet, "audience");
    bool preview = mb_json_true(mb_json_get(call->result, "preview"));

    if (preview) {
        screen_say(screen, STRONG, 0, "Preview for the audience %s, nothing is signed: %s",
                   audience, wording_of(arena, sheet, "specimens"));
        tell_lines(call, screen, sheet);
        screen_say(screen, PLAIN, 2, "The very page, marked as a preview: %s and %s",
                   wording_of(arena, sheet, "sheet"), wording_of(arena, sheet, "web"));
    } else {
        screen_say(screen, STRONG, 0, "%s for the audience %s as entry #%s: %s",
                   mb_json_true(mb_json_get(sheet, "same")) ? "Made again, the same to the byte,"
                                                              " what was issued"
                   : mb_json_get(sheet, "again")            ? "Made again what was issued"
                                                            : "Issued",
                   audience, wording_of(arena, sheet, "seq"),
                   wording_of(arena, sheet, "specimens"));
        screen_say(screen, PLAIN, 2, "%s", wording_of(arena, sheet, "certificate"));
        screen_say(screen, PLAIN, 2, "%s", wording_of(arena, sheet, "sheet"));
        screen_say(screen, PLAIN, 2, "known as %s", wording_of(arena, sheet, "id"));
    }
    if (audience != NULL && (strcmp(audience, "public") == 0 || strcmp(audience, "auditor") == 0))
        screen_say(screen, PLAIN, 2, "This is not a disclosure for a sale.");
    MB_JSON_EACH(warning, mb_json_get(sheet, "warnings"))
        screen_say(screen, DOUBT, 2, "Please note: %s", wording(arena, warning));
    if (mb_json_get(sheet, "refusal"))
        screen_say(screen, DOUBT, 2, "It would not be issued like this: %s.",
                   wording_of(arena, sheet, "refusal"));
}

static void tell(const struct call *call, const struct screen *screen)
{
    const mb_json *sheets = mb_json_get(call->result, "sheets");

    if (sheets == NULL)
        screen_say(screen, PLAIN, 0, "Printed %s.", wording_of(call->arena, call->result, "sheet"));
    MB_JSON_EACH(sheet, sheets) {
        if (sheet != sheets->first)
            screen_gap(screen);
        tell_sheet(call, screen, sheet);
    }
}

static const char *const usage[] = {
    "SPECIMEN ... --to PARTY|bearer [--audience AUDIENCE]",
    "SPECIMEN ... --preview",
    "--again SPECIMEN|CERTIFICATE|#ENTRY",
    "--reprint FILE.certificate.json --out PAGE.pdf|PAGE.html",
    NULL,
};

static const char *const audiences[] = { "buyer", "institution", "auditor", "public", NULL };
static const char *const papers[] = { "A4", "Letter", NULL };

static const struct option options[] = {
    { .name = "to", .value = "PARTY", .help = "who it is for, or bearer for whoever holds it" },
    { .name = "audience",
      .value = "AUDIENCE",
      .offer = OFFER_CHOICES,
      .choices = audiences,
      .help = "what the reader may see; buyer if not said" },
    { .name = "preview",
      .help = "show what the reader would see, and write the very page, marked as a preview, as"
              " ID.preview.pdf and ID.preview.html; nothing is signed or recorded" },
    { .name = "withhold",
      .value = "FIELD",
      .many = true,
      .help = "hold a field back that the audience may see; it is said that one is held back" },
    { .name = "because",
      .value = "WHY",
      .many = true,
      .help = "behind --withhold: why, in the words of the list that a wrong one prints, such as"
              " landowner's request" },
    { .name = "reveal",
      .value = "FIELD",
      .many = true,
      .help = "show a field that the audience would not see" },
    { .name = "unmarked",
      .help = "issue it for a buyer though marks, size, mass, number or photo are missing; the"
              " sheet says so" },
    { .name = "together", .help = "one certificate over all the specimens, not one for each" },
    { .name = "out",
      .value = "FOLDER|FILE",
      .offer = OFFER_FILES,
      .help = "where the files go; else here, named by the specimen" },
    { .name = "paper",
      .value = "PAPER",
      .offer = OFFER_CHOICES,
      .choices = papers,
      .help = "of the printed sheet; A4 if not said" },
    { .name = "again",
      .value = "WHICH",
      .help = "write the files of an issued certificate once more, out of the ledger: a specimen"
              " (its newest), what the sheet is known as, or its entry; signs nothing" },
    { .name = "reprint",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "print the page of an issued certificate once more; signs nothing, but with --key the"
              " summary in its code, as with --again" },
    { 0 },
};

static const struct example examples[] = {
    { "Look first what the buyer would read",
      "markerbed -L lab sheet 26-0115 --to P011 --preview --out looking" },
    { "Then issue it to her",
      "markerbed -L lab sheet 26-0115 --to P011 --paper Letter --out sheets" },
    { "The landowner does not want the county named",
      "markerbed -L lab sheet 26-0115 --to bearer \\\n"
      "    --withhold county --because \"landowner's request\"" },
    { "The files were lost", "markerbed -L lab sheet --again 26-0115 --out sheets" },
    { 0 },
};

const struct command cmd_sheet = {
    .name = "sheet",
    .group = "Giving away",
    .line = "issue disclosure sheets, one or eighty",
    .usage = usage,
    .about =
        "For each specimen it writes ID.certificate.json, which proves itself, and ID.pdf, the"
        " page to print, with the certificate inside; ID.html is the same page for the screen."
        " Existing files are never written over."
        " Issuing is recorded in the specimen's story.\n"
        "A description that is part of a sale can bind the seller. A sheet says what the record"
        " shows; it is no advice on the law, and says nothing of whether a find was allowed.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY,
    .needs = needs,
    .words_max = 1000,
    .run = run,
    .tell = tell,
};
