#include <markerbed/labels.h>

#include <string.h>

#include "command.h"
#include "fileio.h"
#include "wording.h"

enum { FILE_MODE = 0644, DIGITS_MOST = 6 };

static bool is_card(const struct call *call)
{
    return call_has(call, "field-card") || call_has(call, "sheets");
}

static unsigned needs(const struct call *call)
{
    return is_card(call) ? 0 : NEEDS_LEDGER;
}

static enum mb_rc measure(const char *option, const char *text, double *width, double *height,
                          struct mb_error *err)
{
    return mb_label_measure(text, width, height)
               ? MB_OK
               : mb_fail(err, MB_REFUSED, "--%s takes two measures in millimetres, like 40x30, not"
                                          " '%s'", option, text);
}

static enum mb_rc read_sheet(const struct call *call, struct mb_label_sheet *sheet,
                             struct mb_error *err)
{
    const char *name = call_value(call, "sheet"), *label = call_value(call, "label");
    const char *margin = call_value(call, "margin"), *gap = call_value(call, "gap");
    enum mb_rc rc = MB_OK;

    *sheet = (struct mb_label_sheet){ .name = name ? name : "A4-24" };
    if (!label) {
        if (margin || gap)
            return mb_fail(err, MB_REFUSED, "--margin and --gap go with --label and --sheet by"
                                            " measures");
        return MB_OK;
    }
    if (!name)
        return mb_fail(err, MB_REFUSED, "say with --sheet how large the paper is, like"
                                        " --sheet 210x297");
    *sheet = (struct mb_label_sheet){ .name = NULL };
    rc = measure("sheet", name, &sheet->page_width, &sheet->page_height, err);
    if (!rc)
        rc = measure("label", label, &sheet->label_width, &sheet->label_height, err);
    if (!rc && margin)
        rc = measure("margin", margin, &sheet->margin_left, &sheet->margin_top, err);
    if (!rc && gap)
        rc = measure("gap", gap, &sheet->gap_across, &sheet->gap_down, err);
    return rc;
}

static enum mb_rc number(const struct call *call, const char *option, size_t fallback,
                         size_t *out, struct mb_error *err)
{
    const char *text = call_value(call, option);
    size_t n = 0;

    *out = fallback;
    if (!text)
        return MB_OK;
    if (!*text || strlen(text) > DIGITS_MOST || text[strspn(text, "0123456789")])
        return mb_fail(err, MB_REFUSED, "--%s takes a number, not '%s'", option, text);
    for (; *text; text++)
        n = n * 10 + (size_t)(*text - '0');
    *out = n;
    return MB_OK;
}

static enum mb_rc make(struct call *call, struct mb_str *pdf, struct mb_error *err)
{
    const char *tags = call_value(call, "tags"), *paper = call_value(call, "paper");
    struct mb_label_sheet sheet;
    size_t skip, count;
    enum mb_rc rc;

    if (call_has(call, "field-card")) {
        call->result = mb_json_object(call->arena);
        return mb_labels_field_card(call->arena, paper ? paper : "A4", pdf, err);
    }
    rc = read_sheet(call, &sheet, err);
    if (!rc)
        rc = number(call, "skip", 0, &skip, err);
    if (!rc)
        rc = number(call, "count", 24, &count, err);
    if (rc)
        return rc;
    if (tags)
        return mb_labels_tags(call->ledger, call->arena, tags, count, &sheet, skip, pdf,
                              &call->result, err);
    if (call->word_count == 0)
        return mb_fail(err, MB_REFUSED, "name the specimens or places that get a label");
    return call_has(call, "bench-card")
               ? mb_labels_bench(call->ledger, call->arena, call->words, call->word_count, pdf,
                                 &call->result, err)
               : mb_labels_pdf(call->ledger, call->arena, call->words, call->word_count, &sheet,
                               skip, pdf, &call->result, err);
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *to = call_value(call, "out");
    struct mb_str pdf;
    mb_json *result;
    enum mb_rc rc;

    if (call_has(call, "sheets")) {
        call->result = mb_label_sheets(call->arena);
        return MB_OK;
    }
    if (!to)
        to = call_has(call, "field-card") ? "field-card.pdf" : "labels.pdf";
    rc = make(call, &pdf, err);
    if (!rc)
        rc = mb_file_create(to, pdf, FILE_MODE, err);
    if (rc)
        return rc;
    result = mb_json_copy(call->arena, call->result);
    mb_json_put_text(call->arena, result, "file", to);
    call->result = result;
    return MB_OK;
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const char *pages = wording_of(arena, call->result, "pages");

    if (mb_json_is(call->result, MB_JSON_ARRAY)) {
        MB_JSON_EACH(sheet, call->result)
            screen_say(screen, PLAIN, 0, "%-10s labels of %s mm, %s across and %s down, on %s mm",
                       wording_of(arena, sheet, "name"), wording_of(arena, sheet, "label"),
                       wording_of(arena, sheet, "across"), wording_of(arena, sheet, "down"),
                       wording_of(arena, sheet, "page"));
        return;
    }
    screen_say(screen, PLAIN, 0, "%s%s%s%s", wording_of(arena, call->result, "file"),
               pages ? ", pages: " : "", pages ? pages : "",
               call_has(call, "field-card") || call_has(call, "bench-card")
                   ? ""
                   : ". Print it at its true size (100 %), not fitted to the page.");
}

static const char *const usage[] = {
    "SPECIMEN|place/ID ... [--sheet SHEET] [--out FILE.pdf]",
    "SPECIMEN ... --bench-card",
    "--tags WC-0118 --count 24",
    "--field-card",
    "--sheets",
    NULL,
};

static const char *const papers[] = { "A4", "Letter", NULL };

static const struct option options[] = {
    { .name = "sheet",
      .value = "SHEET",
      .help = "by its name (see --sheets; A4-24 if not said), or with --label the paper's measures"
              " in mm, like 210x297" },
    { .name = "label", .value = "WxH", .help = "one label's measures in mm, like 40x30" },
    { .name = "margin",
      .value = "LEFTxTOP",
      .help = "behind --label: from the paper's edge to the first label, in mm" },
    { .name = "gap",
      .value = "ACROSSxDOWN",
      .help = "behind --label: between one label and the next, in mm" },
    { .name = "skip",
      .value = "N",
      .help = "this many labels of the first sheet are gone already" },
    { .name = "tags", .value = "NUMBER", .help = "blank field tags, numbered from this one on" },
    { .name = "count", .value = "N", .help = "how many tags; 24 if not said" },
    { .name = "bench-card",
      .help = "a card for each specimen: what is open as far as the record shows, lines for tasks"
              " written by hand, cautions" },
    { .name = "field-card", .help = "one page for a new collector: what to write down" },
    { .name = "sheets", .help = "list the sheets of labels that are known by name" },
    { .name = "paper",
      .value = "PAPER",
      .offer = OFFER_CHOICES,
      .choices = papers,
      .help = "of the field card; A4 if not said" },
    { .name = "out",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the PDF that is made; else labels.pdf or field-card.pdf here" },
    { 0 },
};

static const struct example examples[] = {
    { "For two trays and their shelf",
      "markerbed -L lab labels 26-0115 26-0116 place/F12 --sheet A4-65 --out trays.pdf" },
    { "Tags for next week", "markerbed -L lab labels --tags WC-0118 --count 48 --out tags.pdf" },
    { "For somebody who comes along for the first time", "markerbed labels --field-card" },
    { 0 },
};

const struct command cmd_labels = {
    .name = "labels",
    .group = "Giving away",
    .line = "labels and field tags with codes, bench cards, a field card",
    .usage = usage,
    .about =
        "A label has the number, what it is, and a code that says the ledger's name and the"
        " specimen's in full. No place, price or person stands on it.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER,
    .needs = needs,
    .words_max = 1000,
    .run = run,
    .tell = tell,
};
